package nostop

import (
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// The flying intervals of the DAN workshop of May 2002, and ours where it has no figure.
const (
	afterOne     Minutes = 12 * 60 // a single no-stop dive
	afterSeveral Minutes = 18 * 60 // several dives, or several days of diving
	afterOutside Minutes = 48 * 60 // "substantially longer" after stops: our choice
	lookBack             = 48 * time.Hour
	groupsBack           = 24 * time.Hour // US Navy Diving Manual Rev 7, Table 9-6
)

// Cabin is the altitude for planning a flight in an airliner: 8000 ft, the highest cabin altitude
// in normal flight (14 CFR 25.841 (a), from memory).
var Cabin = units.Read(8000, units.UnitFoot)

// Wait is the wait before flying or going to altitude.
type Wait struct {
	Altitude units.Reading
	Flying   bool
	None     bool      // no dive, so no wait
	From     time.Time // the time out that it counts from: of the dive with the longest wait
	Highest  Group     // highest group of the 24 h before From
	Table    Minutes   // interval of Table 9-6 for Highest
	Workshop Minutes   // interval of the DAN workshop; 0 where it has none
	Several  bool      // there was another dive in the 48 h before
	Earliest time.Time // From and the longer interval, to the next whole minute
	Findings finding.List
}

// BeforeFlying returns the earliest flight after the sequence, with that cabin
// altitude: the longer of Table 9-6 and the DAN workshop's intervals.
func (p Plan) BeforeFlying(cabin units.Reading) Wait { return p.before(cabin, true) }

// BeforeAltitude returns the earliest time to go up to an altitude by road or on foot: by Table 9-6
// alone, since the workshop's intervals are for flights.
func (p Plan) BeforeAltitude(altitude units.Reading) Wait { return p.before(altitude, false) }

// BeforeAltitudes returns BeforeAltitude for each thousand feet of Table 9-6, from
// 1000 ft to 10 000 ft.
func (p Plan) BeforeAltitudes() []Wait {
	out := make([]Wait, 0, thousands)
	for n := 1; n <= thousands; n++ {
		out = append(out, p.BeforeAltitude(units.Read(float64(1000*n), units.UnitFoot)))
	}
	return out
}

func (p Plan) before(altitude units.Reading, flying bool) Wait {
	w := Wait{Altitude: altitude, Flying: flying, None: len(p.Results) == 0}
	if altitude.Unit.Dimension() != units.Depths {
		w.tooHigh()
		return w
	}
	for i := range p.Results {
		one, ok := p.after(i, altitude.Depth(), flying)
		if !ok {
			w.tooHigh()
			return w
		}
		if !one.Earliest.Before(w.Earliest) {
			one.Altitude, one.Flying = altitude, flying
			w = one
		}
	}
	if slices.ContainsFunc(p.Results, func(r Result) bool { return r.Outside }) {
		w.Findings = append(w.Findings,
			RuleFlyAfterOutside.Of("The sequence has a dive outside the tables: how long to wait "+
				"before flying is not in any table. 48 h are our choice; ask a doctor who knows diving."))
	}
	return w
}

// after returns the wait for one dive of the sequence, after those before it; false for an altitude
// that Table 9-6 does not have.
func (p Plan) after(i int, altitude units.Depth, flying bool) (Wait, bool) {
	r := p.Results[i]
	w := Wait{From: later(r.Dive.In, r.Dive.Out)}
	w.Highest, w.Several = p.highest(i, w.From), p.several(i, w.From)
	var ok bool
	w.Table, ok = BeforeAltitude(w.Highest, altitude)
	switch {
	case r.Outside:
		w.Workshop = afterOutside
	case flying && w.Several:
		w.Workshop = afterSeveral
	case flying:
		w.Workshop = afterOne
	}
	w.Earliest = minuteUp(w.From.Add(max(w.Table, w.Workshop).Duration()))
	return w, ok
}

// minuteUp returns a time rounded up to the minute, so that the time as shown is not early.
func minuteUp(t time.Time) time.Time {
	if t.Second() == 0 && t.Nanosecond() == 0 {
		return t
	}
	return t.Truncate(time.Minute).Add(time.Minute)
}

// highest returns the highest group of the person in the 24 h up to a time at the surface.
func (p Plan) highest(i int, out time.Time) Group {
	g := None
	for _, r := range p.Results[:i+1] {
		if out.Sub(later(r.Dive.In, r.Dive.Out)) <= groupsBack {
			g = max(g, r.After)
		}
	}
	return g
}

// several reports whether there was another dive in the 48 h before (our reading of
// "several days": yesterday and today).
func (p Plan) several(i int, out time.Time) bool {
	return i > 0 && out.Sub(later(p.Results[i-1].Dive.In, p.Results[i-1].Dive.Out)) <= lookBack
}

func (w *Wait) tooHigh() {
	f := RuleTooHigh.Say(
		"An altitude of {altitude} is outside the table, which goes up to 10 000 ft (3048 m).", w.Altitude)
	f.Limit, f.Found = finding.Quantity(units.Read(1000*thousands, units.UnitFoot)),
		finding.Words(w.Altitude.String())
	f.Cures = []finding.Cure{{Code: "lower_route", Message: "Choose a way that stays at 10 000 ft or below."}}
	w.Findings = append(w.Findings, f)
}

// At judges a time to leave. It forbids one before the wait is over, and any at an altitude outside
// the table.
func (w Wait) At(leave time.Time) finding.List {
	out := append(finding.List(nil), w.Findings...)
	if !leave.Before(w.Earliest) {
		return out
	}
	what := "Going up"
	if w.Flying {
		what = "A flight"
	}
	f := RuleTooSoon.Say("{what} at {at} is too soon after diving: the earliest is {earliest}.",
		what, finding.Wall(leave), finding.Wall(w.Earliest))
	f.Limit, f.Found = finding.Words(w.Earliest.Format(timeLayout)), finding.Words(leave.Format(timeLayout))
	f.Cures = []finding.Cure{{Code: "leave_later",
		Message: "Leave at " + w.Earliest.Format(timeLayout) + " or later."}}
	return append(out, f)
}

// timeLayout is the form of a time for people, in the zone of the dive.
const timeLayout = "2006-01-02 15:04"
