package training

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// doubtGauges finds which readings of a session speak of a stuck or misread gauge,
// by entry. Breathing rates are asked for only where some gauge did not fall.
func (s *Service) doubtGauges(ctx context.Context, tx *pg.Tx, w *water) error {
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
	rates, err := s.judges.Rates(ctx, tx, persons)
	if err != nil {
		return err
	}
	w.doubts = map[uuid.UUID]finding.List{}
	for _, d := range unmoved {
		looks, ids := d.readings(d.start())
		for _, x := range gas.Doubts(looks,
			gas.ExpectedBreathing{Rate: rates[d.PersonID], Cylinder: d.cylinder()}) {
			f := x.Finding(looks, d.Name, finding.Subject{Type: "participant", ID: d.ID.String()},
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
	if s.Logged == nil || s.Logged.Size() == nil {
		return c
	}
	size, rating := s.Logged.Size(), s.Logged.Rating()
	if size.Unit != units.UnitCuFt {
		c, _ = gas.Sized(size.Volume(), 0) // one that is not possible is not known
	} else if rating != nil {
		c, _ = gas.Rated(size.Volume(), rating.Pressure(), gas.RealGas)
	}
	return c
}

// doubtsOf returns what is doubted about some checks.
func (w *water) doubtsOf(checks []GasCheckLogged) (out finding.List) {
	for _, c := range checks {
		out = append(out, w.doubts[c.ID]...)
	}
	return out
}

// queueGauges reads what the gauges of some participants showed.
func (w *water) queueGauges(parts []uuid.UUID) func(*pgx.Batch) {
	return func(b *pgx.Batch) {
		args := pgx.StrictNamedArgs{"parts": parts}
		pg.QueueRows(b, &w.log, loggedOfParts, args)
		pg.QueueRows(b, &w.checks, gasChecksOfParts, args)
	}
}

// readGauges adds, to the answer about checks that are being recorded, what is
// doubted about their readings beside those that are known.
func (s *Service) readGauges(ctx context.Context, tx *pg.Tx, st stage, w *water, b *batch[gasCheckRow]) error {
	seen := map[uuid.UUID]bool{}
	for i, row := range b.rows {
		e := b.entries[i]
		w.checks = append(w.checks,
			GasCheckLogged{Head: journal.Head{ID: row.ID, ParticipantID: &b.rows[i].ParticipantID,
				WitnessedAt: e.WitnessedAt},
				DiveID: row.DiveID, DepthValue: row.DepthValue, DepthUnit: row.DepthUnit,
				ReadingValue: row.ReadingValue, ReadingUnit: row.ReadingUnit,
				Simulated: row.Simulated})
		seen[row.ParticipantID] = true
	}
	slices.SortStableFunc(w.checks,
		func(a, b GasCheckLogged) int { return a.WitnessedAt.Compare(b.WitnessedAt) })
	w.meet(st, func(p part) bool { return seen[p.ID] })
	if err := s.doubtGauges(ctx, tx, w); err != nil {
		return err
	}
	for i, r := range b.results {
		if r.Status == journal.Recorded {
			b.results[i].Findings = append(b.results[i].Findings, w.doubts[r.ID]...)
		}
	}
	return nil
}

// meet makes divers of participants.
func (w *water) meet(st stage, of func(part) bool) {
	for _, p := range st.parts {
		if of(p) {
			w.divers = append(w.divers,
				diver{SessionID: st.session.ID, ID: p.ID, PersonID: p.PersonID, Role: p.Role,
					GaugeUnit: p.GaugeUnit, Name: p.Name})
		}
	}
}
