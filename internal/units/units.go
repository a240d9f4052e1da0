// Package units has the quantities of diving as types: pressure, depth, volume, breathing rate,
// temperature, fraction of a gas, speed.
//
// It owns conversions, parsing and rounding to the safe side. It must not know what a quantity is
// used for: the package that works out turn pressures knows which way they are rounded, and picks
// RoundUp or RoundDown here.
//
// There are two kinds of value. A Reading is what a person read off a gauge, a computer or a watch,
// in the unit in which it was read; it is stored and answered in that unit. A Pressure, Depth, ...
// is the canonical quantity to calculate with. The conversions between them are explicit in both
// directions.
package units

import "math"

// Conversion constants. All are exact by definition: the inch is 0.0254 m, the
// pound 0.45359237 kg and standard gravity 9.80665 m/s² (NIST Special
// Publication 811, appendix B); the standard atmosphere is 101325 Pa.
const (
	barPerPSI      = 0.45359237 * 9.80665 / (0.0254 * 0.0254) / 1e5
	barPerAtm      = 1.01325
	metresPerFoot  = 0.3048
	litresPerCuFt  = 28.316846592
	kelvinAtZeroC  = 273.15
	fahrenheitZero = 32.0
)

// Pressure is a pressure in bar; each use states whether it is absolute or gauge. A pressure read
// off a diver's gauge is always a gauge pressure.
type Pressure float64

// Units of Pressure, to multiply with or divide by.
const (
	Bar        Pressure = 1
	PSI        Pressure = barPerPSI
	Atmosphere Pressure = barPerAtm
)

// Depth is a depth or a distance in metres.
type Depth float64

// Units of Depth.
const (
	Metre Depth = 1
	Foot  Depth = metresPerFoot
)

// Volume is a volume in litres: of water for the size of a cylinder, of gas at surface pressure for
// its contents. Each use states which one it is.
type Volume float64

// Units of Volume.
const (
	Litre     Volume = 1
	CubicFoot Volume = litresPerCuFt
)

// Rate is a breathing rate in litres per minute at surface pressure.
type Rate float64

// Units of Rate.
const (
	LitrePerMinute     Rate = 1
	CubicFootPerMinute Rate = litresPerCuFt
)

// Speed is a speed in metres per minute.
type Speed float64

// Units of Speed.
const (
	MetrePerMinute Speed = 1
	MetrePerSecond Speed = 60
	FootPerMinute  Speed = metresPerFoot
)

// Temperature is a thermodynamic temperature in kelvin.
type Temperature float64

// Celsius returns a temperature given in degrees Celsius.
func Celsius(deg float64) Temperature { return Temperature(deg + kelvinAtZeroC) }

// Fahrenheit returns a temperature given in degrees Fahrenheit.
func Fahrenheit(deg float64) Temperature { return Celsius((deg - fahrenheitZero) / 1.8) }

// Celsius returns the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t) - kelvinAtZeroC }

// Fahrenheit returns the temperature in degrees Fahrenheit.
func (t Temperature) Fahrenheit() float64 { return t.Celsius()*1.8 + fahrenheitZero }

// Fraction is a part of one: 0.32 of a breathing gas is oxygen.
type Fraction float64

// Percent returns the fraction that p hundredths are: 0.32 for 32.
func Percent(p float64) Fraction { return Fraction(p / 100) }

// Percent returns the fraction in hundredths.
func (f Fraction) Percent() float64 { return float64(f) * 100 }

// slack is how far a value may lie beyond a multiple of the step, as a part of the step, and still
// count as that multiple. It absorbs the rounding of binary fractions, as of 207 bar in psi, and is
// far below what any gauge can show.
const slack = 1e-9

// RoundUp returns the smallest multiple of step that is not below x.
func RoundUp(x, step float64) float64 { return math.Ceil(x/step-slack) * step }

// RoundDown returns the largest multiple of step that is not above x.
func RoundDown(x, step float64) float64 { return math.Floor(x/step+slack) * step }
