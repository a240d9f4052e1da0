package gas

import (
	"math"
	"time"

	"tankside/internal/units"
)

// Ascent is how divers ascend: the time to sort things out at the deepest point, the speed, and the
// safety stop.
type Ascent struct {
	SortOut time.Duration // at the deepest point before going up
	Speed   units.Speed   // of the ascent
	Stop    units.Depth   // depth of the safety stop; a shallower dive stops at its own depth
	StopFor time.Duration // length of the safety stop, 0 for none
}

// Stage names a part of an ascent.
type Stage string

// The stages of an ascent, in their order.
const (
	SortingOut Stage = "sorting out"
	ToTheStop  Stage = "up to the stop"
	AtTheStop  Stage = "at the stop"
	ToSurface  Stage = "up to the surface"
)

// Leg is one stage of an ascent.
type Leg struct {
	Stage    Stage
	From, To units.Depth
	Time     time.Duration
}

// Mean returns the mean depth of the leg. Depth changes evenly with time and pressure evenly with
// depth, so the pressure at the mean depth is the exact mean pressure.
func (l Leg) Mean() units.Depth { return (l.From + l.To) / 2 }

// Gas returns the gas breathed on the leg at a rate, the sum of all who breathe.
func (l Leg) Gas(rate units.Rate, w Water) units.Volume { return Need(rate, l.Mean(), l.Time, w) }

// Legs returns the four legs of an ascent from a depth. Without a stop the middle legs take no
// time.
func (a Ascent) Legs(from units.Depth) [4]Leg {
	stop := units.Depth(math.Min(float64(a.Stop), float64(from)))
	if a.StopFor <= 0 {
		stop = from
	}
	climb := func(d units.Depth) time.Duration { return minutesOf(float64(d) / float64(a.Speed)) }
	return [4]Leg{
		{SortingOut, from, from, a.SortOut},
		{ToTheStop, from, stop, climb(from - stop)},
		{AtTheStop, stop, stop, a.StopFor},
		{ToSurface, stop, 0, climb(stop)},
	}
}

// Time returns how long the ascent from a depth takes, with the stop.
func (a Ascent) Time(from units.Depth) (sum time.Duration) {
	for _, l := range a.Legs(from) {
		sum += l.Time
	}
	return sum
}

// MinimumGas returns the gas that is breathed from the deepest point to the surface. rates is the
// sum of the rates of all who breathe from the cylinder: the stressed rates of two people where gas
// is shared. Pressures are exact means leg by leg. Source of the method: US Navy Diving Manual,
// emergency gas supply example, there with one mean depth for the whole ascent.
func (a Ascent) MinimumGas(from units.Depth, rates units.Rate, w Water) units.Volume {
	var sum units.Volume
	for _, l := range a.Legs(from) {
		sum += l.Gas(rates, w)
	}
	return sum
}

// Normal returns the ascent without the time to sort things out.
func (a Ascent) Normal() Ascent {
	a.SortOut = 0
	return a
}

// LowGas returns the low-gas pressure of a cylinder, unrounded: the pressure at which it holds the
// gas of the ascent, and the reserve on top, but never less than the floor. When a gauge reaches
// it, the pair ascends.
func LowGas(c Cylinder, ascent units.Volume, reserve, floor units.Pressure, ph Physics) units.Pressure {
	return max(c.Pressure(ascent, ph)+reserve, floor)
}
