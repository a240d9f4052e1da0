package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Decimal is a number with at most two decimals, held in hundredths, so that
// what was read off a gauge comes back digit by digit.
type Decimal int64

// DecimalOf gives the decimal nearest to x: Decimal(18750) for 187.5.
func DecimalOf(x float64) Decimal { return Decimal(math.Round(x * 100)) }

// Float gives the number itself: 187.5 for Decimal(18750).
func (d Decimal) Float() float64 { return float64(d) / 100 }

// String writes the number without needless zeros: "187.5", "50".
func (d Decimal) String() string {
	sign, n := "", int64(d)
	if n < 0 {
		sign, n = "-", -n
	}
	s := fmt.Sprintf("%s%d.%02d", sign, n/100, n%100)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// Unit names a unit as the contract and the tables spell it.
type Unit string

// The units that the service knows.
const (
	UnitBar      Unit = "bar"
	UnitPSI      Unit = "psi"
	UnitAtm      Unit = "atm" // of partial pressures; no gauge shows it
	UnitMetre    Unit = "m"
	UnitFoot     Unit = "ft"
	UnitLitre    Unit = "L"
	UnitCuFt     Unit = "cu_ft"
	UnitLPerMin  Unit = "L/min"
	UnitCuFtMin  Unit = "cu_ft/min"
	UnitCelsius  Unit = "degC"
	UnitFahren   Unit = "degF"
	UnitMinute   Unit = "min"
	UnitSecond   Unit = "s"
	UnitMPerSec  Unit = "m/s"
	UnitMPerMin  Unit = "m/min"
	UnitFtPerMin Unit = "ft/min"
	UnitPercent  Unit = "percent"
)

// Dimension is what a unit measures.
type Dimension string

// The dimensions of the known units.
const (
	Pressures    Dimension = "pressure"
	Depths       Dimension = "depth"
	Volumes      Dimension = "volume"
	Rates        Dimension = "rate"
	Temperatures Dimension = "temperature"
	Times        Dimension = "time"
	Speeds       Dimension = "speed"
	Fractions    Dimension = "fraction"
)

// scales says for each unit its dimension and how many of the dimension's
// canonical unit (bar, m, L, L/min, min, m/min, percent) one of it is. A
// temperature has an offset too and is converted in canonical.
var scales = map[Unit]struct {
	of    Dimension
	scale float64
}{
	UnitBar: {Pressures, 1}, UnitPSI: {Pressures, barPerPSI}, UnitAtm: {Pressures, barPerAtm},
	UnitMetre: {Depths, 1}, UnitFoot: {Depths, metresPerFoot},
	UnitLitre: {Volumes, 1}, UnitCuFt: {Volumes, litresPerCuFt},
	UnitLPerMin: {Rates, 1}, UnitCuFtMin: {Rates, litresPerCuFt},
	UnitCelsius: {Temperatures, 1}, UnitFahren: {Temperatures, 1},
	UnitMinute: {Times, 1}, UnitSecond: {Times, 1.0 / 60},
	UnitMPerSec: {Speeds, 60}, UnitMPerMin: {Speeds, 1}, UnitFtPerMin: {Speeds, metresPerFoot},
	UnitPercent: {Fractions, 1},
}

// Known tells whether the unit is one that the service knows.
func (u Unit) Known() bool { _, ok := scales[u]; return ok }

// Dimension says what the unit measures, "" for an unknown unit.
func (u Unit) Dimension() Dimension { return scales[u].of }

// Reading is a quantity as somebody read it: the value with its unit. The zero
// Reading has no unit and means nothing was read.
type Reading struct {
	Value Decimal `json:"Value"`
	Unit  Unit    `json:"Unit"`
}

// Read makes a reading of x in unit u, to two decimals.
func Read(x float64, u Unit) Reading { return Reading{DecimalOf(x), u} }

// IsZero tells whether nothing was read.
func (r Reading) IsZero() bool { return r.Unit == "" }

// String writes the reading as a person would: "1750 psi", "18 m", "12 °C".
func (r Reading) String() string {
	u := string(r.Unit)
	switch r.Unit {
	case UnitCelsius:
		u = "°C"
	case UnitFahren:
		u = "°F"
	case UnitCuFt:
		u = "cu ft"
	case UnitCuFtMin:
		u = "cu ft/min"
	case UnitPercent:
		u = "%"
	}
	return r.Value.String() + " " + u
}

// ParseReading reads "187 bar", "1750psi" or "18 m".
func ParseReading(s string) (Reading, error) {
	s = strings.TrimSpace(s)
	i := strings.IndexFunc(s, func(c rune) bool { return !strings.ContainsRune("0123456789.-+", c) })
	if i <= 0 {
		return Reading{}, fmt.Errorf("%q is not a quantity: want a number and a unit, like \"187 bar\"", s)
	}
	x, err := strconv.ParseFloat(s[:i], 64)
	if err != nil || math.Abs(x) > 1e9 {
		return Reading{}, fmt.Errorf("%q does not start with a number: want a number and a unit, like \"187 bar\"", s)
	}
	u := Unit(strings.TrimSpace(s[i:]))
	if !u.Known() {
		return Reading{}, fmt.Errorf("%q is not a known unit", u)
	}
	return Read(x, u), nil
}

// canonical gives the reading in its dimension's canonical unit; it panics when
// the reading is not of that dimension, which the contract has checked before.
func (r Reading) canonical(want Dimension) float64 {
	s := scales[r.Unit]
	if s.of != want {
		panic(fmt.Sprintf("units: %s is no %s", r, want))
	}
	return r.Value.Float() * s.scale
}

// Pressure gives the quantity to calculate with. It panics unless the unit is
// bar or psi; so do the other conversions for units that are not theirs.
func (r Reading) Pressure() Pressure { return Pressure(r.canonical(Pressures)) }

// Depth gives the depth or distance.
func (r Reading) Depth() Depth { return Depth(r.canonical(Depths)) }

// Volume gives the volume.
func (r Reading) Volume() Volume { return Volume(r.canonical(Volumes)) }

// Rate gives the breathing rate.
func (r Reading) Rate() Rate { return Rate(r.canonical(Rates)) }

// Speed gives the speed.
func (r Reading) Speed() Speed { return Speed(r.canonical(Speeds)) }

// Fraction gives the part of one.
func (r Reading) Fraction() Fraction { return Percent(r.canonical(Fractions)) }

// Minutes gives the duration in minutes.
func (r Reading) Minutes() float64 { return r.canonical(Times) }

// Temperature gives the temperature.
func (r Reading) Temperature() Temperature {
	x := r.canonical(Temperatures)
	if r.Unit == UnitFahren {
		return Fahrenheit(x)
	}
	return Celsius(x)
}

// Compare orders two readings of one dimension: negative when r is less than
// o, 0 when they are the same, positive when it is more. In one unit it is
// exact. It panics when the dimensions differ.
func (r Reading) Compare(o Reading) int {
	if r.Unit == o.Unit {
		return cmpFloat(float64(r.Value), float64(o.Value))
	}
	if r.Unit.Dimension() == Temperatures {
		return cmpFloat(float64(r.Temperature()), float64(o.Temperature()))
	}
	d := r.Unit.Dimension()
	return cmpFloat(r.canonical(d), o.canonical(d))
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// In gives the pressure as so many of the unit u, unrounded.
func (p Pressure) In(u Unit) float64 { return float64(p) / scaleOf(u, Pressures) }

// RoundUp gives the pressure in unit u, rounded up to a multiple of step in
// that unit: gas needed, turn and low-gas pressures.
func (p Pressure) RoundUp(u Unit, step float64) Reading { return Read(RoundUp(p.In(u), step), u) }

// RoundDown gives the pressure in unit u, rounded down to a multiple of step:
// reported readings, contents, an expected end pressure.
func (p Pressure) RoundDown(u Unit, step float64) Reading { return Read(RoundDown(p.In(u), step), u) }

// In gives the depth as so many of the unit u, unrounded.
func (d Depth) In(u Unit) float64 { return float64(d) / scaleOf(u, Depths) }

// In gives the volume as so many of the unit u, unrounded.
func (v Volume) In(u Unit) float64 { return float64(v) / scaleOf(u, Volumes) }

// In gives the rate as so many of the unit u, unrounded.
func (r Rate) In(u Unit) float64 { return float64(r) / scaleOf(u, Rates) }

// In gives the speed as so many of the unit u, unrounded.
func (s Speed) In(u Unit) float64 { return float64(s) / scaleOf(u, Speeds) }

func scaleOf(u Unit, want Dimension) float64 {
	s := scales[u]
	if s.of != want {
		panic(fmt.Sprintf("units: %q is no unit of %s", u, want))
	}
	return s.scale
}
