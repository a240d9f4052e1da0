// Package gas plans gas for one diver and for a group: the contents of a cylinder, how long they last,
// the gas that two people need to come up from the deepest point, and the pressures at which to turn
// and to call "low on gas".
//
// It owns cylinders, the contents of a cylinder by the ideal law or as a real gas, oxygen limits of
// nitrox, breathing rates measured and learned, minimum gas, turn and low-gas pressures, the plan
// of a group and its worked steps. It must not know who may teach whom, how a no-stop limit is
// found (the caller passes it), where figures are stored or how they are sent. It has no clock and
// does no input or output.
//
// Pressures of cylinders are gauge pressures, volumes of gas are litres at the surface pressure and
// at the cylinder's temperature, breathing rates are litres per minute at surface pressure,
// breathed at whatever the depth is. Results stay unrounded to the last step, then round to the
// safe side in the unit of the diver's gauge.
//
// A plan is advice. Local law, the training organisation and the instructor in charge come first,
// and no result means that a dive is safe.
package gas

import (
	"math"
	"time"

	"tankside/internal/units"
)

// GasLaw is how the amount of a gas follows from its pressure.
type GasLaw uint8

const (
	// RealGas takes the compressibility of air into account (see Compressibility). It is the
	// default: at 200 bar and 20 °C a cylinder holds 2.5 % less than by the ideal law, at 300 bar
	// 9.5 %.
	RealGas GasLaw = iota
	// IdealGas takes pressure times volume, as most textbooks do.
	IdealGas
)

// String returns the law in words.
func (l GasLaw) String() string {
	if l == IdealGas {
		return "ideal law"
	}
	return "real gas"
}

// Water is how depth becomes pressure: each Deep of water adds the Surface pressure again. The zero
// Water is SeaWater.
type Water struct {
	Surface units.Pressure // absolute pressure at the surface
	Deep    units.Depth    // depth that adds one more surface pressure
}

// The kinds of water. Altitudes above 300 m are outside this package: all kinds assume sea-level
// air pressure.
var (
	// SeaWater is the default for the sea: 10 m (32.8 ft) add one standard
	// atmosphere. Our choice of the schoolroom's rule: real sea water needs
	// 10.06 m, so the pressure, and with it the gas needed, is overstated by
	// up to 0.6 %, never understated.
	SeaWater = Water{units.Atmosphere, 10 * units.Metre}
	// NavySeaWater adds one atmosphere every 33 ft. Source: US Navy Diving
	// Manual, planning figure.
	NavySeaWater = Water{units.Atmosphere, 33 * units.Foot}
	// FreshWater adds one atmosphere every 34 ft. Source: US Navy Diving
	// Manual, planning figure.
	FreshWater = Water{units.Atmosphere, 34 * units.Foot}
	// RoundBar is the metric textbook figure: 1 bar at the surface and 1 bar more every 10 m;
	// litres are then bar times litres of water. Common practice.
	RoundBar = Water{1 * units.Bar, 10 * units.Metre}
)

// Times returns the absolute pressure at depth d as a multiple of the surface
// pressure: 2.8 at 18 m of SeaWater. A depth outside 0 to 1000 m counts as the
// nearer end.
func (w Water) Times(d units.Depth) float64 {
	return 1 + within(float64(d), 0, 1000)/float64(w.filled().Deep)
}

// Ambient returns the absolute pressure at depth d.
func (w Water) Ambient(d units.Depth) units.Pressure {
	return units.Pressure(w.Times(d)) * w.filled().Surface
}

// filled returns SeaWater for the zero Water, and w otherwise.
func (w Water) filled() Water {
	if !(w.Surface > 0 && w.Deep > 0) {
		return SeaWater
	}
	return w
}

// Physics is what a calculation assumes of gas and water. The zero value is a real gas at
// RoomTemperature in SeaWater.
type Physics struct {
	Law         GasLaw
	Water       Water             // zero: SeaWater
	Temperature units.Temperature // of the gas in the cylinder; zero: RoomTemperature
}

// RoomTemperature is the temperature of a gas where none is given: 20 °C. Our choice.
const RoomTemperature units.Temperature = 293.15

// filled returns the physics with its zero values replaced by the defaults.
func (ph Physics) filled() Physics {
	ph.Water = ph.Water.filled()
	if ph.Temperature == 0 {
		ph.Temperature = RoomTemperature
	}
	return ph
}

// Need returns the gas that a diver breathes at depth d in time t, as litres at surface pressure:
// rate times minutes times pressure. Source of the formula: US Navy Diving Manual, 7-4.1.
func Need(rate units.Rate, d units.Depth, t time.Duration, w Water) units.Volume {
	return units.Volume(within(float64(rate)*t.Minutes()*w.Times(d), 0, mostGas))
}

// The largest results, in litres and as a time.
const (
	mostGas = 1e6
	longest = 24 * time.Hour
)

// GasTime returns how long a diver can breathe a volume of gas at depth d, unrounded and at most 24
// h. Source of the formula: US Navy Diving Manual, 7-4.1.
func GasTime(v units.Volume, rate units.Rate, d units.Depth, w Water) time.Duration {
	return minutesOf(within(float64(v), 0, mostGas) / (float64(rate) * w.Times(d)))
}

// minutesOf returns a duration of m minutes, 0 to 24 h.
func minutesOf(m float64) time.Duration {
	return time.Duration(within(m, 0, longest.Minutes()) * float64(time.Minute))
}

// within returns x, or the nearer end where x lies outside lo to hi. NaN counts as lo.
func within(x, lo, hi float64) float64 {
	if !(x > lo) {
		return lo
	}
	return math.Min(x, hi)
}
