package gas

import (
	"tankside/internal/units"
)

// mostPressure is the highest pressure of the arithmetic, in bar. Plans stop at 350 bar (see
// bounds.go); beyond it, results are only correct in order.
const mostPressure = 1000

// RatingTemperature is the temperature at which a rated capacity is stated:
// 70 °F. Common practice in the trade.
const RatingTemperature units.Temperature = 294.2611111111111

// Cylinder is one diver's supply: one cylinder, or several of the same size that are breathed as
// one. Sized and Rated make it; the zero Cylinder is none, and plans refuse it.
type Cylinder struct {
	water   units.Volume   // water volume of all of them together
	working units.Pressure // zero: not stated
	count   int
}

// Sized returns a cylinder by its water volume and its working pressure (0: not stated). A volume
// outside 0.2 to 50 L or a working pressure outside 0 to 350 bar is an error.
func Sized(water units.Volume, working units.Pressure) (Cylinder, error) {
	if err := waterVolume.check("water volume", float64(water)); err != nil {
		return Cylinder{}, err
	}
	if err := workingPressure.check("working pressure", float64(working)); err != nil {
		return Cylinder{}, err
	}
	return Cylinder{water, working, 1}, nil
}

// Rated returns a cylinder by the gas it is rated to hold at a rated pressure, as cylinders are
// sold in cubic feet: capacity at one atmosphere and 70 °F. law is the one by which the capacity
// was stated: IdealGas for a figure in proportion to pressure ("an 80 at 3000 psi"), RealGas for a
// maker's true capacity. Errors are those of Sized; a rated pressure of 0 is one too.
func Rated(capacity units.Volume, at units.Pressure, law GasLaw) (Cylinder, error) {
	if err := ratedPressure.check("rated pressure", float64(at)); err != nil {
		return Cylinder{}, err
	}
	one := Cylinder{water: 1, count: 1}
	perLitre := one.Contents(at, Physics{Law: law, Temperature: RatingTemperature})
	return Sized(capacity/perLitre, at)
}

// Twin returns two cylinders like c, breathed as one.
func (c Cylinder) Twin() Cylinder {
	c.water, c.count = 2*c.water, 2*c.count
	return c
}

// Water returns the water volume, of all cylinders together.
func (c Cylinder) Water() units.Volume { return c.water }

// Working returns the working pressure, 0 where none was stated.
func (c Cylinder) Working() units.Pressure { return c.working }

// Count returns the number of cylinders breathed as one, 0 for none.
func (c Cylinder) Count() int { return c.count }

// Contents returns the gas, measured at surface pressure, that comes out until the gauge goes from
// p to zero. By the ideal law it is p times the water volume, divided by the surface pressure. A
// pressure outside 0 to 1000 bar counts as the nearer end.
func (c Cylinder) Contents(p units.Pressure, ph Physics) units.Volume {
	ph = ph.filled()
	iso, surface := isothermOf(ph), float64(ph.Water.Surface)
	empty := iso.density(surface)
	full := iso.density(within(float64(p), 0, mostPressure) + surface)
	return c.water * units.Volume((full-empty)/empty)
}

// Pressure returns the gauge pressure at which the cylinder holds the volume v of gas, unrounded:
// the inverse of Contents. For a volume that cannot fit, and any volume in no cylinder, it returns
// about 1000 bar, more than any cylinder is filled to.
func (c Cylinder) Pressure(v units.Volume, ph Physics) units.Pressure {
	if !(v > 0) {
		return 0
	}
	if !(c.water > 0) {
		return mostPressure
	}
	ph = ph.filled()
	iso, surface := isothermOf(ph), float64(ph.Water.Surface)
	empty := iso.density(surface)
	full := empty * (1 + within(float64(v/c.water), 0, 2*mostPressure))
	return units.Pressure(within(iso.absoluteFor(full)-surface, 0, mostPressure))
}

// AtTemperature returns the gauge pressure of the same gas after a change of temperature, as from a
// warm filling to cold water. It applies Gay-Lussac's law to absolute pressures, with the
// compressibility at either end for a real gas (within 0-50 °C).
func (c Cylinder) AtTemperature(p units.Pressure, from, to units.Temperature, ph Physics) units.Pressure {
	ph = ph.filled()
	before, after := ph, ph
	before.Temperature, after.Temperature = from, to
	iso, surface := isothermOf(before), float64(ph.Water.Surface)
	amount := iso.density(within(float64(p), 0, mostPressure) + surface)
	iso = isothermOf(after)
	ratio := within(float64(to), 200, 500) / within(float64(from), 200, 500)
	return units.Pressure(within(iso.absoluteFor(amount*ratio)-surface, 0, mostPressure))
}
