package gas

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"time"

	"tankside/internal/units"
)

// Check is one reading of a gauge during a dive.
type Check struct {
	After   time.Duration // since the first check, or since leaving the surface
	Depth   units.Depth   // at that moment, or the mean depth where only that is known
	Reading units.Reading // of the gauge
}

// Estimate is a breathing rate measured on one dive.
type Estimate struct {
	Rate    units.Rate // at surface pressure
	Low     units.Rate // the rate lies between Low and High in 19 dives of 20
	High    units.Rate
	Misread []int // indexes of checks left out because the others contradict them
}

// The judgement of gauge readings. Our choice, from common practice: a gauge is read to half of the
// step in which it is reported.
const (
	barGaugeError = 5 * units.Bar  // largest usual error of one reading in bar
	psiGaugeError = 50 * units.PSI // and of one in psi
	misreadErrors = 2.0            // a reading is misread if it is off by more than so many errors,
	misreadSpread = 3.5            // and by more than so many standard deviations of the rest
	madToSigma    = 1.4826         // median absolute deviation to standard deviation, normal law
)

// point is a check as a point of a line: gas over exposure. The line falls by the breathing rate at
// surface pressure.
type point struct {
	exposure float64 // minutes times pressure in atmospheres, since the first check
	gas      float64 // litres left in the cylinder
	err      float64 // litres, largest usual error of the reading
	index    int     // among the caller's checks
}

// Consumption returns the surface breathing rate from two or more gas checks, in any order. Between
// two checks the depth counts as the mean of both.
//
// From four checks on, one misread gauge does not disturb the rate. Siegel's repeated-median line
// (Biometrika 69:242, 1982; from memory) follows the majority. Checks that lie off it by more than
// a reading error and the scatter of the others are left out and named. The rate is the
// least-squares slope of the rest. With three checks a misread one cannot be identified: it shows
// as a wide interval. With two, only the gauge's own error is known.
//
// The interval is Student's 95 % interval of the slope, and never narrower than the gauge's own
// error allows.
//
// It returns an error for fewer than two checks at different times, for a figure that is out of
// range, and where the pressure did not fall.
func Consumption(c Cylinder, checks []Check, ph Physics) (Estimate, error) {
	ph = ph.filled()
	points, err := pointsOf(c, checks, ph)
	if err != nil {
		return Estimate{}, err
	}
	kept, misread := points, []int(nil)
	if len(points) >= 4 {
		kept, misread = majority(points)
	}
	return fit(kept, misread)
}

// pointsOf returns the checks as points, in the order of time.
func pointsOf(c Cylinder, checks []Check, ph Physics) ([]point, error) {
	order := make([]int, len(checks))
	for i, k := range checks {
		order[i] = i
		if err := errors.Join(gaugePressure.checkReading("gauge reading", k.Reading),
			depthRange.check("depth", float64(k.Depth)), otherMinutes.checkTime("time of a check",
				k.After)); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(checks[a].After, checks[b].After) })
	if n := len(order); n < 2 || checks[order[0]].After == checks[order[n-1]].After || c.Count() == 0 {
		return nil, errors.New("a breathing rate needs a cylinder and two gauge readings at different times")
	}
	points := make([]point, len(order))
	for j, i := range order {
		k := checks[i]
		points[j] = point{gas: float64(c.Contents(k.Reading.Pressure(), ph)), index: i,
			err: float64(readingError(k.Reading)*units.Pressure(c.water)) / float64(ph.Water.Surface)}
		if j > 0 {
			before := checks[order[j-1]]
			times := (ph.Water.Times(before.Depth) + ph.Water.Times(k.Depth)) / 2
			points[j].exposure = points[j-1].exposure + times*(k.After-before.After).Minutes()
		}
	}
	return points, nil
}

func readingError(r units.Reading) units.Pressure {
	if r.Unit == units.UnitPSI {
		return psiGaugeError
	}
	return barGaugeError
}

// majority returns the points near the repeated-median line, and the indexes of the others.
func majority(points []point) (kept []point, misread []int) {
	slope := repeatedMedian(points)
	off := make([]float64, len(points))
	for i, p := range points {
		off[i] = p.gas + slope*p.exposure
	}
	level := median(slices.Clone(off))
	for i := range off {
		off[i] = math.Abs(off[i] - level)
	}
	spread := misreadSpread * madToSigma * median(slices.Clone(off))
	for i, p := range points {
		if off[i] > math.Max(misreadErrors*p.err, spread) {
			misread = append(misread, p.index)
		} else {
			kept = append(kept, p)
		}
	}
	if len(kept) < 2 || kept[0].exposure == kept[len(kept)-1].exposure {
		return points, nil
	}
	return kept, misread
}

// repeatedMedian returns the fall of gas per exposure: the median over the points
// of the median slope from that point to each other one.
func repeatedMedian(points []point) float64 {
	var outer, inner []float64
	for _, p := range points {
		inner = inner[:0]
		for _, q := range points {
			if p.exposure != q.exposure {
				inner = append(inner, (p.gas-q.gas)/(q.exposure-p.exposure))
			}
		}
		outer = append(outer, median(inner))
	}
	return median(outer)
}

// median sorts xs and returns the middle.
func median(xs []float64) float64 {
	slices.Sort(xs)
	n := len(xs)
	return (xs[(n-1)/2] + xs[n/2]) / 2
}

// line is the least-squares line through points.
type line struct {
	n             float64
	meanX, meanY  float64
	sxx, sxy, syy float64
	worst         float64 // the largest usual error of one of the readings
}

func lineThrough(points []point) (l line) {
	l.n = float64(len(points))
	for _, p := range points {
		l.meanX, l.meanY, l.worst = l.meanX+p.exposure/l.n, l.meanY+p.gas/l.n, math.Max(l.worst, p.err)
	}
	for _, p := range points {
		dx, dy := p.exposure-l.meanX, p.gas-l.meanY
		l.sxx, l.sxy, l.syy = l.sxx+dx*dx, l.sxy+dx*dy, l.syy+dy*dy
	}
	return l
}

// rate returns the fall for each unit of exposure.
func (l line) rate() float64 { return -l.sxy / l.sxx }

// residual returns the sum of the squared distances of the points from the line.
func (l line) residual() float64 { return math.Max(0, l.syy-l.rate()*l.rate()*l.sxx) }

// errNotFalling is the error where no rate follows from the checks.
var errNotFalling = errors.New(
	"the pressure did not fall between the checks: no breathing rate follows; read the gauge again")

// fit returns the slope of the least-squares line through the points, with its interval.
func fit(points []point, misread []int) (Estimate, error) {
	l := lineThrough(points)
	rate := l.rate()
	if !(rate > 0) {
		return Estimate{}, errNotFalling
	}
	half := normal95 * l.worst / math.Sqrt(3) / math.Sqrt(l.sxx) // even error within ± worst
	if free := len(points) - 2; free > 0 {
		half = math.Max(half, student95(free)*math.Sqrt(l.residual()/float64(free)/l.sxx))
	}
	return Estimate{Rate: units.Rate(rate), Low: units.Rate(math.Max(0, rate-half)),
		High: units.Rate(rate + half), Misread: misread}, nil
}

// normal95 is the two-sided 95 % point of the normal law.
const normal95 = 1.960

// student95 returns the two-sided 95 % point of Student's law for so many degrees of freedom: to 10 as
// any table has it, above by its expansion around the normal law, right to 0.0005. Source of the
// expansion: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5, from memory; the test
// holds it against a table.
func student95(free int) float64 {
	table := [...]float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228}
	if free <= len(table) {
		return table[free-1]
	}
	z, n := 1.959964, float64(free)
	z3 := z * z * z
	z5 := z3 * z * z
	z7 := z5 * z * z
	return z + (z3+z)/(4*n) + (5*z5+16*z3+3*z)/(96*n*n) + (3*z7+19*z5+17*z3-15*z)/(384*n*n*n)
}
