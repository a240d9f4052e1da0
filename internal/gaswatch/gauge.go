package gaswatch

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/diveday"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// doubtGauges finds which readings of a session speak of a stuck or misread gauge,
// by entry. Breathing rates are asked for only where some gauge did not fall.
func (s *Service) doubtGauges(ctx context.Context, tx *pg.Tx, w *sessionGas) error {
	type dive struct {
		diver
		stretch
	}
	var unmoved []dive
	var persons []uuid.UUID
	for _, d := range w.divers {
		all, _ := w.stretches(d.ID)
		for _, one := range all {
			if looks, _ := one.readings(one.start()); len(gas.Doubts(looks,
				gas.ExpectedBreathing{Rate: gas.MostRate, Cylinder: smallest})) > 0 {
				unmoved, persons = append(unmoved, dive{d, *one}), append(persons, d.PersonID)
			}
		}
	}
	if len(unmoved) == 0 {
		return nil
	}
	rates, err := diveday.Rates(ctx, tx, persons)
	if err != nil {
		return err
	}
	w.doubts = map[uuid.UUID]finding.List{}
	for _, d := range unmoved {
		looks, ids := d.readings(d.start())
		for _, x := range gas.Doubts(looks,
			gas.ExpectedBreathing{Rate: rates[d.PersonID], Cylinder: d.cylinder()}) {
			f := x.Finding(looks, finding.Person(d.PersonID, d.Name),
				finding.Subject{Type: "participant", ID: d.ID.String()},
				finding.Subject{Type: "entry", ID: ids[x.Before].String()})
			w.doubts[ids[x.Look]] = append(w.doubts[ids[x.Look]], f)
		}
	}
	return nil
}

// smallest is a cylinder of which any that was recorded is no smaller.
var smallest = func() gas.Cylinder {
	c, err := gas.Sized(0.2, 0)
	if err != nil {
		panic(fmt.Sprintf("training: %v", err)) // 0.2 L is in bounds
	}
	return c
}()

// cylinder returns the cylinder that the diver went in with, the zero Cylinder where
// it is not known. A capacity in cubic feet is the larger cylinder of the two that it
// may mean: the less its pressure falls.
func (s stretch) cylinder() (c gas.Cylinder) {
	if s.Logged == nil || s.Logged.Size == nil {
		return c
	}
	size, rating := s.Logged.Size, s.Logged.Rating
	if size.Unit != units.UnitCuFt {
		c, _ = gas.Sized(size.Volume(), 0) // one that is not possible is not known
	} else if rating != nil {
		c, _ = gas.Rated(size.Volume(), rating.Pressure(), gas.RealGas)
	}
	return c
}

// doubtsOf returns what is doubted about some checks.
func (w *sessionGas) doubtsOf(checks []waterview.GasCheck) (out finding.List) {
	for _, c := range checks {
		out = append(out, w.doubts[c.ID]...)
	}
	return out
}

// Gauges are what the gauges of some participants showed, by the times at which it was
// witnessed.
type Gauges struct {
	Dives  []waterview.Dive
	Checks []waterview.GasCheck
}

// Queue reads what the gauges of some participants showed in a batch.
func (g *Gauges) Queue(parts []uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		waterview.QueueDivesOf(b, &g.Dives, parts)
		waterview.QueueGasChecksOf(b, &g.Checks, parts)
	}
}

// Doubts returns, by entry, which readings of some participants of a session, which was
// read, speak of a stuck or misread gauge.
func (s *Service) Doubts(ctx context.Context, tx *pg.Tx, v dayview.View, g Gauges,
	of func(participant uuid.UUID) bool) (map[uuid.UUID]finding.List, error) {
	w := &sessionGas{agreed: AgreedIn(v), log: g.Dives, checks: g.Checks}
	w.divers = slices.DeleteFunc(diversOf(v), func(d diver) bool { return !of(d.ID) })
	err := s.doubtGauges(ctx, tx, w)
	return w.doubts, err
}
