package gas

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"tankside/internal/units"
)

// OutOfRange is the error for a figure with which no plan can be worked out. It is about an input
// error, not a verdict on a dive.
type OutOfRange struct {
	What  string // "start pressure"
	Found string // as found: "2000 bar"
	Limit string // what is possible: "from 0 bar to 350 bar"
	Cure  string // what to do
	Diver int    // index of the diver in the plan, -1 where the figure is not a diver's
}

// Error returns what was wrong, what was found, what is possible and what to do.
func (e *OutOfRange) Error() string {
	return fmt.Sprintf("%s: found %s, must be %s; %s", e.What, e.Found, e.Limit, e.Cure)
}

// MostOfRating is the multiple of its rating above which a reading of a cylinder is not believed:
// our choice, at the usual test pressure (common practice).
const MostOfRating = 1.5

// span is the possible range of one kind of figure, in unit.
type span struct {
	least, most float64
	unit        units.Unit
}

// The possible ranges. All are our choice: wide enough for every training dive, narrow enough to
// catch a psi taken for a bar.
var (
	waterVolume     = span{0.2, 50, units.UnitLitre}
	workingPressure = span{0, 350, units.UnitBar}
	ratedPressure   = span{50, 350, units.UnitBar}
	gaugePressure   = span{0, 350, units.UnitBar}
	depthRange      = span{0, 100, units.UnitMetre}
	breathingRate   = span{5, 100, units.UnitLPerMin}
	oxygenPercent   = span{21, 100, units.UnitPercent}
	oxygenLimit     = span{0.5, 1.6 * float64(units.Atmosphere), units.UnitBar} // beyond it NOAA has no limit
	waterDegrees    = span{-2, 50, units.UnitCelsius}
	fillDegrees     = span{-20, 70, units.UnitCelsius}
	ascentSpeed     = span{1, 20, units.UnitMPerMin}
	stopDepth       = span{0, 10, units.UnitMetre}
	shortMinutes    = span{0, 15, units.UnitMinute}
	diveMinutes     = span{1, 300, units.UnitMinute}
	otherMinutes    = span{0, 1440, units.UnitMinute}
	reservePressure = span{0, 200, units.UnitBar}
	surfaceRange    = span{0.9, 1.1, units.UnitBar}
	deepRange       = span{9, 11, units.UnitMetre}
	visibilityRange = span{0, 200, units.UnitMetre}
	currentRange    = span{0, 300, units.UnitMPerMin}
	fullPercent     = span{0, 1000, units.UnitPercent}
)

// check returns an *OutOfRange for a value that is not possible.
func (s span) check(what string, x float64) error {
	if x >= s.least-1e-9 && x <= s.most+1e-9 {
		return nil
	}
	return &OutOfRange{What: what, Found: s.words(x), Diver: -1, Cure: "correct the figure or its unit",
		Limit: fmt.Sprintf("from %s to %s", s.words(s.least), s.words(s.most))}
}

func (s span) words(x float64) string {
	if math.IsNaN(x) || math.Abs(x) > 1e12 {
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	return units.Read(x, s.unit).String()
}

// checkTime is check for a time.
func (s span) checkTime(what string, t time.Duration) error { return s.check(what, t.Minutes()) }

// checkReading is check for a reading, which must be of the dimension of the span's unit.
func (s span) checkReading(what string, r units.Reading) error {
	if r.Unit.Dimension() == s.unit.Dimension() {
		return s.check(what, s.of(r))
	}
	return &OutOfRange{What: what, Found: r.String(), Diver: -1, Cure: "give its unit",
		Limit: fmt.Sprintf("a %s, like %s", s.unit.Dimension(), s.words(s.most))}
}

// of returns a reading in the span's unit.
func (s span) of(r units.Reading) float64 {
	switch s.unit {
	case units.UnitCelsius:
		return r.Temperature().Celsius()
	case units.UnitBar:
		return float64(r.Pressure())
	case units.UnitMPerMin:
		return float64(r.Speed())
	}
	return float64(r.Depth())
}
