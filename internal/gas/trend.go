package gas

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"tankside/internal/units"
)

// GaugeReading is one reading of a diver's gauge, with the depth where it is known.
type GaugeReading struct {
	After   time.Duration // since the dive began, or since any other moment
	Depth   *units.Depth  // nil: not known; taken from the look before, or else after
	Reading units.Reading
}

// Trend is an estimate of when a diver's pressure reaches the low-gas pressure, if the diver stays
// at the depth of the last look and breathes on as before. Times count from the same moment as
// those of the looks. It is a reason to look at the gauge, never a permission to stay.
type Trend struct {
	LowGas time.Duration // the likely time
	// earlier in 1 case of 40, by the scatter of the readings; never before the last look
	Earliest  time.Duration
	Latest    time.Duration  // later in 1 case of 40
	PerMinute units.Pressure // the fall in a minute at the depth of the last look
	Readings  int            // the readings it was drawn from
	LeftOut   []int          // indexes of looks that the others contradict
	Depths    Depths
}

// Depths is how many of the looks' depths were known.
type Depths string

// How many of the looks' depths were known. With none, the diver is taken to be at one depth all
// the time.
const (
	DepthsKnown   Depths = "known"
	DepthsInPart  Depths = "in_part"
	DepthsUnknown Depths = "unknown"
)

// gaugeFreedom is the number of checks for which the usual error of a gauge counts beside the
// scatter of the readings themselves, so that the interval of few readings is not a matter of luck.
// Our choice.
const gaugeFreedom = 6

// The reasons why there is no trend. The texts are for people to read.
var (
	errFewLooks   = errors.New("a trend needs two readings of the gauge at different times")
	errLowReached = errors.New("the low-gas pressure has been reached")
	errBelowTrend = errors.New(
		"the last reading is lower than the others foretell: something changed; look at the gauge again")
	errNoFall = errors.New("the pressure does not fall between the readings: look at the gauge again")
	errNotYet = errors.New("the readings do not tell yet how fast the pressure falls")
)

// PredictTrend returns the trend of one dive's looks, in any order, towards a low-gas pressure: the
// straight line of pressure against time multiplied by the absolute pressure at depth. The line is
// drawn as in Consumption, so that from four readings on one misread gauge does not disturb it.
//
// The interval is that of the line where it meets the low-gas pressure (Fieller's theorem; any
// textbook of calibration), with the scatter of the readings and the usual error of a gauge pooled.
//
// It returns an error with the reason where the readings do not carry a trend: fewer than two, no
// certain fall, the low-gas pressure reached, or a last reading below the line of the others. A
// figure out of range is an *OutOfRange.
func PredictTrend(looks []GaugeReading, low units.Pressure, w Water) (Trend, error) {
	order, err := inTime(looks)
	if err != nil {
		return Trend{}, err
	}
	points, depths := pressures(looks, order, w)
	last := len(points) - 1
	if points[last].gas <= float64(low) {
		return Trend{}, errLowReached
	}
	kept, left := points, []int(nil)
	if len(points) >= 4 {
		kept, left = majority(points)
	}
	l := lineThrough(kept)
	if slices.Contains(left, order[last]) && points[last].gas < l.at(points[last].exposure) {
		return Trend{}, errBelowTrend
	}
	earliest, latest, err := l.reaches(float64(low))
	if err != nil {
		return Trend{}, err
	}
	times := w.Times(*depthOf(looks, order, last))
	when := func(exposure float64) time.Duration {
		return looks[order[last]].After + minutesOf((exposure-points[last].exposure)/times)
	}
	return Trend{LowGas: when(l.meanX + (l.meanY-float64(low))/l.rate()), Earliest: when(earliest),
		Latest:    when(latest),
		PerMinute: units.Pressure(l.rate() * times), Readings: len(kept), LeftOut: left, Depths: depths}, nil
}

// inTime returns the indexes of the looks in the order of their times.
func inTime(looks []GaugeReading) ([]int, error) {
	order := make([]int, len(looks))
	for i, k := range looks {
		order[i] = i
		if err := errors.Join(gaugePressure.checkReading("gauge reading", k.Reading),
			otherMinutes.checkTime("time of a look", k.After)); err != nil {
			return nil, err
		}
		if k.Depth != nil {
			if err := depthRange.check("depth", float64(*k.Depth)); err != nil {
				return nil, err
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(looks[a].After, looks[b].After) })
	if n := len(order); n < 2 || looks[order[0]].After == looks[order[n-1]].After {
		return nil, errFewLooks
	}
	return order, nil
}

// depthOf returns the depth of the look that is j-th in time: its own, or that of the nearest look
// before with a depth, or else after. It is the surface where no look has one: any constant depth
// has the same trend.
func depthOf(looks []GaugeReading, order []int, j int) *units.Depth {
	for i := j; i >= 0; i-- {
		if d := looks[order[i]].Depth; d != nil {
			return d
		}
	}
	for _, i := range order[j:] {
		if d := looks[i].Depth; d != nil {
			return d
		}
	}
	return new(units.Depth)
}

// pressures returns the looks as points of pressure over exposure.
func pressures(looks []GaugeReading, order []int, w Water) ([]point, Depths) {
	points, known := make([]point, len(order)), 0
	for j, i := range order {
		k := looks[i]
		points[j] = point{gas: float64(k.Reading.Pressure()), err: float64(readingError(k.Reading)), index: i}
		if k.Depth != nil {
			known++
		}
		if j > 0 {
			times := (w.Times(*depthOf(looks, order, j-1)) + w.Times(*depthOf(looks, order, j))) / 2
			points[j].exposure = points[j-1].exposure + times*(k.After-looks[order[j-1]].After).Minutes()
		}
	}
	switch known {
	case 0:
		return points, DepthsUnknown
	case len(points):
		return points, DepthsKnown
	}
	return points, DepthsInPart
}

// at returns the line's height at x.
func (l line) at(x float64) float64 { return l.meanY - l.rate()*(x-l.meanX) }

// reaches returns the interval in which the line comes down to a height: the two places where its
// 95 % band meets it. The band is bounded where the fall is certain.
func (l line) reaches(height float64) (earliest, latest float64, err error) {
	rate, free := l.rate(), l.n-2
	if !(rate > 0) {
		return 0, 0, errNoFall
	}
	gauge := l.worst * l.worst / 3 // the variance of an even error within ± worst
	variance := (gaugeFreedom*gauge + l.residual()) / (gaugeFreedom + free)
	t := student95(gaugeFreedom + int(free))
	slope := t * t * variance / l.sxx // square of the interval's half
	a := rate*rate - slope
	if !(a > 0) {
		return 0, 0, errNotYet
	}
	above := l.meanY - height
	root := math.Sqrt(above*above*slope + a*t*t*variance/l.n)
	return l.meanX + (above*rate-root)/a, l.meanX + (above*rate+root)/a, nil
}

// String returns the trend in words.
func (t Trend) String() string {
	minutes := func(d time.Duration) string { return decimals(d.Minutes(), 1) }
	return fmt.Sprintf("low-gas pressure likely at %s min, earliest %s, latest %s; %s bar a minute",
		minutes(t.LowGas), minutes(t.Earliest), minutes(t.Latest), decimals(float64(t.PerMinute), 1))
}
