package units

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Decimal is a number with at most two decimals, held in hundredths, so that a reading keeps its
// digits.
type Decimal int64

// DecimalOf returns the decimal nearest to x: Decimal(18750) for 187.5.
func DecimalOf(x float64) Decimal { return Decimal(math.Round(x * 100)) }

// Float returns the number: 187.5 for Decimal(18750).
func (d Decimal) Float() float64 { return float64(d) / 100 }

// String returns the number without needless zeros: "187.5", "50".
func (d Decimal) String() string {
	sign, n := "", int64(d)
	if n < 0 {
		sign, n = "-", -n
	}
	s := fmt.Sprintf("%s%d.%02d", sign, n/100, n%100)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// MarshalJSON returns the number: 187.5 for Decimal(18750).
func (d Decimal) MarshalJSON() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalJSON reads a number, to the nearest hundredth. Its error is that of a number that
// encoding/json does not read.
func (d *Decimal) UnmarshalJSON(text []byte) error {
	var x float64
	if err := json.Unmarshal(text, &x); err != nil {
		return err
	}
	*d = DecimalOf(x)
	return nil
}

// Unit is a unit as the contract and the tables spell it.
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

// scales has for each unit its dimension and its size in the dimension's canonical unit (bar, m, L,
// L/min, min, m/min, percent). A temperature also has an offset, which canonical leaves to
// Temperature.
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

// Known reports whether the service knows the unit.
func (u Unit) Known() bool { _, ok := scales[u]; return ok }

// Dimension returns what the unit measures, "" for an unknown unit.
func (u Unit) Dimension() Dimension { return scales[u].of }

// Reading is a quantity as it was read: the value with its unit. The zero Reading has no unit and
// means that nothing was read.
type Reading struct {
	Value Decimal `json:"value"`
	Unit  Unit    `json:"unit"`
}

// Read returns a reading of x in unit u, to two decimals.
func Read(x float64, u Unit) Reading { return Reading{DecimalOf(x), u} }

// IsZero reports whether nothing was read.
func (r Reading) IsZero() bool { return r.Unit == "" }

// String returns the reading as a person writes it: "1750 psi", "18 m", "12 °C".
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

// ParseReading reads a number and a unit: "187 bar", "1750psi" or "18 m".
func ParseReading(s string) (Reading, error) {
	s = strings.TrimSpace(s)
	i := strings.IndexFunc(s, func(c rune) bool { return !strings.ContainsRune("0123456789.-+", c) })
	if i <= 0 {
		return Reading{}, fmt.Errorf("%q is not a quantity: want a number and a unit, like \"187 bar\"", s)
	}
	x, err := strconv.ParseFloat(s[:i], 64)
	if err != nil || math.Abs(x) > 1e9 {
		return Reading{},
			fmt.Errorf("%q does not start with a number: want a number and a unit, like \"187 bar\"", s)
	}
	u := Unit(strings.TrimSpace(s[i:]))
	if !u.Known() {
		return Reading{}, fmt.Errorf("%q is not a known unit", u)
	}
	return Read(x, u), nil
}

// canonical returns the reading in its dimension's canonical unit. It panics when the reading is of
// another dimension: the contract has checked that before.
func (r Reading) canonical(want Dimension) float64 {
	s := scales[r.Unit]
	if s.of != want {
		panic(fmt.Sprintf("units: %s is no %s", r, want))
	}
	return r.Value.Float() * s.scale
}

// Pressure returns the pressure to calculate with. It panics unless the unit is bar or psi; the
// other conversions panic likewise for units of another dimension.
func (r Reading) Pressure() Pressure { return Pressure(r.canonical(Pressures)) }

// Depth returns the depth or distance.
func (r Reading) Depth() Depth { return Depth(r.canonical(Depths)) }

// Volume returns the volume.
func (r Reading) Volume() Volume { return Volume(r.canonical(Volumes)) }

// Rate returns the breathing rate.
func (r Reading) Rate() Rate { return Rate(r.canonical(Rates)) }

// Speed returns the speed.
func (r Reading) Speed() Speed { return Speed(r.canonical(Speeds)) }

// Fraction returns the reading, a percentage, as a part of one.
func (r Reading) Fraction() Fraction { return Percent(r.canonical(Fractions)) }

// Minutes returns the duration in minutes.
func (r Reading) Minutes() float64 { return r.canonical(Times) }

// Temperature returns the temperature.
func (r Reading) Temperature() Temperature {
	x := r.canonical(Temperatures)
	if r.Unit == UnitFahren {
		return Fahrenheit(x)
	}
	return Celsius(x)
}

// Compare orders two readings of one dimension. It returns a negative number when r is less than o,
// 0 when they are equal, a positive number when r is more. Within one unit it is exact. It panics
// when the dimensions differ.
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

// In returns the pressure in unit u, unrounded.
func (p Pressure) In(u Unit) float64 { return float64(p) / scaleOf(u, Pressures) }

// RoundUp returns the pressure in unit u, rounded up to a multiple of step in that unit. It is for
// gas needed, turn and low-gas pressures.
func (p Pressure) RoundUp(u Unit, step float64) Reading { return Read(RoundUp(p.In(u), step), u) }

// RoundDown returns the pressure in unit u, rounded down to a multiple of step in that unit. It is
// for reported readings, contents, and an expected end pressure.
func (p Pressure) RoundDown(u Unit, step float64) Reading { return Read(RoundDown(p.In(u), step), u) }

// In returns the depth in unit u, unrounded.
func (d Depth) In(u Unit) float64 { return float64(d) / scaleOf(u, Depths) }

// In returns the volume in unit u, unrounded.
func (v Volume) In(u Unit) float64 { return float64(v) / scaleOf(u, Volumes) }

// In returns the rate in unit u, unrounded.
func (r Rate) In(u Unit) float64 { return float64(r) / scaleOf(u, Rates) }

// In returns the speed in unit u, unrounded.
func (s Speed) In(u Unit) float64 { return float64(s) / scaleOf(u, Speeds) }

func scaleOf(u Unit, want Dimension) float64 {
	s := scales[u]
	if s.of != want {
		panic(fmt.Sprintf("units: %q is no unit of %s", u, want))
	}
	return s.scale
}
