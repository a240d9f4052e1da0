package gaswatch

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// Status is how one participant's gas stands at a moment, on the dive that the
// person is on, or was on last.
type Status struct {
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	GroupID       *uuid.UUID
	Role          string
	GaugeUnit     units.Unit
	DiveID        *uuid.UUID          // nil: no time in was recorded, and the checks name no dive
	InAt, OutAt   *time.Time          // nil: not recorded
	Last          *waterview.GasCheck // the last look at the gauge or report, nil for none
	Age           time.Duration       // of the last look
	Simulated     *waterview.GasCheck // the last simulated one, where it is newer than Last; nil for none
	SimulatedAge  time.Duration       // of the simulated one
	Marks         signal.Marks        // what the diver is held against; there always is a low-gas pressure
	CheckEvery    time.Duration       // as agreed, 0 for nothing
	DueAt         *time.Time          // of the next look; nil: nothing is due
	Reached       []signal.Reached
	Doubts        finding.List // about the readings of the gauge
	Trend         *Trend       // nil: NoTrend says why
	NoTrend       string
	Alone         finding.List // the plan rests on a partner who does not dive
}

// Pending returns the gravest response that is still expected, "" for none.
func (w Status) Pending() signal.Response { return signal.PendingResponse(w.Reached) }

// Findings returns what the rules say to the marks that were reached, to what the
// gauge showed and to a partner who does not dive.
func (w Status) Findings() finding.List {
	return slices.Concat(findingsOf(w.Reached), w.Doubts, w.Alone)
}

// Trend foretells when somebody's low-gas pressure will be reached; see
// gas.Trend for what it is worth.
type Trend struct {
	LowGasAt, EarliestAt, LatestAt time.Time
	PerMinute                      units.Reading // in the unit of the diver's gauge
	Readings                       int
	LeftOut                        []uuid.UUID // checks, or the time in, that the others contradict
	Depths                         gas.Depths
}

// Watch reads how the gas of everybody in some sessions stands, now and as far
// as it was recorded: by session, in the order asked for, then by name.
// fault.NoSuch when one of the sessions is not there.
func (s *Service) Watch(ctx context.Context, by actor.Actor, sessions []uuid.UUID) (out []Status,
	now time.Time, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		now = tx.Now
		out, err = s.WatchIn(ctx, tx, sessions)
		return err
	})
	return out, now, err
}

// WatchIn is Watch within the caller's transaction, as of its beginning.
func (s *Service) WatchIn(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) ([]Status, error) {
	read, err := s.readWater(ctx, tx, dayview.People|dayview.Told, sessions...)
	if err != nil {
		return nil, err
	}
	out := []Status{}
	for _, w := range read {
		away := readiness.PartnersAway(w.agreed.view)
		for _, d := range w.divers {
			one := w.watch(d, tx.Now)
			one.Alone = away[d.ID]
			out = append(out, one)
		}
	}
	return out, nil
}

// watch returns how a participant stands on the last of the stretches.
func (w *sessionGas) watch(d diver, now time.Time) Status {
	out := Status{SessionID: d.SessionID, ParticipantID: d.ID, PersonID: d.PersonID, Name: d.Name,
		GroupID: d.GroupID, Role: d.Role,
		GaugeUnit: d.GaugeUnit, NoTrend: "no gas check was recorded"}
	w.lastLooks(&out, now)
	all, _ := w.stretches(d.ID)
	if len(all) == 0 {
		out.Marks = w.agreed.Marks(d.ID, d.GaugeUnit, nil)
		return out
	}
	s := all[len(all)-1]
	g := w.diveGas(d, all, s, now)
	out.DiveID, out.InAt, out.OutAt = g.DiveID, g.InAt, g.OutAt
	out.Marks, out.CheckEvery, out.Reached = g.Marks, g.CheckEvery, g.Reached
	out.Doubts = g.Doubts
	if s.Logged != nil && w.end(s) == nil {
		out.DueAt = signal.NextCheckDue(s.stay(g.CheckEvery))
	}
	switch {
	case w.end(s) != nil:
		out.NoTrend = "the dive has ended"
	default:
		out.Trend, out.NoTrend = s.trend(*g.Marks.LowGas, d.GaugeUnit)
	}
	return out
}

// lastLooks puts a participant's last look in its place, and the last simulated one
// where it is newer.
func (w *sessionGas) lastLooks(out *Status, now time.Time) {
	for i, c := range slices.Backward(w.checks) {
		if *c.ParticipantID != out.ParticipantID {
			continue
		}
		age := max(0, now.Sub(c.WitnessedAt))
		if !c.Simulated {
			out.Last, out.Age = &w.checks[i], age
			return
		}
		if out.Simulated == nil {
			out.Simulated, out.SimulatedAge = &w.checks[i], age
		}
	}
}

// trend foretells from the readings of a stretch, the start pressure among
// them, when the low-gas pressure will be reached, or says why not.
func (s stretch) trend(low units.Reading, gauge units.Unit) (*Trend, string) {
	from := s.start()
	seen, ids := s.readings(from)
	t, err := gas.PredictTrend(seen, low.Pressure(), gas.SeaWater)
	if err != nil {
		return nil, err.Error()
	}
	out := &Trend{LowGasAt: from.Add(t.LowGas), EarliestAt: from.Add(t.Earliest), LatestAt: from.Add(t.Latest),
		Readings: t.Readings, Depths: t.Depths,
		PerMinute: units.Read(t.PerMinute.In(gauge), gauge)}
	for _, i := range t.LeftOut {
		out.LeftOut = append(out.LeftOut, ids[i])
	}
	return out, ""
}

// readings returns what was read of the gauge since a moment, with the entries
// that say so. The start pressure was read at the surface; where the depth of a
// later reading is not known, nor is what lies between.
func (s stretch) readings(from time.Time) (seen []gas.GaugeReading, ids []uuid.UUID) {
	known := true
	for _, c := range s.Checks {
		r := c.Reading
		if r == nil || c.Simulated {
			continue
		}
		look := gas.GaugeReading{After: max(0, c.WitnessedAt.Sub(from)), Reading: *r}
		if d := c.Depth; d != nil {
			look.Depth = new(d.Depth())
		}
		known = known && look.Depth != nil
		seen, ids = append(seen, look), append(ids, c.ID)
	}
	if s.Logged != nil && s.Logged.StartPressure != nil {
		look := gas.GaugeReading{Reading: *s.Logged.StartPressure}
		if known {
			look.Depth = new(units.Depth)
		}
		seen, ids = append(seen, look), append(ids, s.Logged.StartID)
	}
	return seen, ids
}
