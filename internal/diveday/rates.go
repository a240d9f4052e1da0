package diveday

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Basis is the kind of readings that a breathing rate was estimated from.
type Basis string

// The kinds of readings.
const (
	// FromChecks is gas checks with depth and reading, and the pressures at the start
	// and at the end.
	FromChecks Basis = "gas_checks"
	// FromEnds is the pressures at the start and at the end and the greatest depth.
	FromEnds Basis = "start_and_end"
)

// RateReading is one reading of a gauge that an estimate rests on.
type RateReading struct {
	What    string    // "start", "gas_check" or "end"
	ID      uuid.UUID // of the entry
	At      time.Time // witnessed
	Reading units.Reading
	Depth   units.Depth // the estimate's, see readings
}

// RatedDive is a dive from which a person's breathing rate was estimated.
type RatedDive struct {
	StartID   uuid.UUID
	DiveID    uuid.UUID
	SessionID uuid.UUID
	InAt      time.Time
	Confined  bool // in confined water
	Basis     Basis
	Readings  []RateReading // in the order of time
	Estimate  gas.Estimate
}

// Misread returns the readings that were left out because the others contradict them.
func (d RatedDive) Misread() []RateReading {
	out := make([]RateReading, 0, len(d.Estimate.Misread))
	for _, i := range d.Estimate.Misread {
		out = append(out, d.Readings[i])
	}
	return out
}

// UnratedDive is a dive from which no breathing rate follows, with the reason.
type UnratedDive struct {
	StartID   uuid.UUID
	DiveID    uuid.UUID
	SessionID uuid.UUID
	InAt      time.Time
	Because   string
}

// BreathingRate is what was learned of a person's breathing rate.
type BreathingRate struct {
	PersonID uuid.UUID
	Learned  gas.Learned
	Dives    []RatedDive   // newest first
	Unrated  []UnratedDive // newest first
}

// Novice reports whether the planned rate is the one for novices: too little was learned
// for a lower one.
func (r BreathingRate) Novice() bool { return r.Learned.Novice }

// From returns what the planned rate was learned from, in words.
func (r BreathingRate) From() string {
	l := r.Learned
	dives := func(n int) string {
		if n == 1 {
			return "1 dive"
		}
		return fmt.Sprintf("%d dives", n)
	}
	switch pool := l.Dives - l.Open; {
	case l.Dives == 0:
		return gasplan.NoviceRateFrom
	case l.Novice && l.Open == 0:
		return fmt.Sprintf("%s: a lower one needs %s in open water, and there is none", gasplan.NoviceRateFrom,
			dives(gas.OpenDives))
	case l.Novice:
		return fmt.Sprintf("%s: a lower one needs %s in open water, and %d can be learned from",
			gasplan.NoviceRateFrom, dives(gas.OpenDives), l.Open)
	case pool > 0 && l.Open == 0:
		return fmt.Sprintf("learned from %s in confined water", dives(pool))
	case pool > 0:
		return fmt.Sprintf("learned from %s in open water and %d in confined water", dives(l.Open), pool)
	}
	return fmt.Sprintf("learned from %s in open water", dives(l.Open))
}

// How many of a person's newest dives are read, from how many of their newest sessions
// in water. gas.Learn takes ten dives at most; twice as many leave room for those
// without readings, and twice as many sessions for those without dives.
const (
	lastDives    = 20
	lastSessions = 40
)

// BreathingRate returns what was learned of a person's breathing rate. A student reads
// their own; crew, managers and programs everybody's. Faults: not_found for an unknown
// person; missing_role for another person's rate.
func (r *Reader) BreathingRate(ctx context.Context, by actor.Actor, person uuid.UUID) (out BreathingRate,
	err error) {
	if !permission.Covers("getBreathingRate", by, person) {
		return out, permission.Refusal("getBreathingRate", by)
	}
	err = r.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []uuid.UUID
		pg.QueueRows(&b, &known, personSQL, pgx.StrictNamedArgs{"person": person})
		rates := QueueRates(&b, []uuid.UUID{person}, tx.Now)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if len(known) == 0 {
			return fault.NoSuch("person")
		}
		out = rates()[person]
		return nil
	})
	return out, err
}

// Rates returns, in the caller's transaction, the rate that each person is planned with:
// learned, or the novice's.
func Rates(ctx context.Context, tx *pg.Tx, persons []uuid.UUID) (map[uuid.UUID]units.Rate, error) {
	var b pgx.Batch
	known := QueueRates(&b, persons, tx.Now)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]units.Rate, len(persons))
	for p, r := range known() {
		out[p] = r.Learned.Planned
	}
	return out, nil
}

const personSQL = `SELECT id FROM people_person WHERE centre_id = app_centre() AND id = @person`

// QueueRates adds the reading of people's breathing rates to a batch: what was learned
// before an instant. The function that it returns has the rates by person, once the
// batch was sent. A plan takes Learned.Planned. It is one query, however many people.
func QueueRates(b *pgx.Batch, persons []uuid.UUID, before time.Time) func() map[uuid.UUID]BreathingRate {
	var rows []loggedDive
	pg.QueueRows(b, &rows, ratesSQL,
		pgx.StrictNamedArgs{"persons": persons, "before": before, "last": lastDives, "sessions": lastSessions})
	return func() map[uuid.UUID]BreathingRate {
		out := make(map[uuid.UUID]BreathingRate, len(persons))
		for _, p := range persons {
			out[p] = BreathingRate{PersonID: p}
		}
		for _, row := range rows { // newest first
			r := out[row.PersonID]
			if d, because := row.rate(); because != "" {
				r.Unrated = append(r.Unrated,
					UnratedDive{row.StartID, row.DiveID, row.SessionID, row.InAt, because})
			} else {
				r.Dives = append(r.Dives, d)
			}
			out[row.PersonID] = r
		}
		for p, r := range out {
			var all []gas.PastDive
			for _, d := range slices.Backward(r.Dives) {
				all = append(all, gas.PastDive{Estimate: d.Estimate, Confined: d.Confined})
			}
			r.Learned = gas.LearnIn(all)
			out[p] = r
		}
		return out
	}
}

// rate returns the breathing rate of the dive, or the reason why none follows.
func (d loggedDive) rate() (out RatedDive, because string) {
	out = RatedDive{StartID: d.StartID, DiveID: d.DiveID, SessionID: d.SessionID, InAt: d.InAt,
		Confined: d.Kind == "confined"}
	c, because := d.cylinder()
	if because != "" {
		return out, because
	}
	ph := gas.Physics{Water: gas.SeaWater}
	if d.Water != nil && *d.Water == "fresh" {
		ph.Water = gas.FreshWater
	}
	var err error
	out.Readings, out.Basis = d.readings(), FromChecks
	switch {
	case len(d.Checks) > 0 && len(out.Readings) > 1:
		out.Estimate, err = gas.Consumption(c, d.checks(out.Readings), ph)
	case len(out.Readings) == 2 && d.Depth != nil:
		out.Basis = FromEnds
		out.Estimate, err = d.fromEnds(c, out.Readings, ph)
	case len(out.Readings) == 2:
		return out, "neither a depth of a gas check nor the greatest depth was recorded"
	default:
		return out, "fewer than two readings of the gauge were recorded with their depth"
	}
	if err != nil {
		return out, err.Error()
	}
	return out, ""
}

// cylinder returns the recorded cylinder, or the reason why it is unknown. A size in
// cubic feet counts as the true capacity at the rated pressure: the larger of the two
// cylinders that it may mean, and so the higher rate.
func (d loggedDive) cylinder() (c gas.Cylinder, because string) {
	size, rating := d.Size, d.Rating
	var err error
	switch {
	case size == nil:
		return c, "the size of the cylinder was not recorded"
	case size.Unit != units.UnitCuFt && rating == nil:
		c, err = gas.Sized(size.Volume(), 0)
	case size.Unit != units.UnitCuFt:
		c, err = gas.Sized(size.Volume(), rating.Pressure())
	case rating == nil:
		return c, "the cylinder's capacity was recorded in cubic feet, and not the pressure at which it is rated"
	default:
		c, err = gas.Rated(size.Volume(), rating.Pressure(), gas.RealGas)
	}
	if err != nil {
		return c, fmt.Sprintf("the cylinder recorded is not possible: %s", err)
	}
	return c, ""
}

// descent is the assumed speed of a descent: 9 m/min, our choice, slower than most, so
// that less exposure and a higher rate come out.
const descent = 9 * units.MetrePerMinute

// readings returns the readings of the gauge in the order of time, each with a depth.
// After the start the diver goes down to the depth of the first check at the speed of a
// descent and stays there: the start's depth is the one whose mean with that of the
// check is the mean over that way. After the last check the ascent counts as even, which
// is shallower than any stop on it would make it.
func (d loggedDive) readings() (out []RateReading) {
	if start := d.StartPressure; start != nil {
		l := RateReading{What: "start", ID: d.StartID, At: d.InAt, Reading: *start}
		if len(d.Checks) > 0 {
			first := d.Checks[0]
			deep, minutes := first.Depth.Depth(), first.At.Sub(d.InAt).Minutes()
			l.Depth = deep * units.Depth(max(0, 1-float64(deep)/float64(descent)/minutes))
			if minutes <= 0 {
				l.Depth = 0
			}
		}
		out = append(out, l)
	}
	for _, c := range d.Checks {
		out = append(out, RateReading{What: "gas_check", ID: c.ID, At: c.At,
			Reading: c.Reading, Depth: c.Depth.Depth()})
	}
	if end := d.EndPressure; end != nil {
		out = append(out, RateReading{What: "end", ID: d.EndID, At: d.OutAt, Reading: *end})
	}
	return out
}

func (d loggedDive) checks(readings []RateReading) []gas.Check {
	out := make([]gas.Check, 0, len(readings))
	for _, l := range readings {
		out = append(out, gas.Check{After: l.At.Sub(d.InAt), Depth: l.Depth, Reading: l.Reading})
	}
	return out
}

// fromEnds returns the rate of a dive of which only the greatest depth is known. Half of
// it counts as the mean depth; the interval reaches from a dive spent at the greatest
// depth throughout to one with a quarter of it as the mean. Our choice: the mean depth
// of a dive is rarely less than half of the greatest, so the rate is rather too high.
func (d loggedDive) fromEnds(c gas.Cylinder, readings []RateReading, ph gas.Physics) (gas.Estimate, error) {
	deepest := d.Depth.Depth()
	at := func(share float64) (gas.Estimate, error) {
		checks := d.checks(readings)
		for i := range checks {
			checks[i].Depth = deepest * units.Depth(share)
		}
		return gas.Consumption(c, checks, ph)
	}
	e, err := at(0.5)
	if err != nil {
		return e, err
	}
	deep, err := at(1)
	if err != nil {
		return e, err
	}
	shallow, err := at(0.25)
	e.Low, e.High = deep.Low, shallow.High
	return e, err
}
