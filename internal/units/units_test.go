package units_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/published"
	"tankside/internal/units"
)

// The definitions of the units; a psi is a pound by standard gravity on a square inch.
func TestUnitsAreThoseOfTheirDefinitions(t *testing.T) {
	of := published.Definitions(t)
	pascals := of["lb"] * of["standard_gravity"] / (of["in"] * of["in"])
	require.InEpsilon(t, pascals/of["bar"], float64(units.PSI), 1e-12)
	require.InEpsilon(t, of["bar"]/pascals, units.Bar.In(units.UnitPSI), 1e-12)
	require.InDelta(t, of["atm"]/of["bar"], float64(units.Atmosphere), 0)
	require.InDelta(t, of["ft"], float64(units.Foot), 0)
	require.InEpsilon(t, 1000*of["ft"]*of["ft"]*of["ft"], float64(units.CubicFoot), 1e-12)
	require.InEpsilon(t, of["ft"], float64(units.FootPerMinute), 1e-12)
	require.InDelta(t, of["celsius_zero"], float64(units.Celsius(0)), 0)
	require.InEpsilon(t, (68+of["fahrenheit_zero"])/1.8, float64(units.Fahrenheit(68)), 1e-12)
}

// NIST Special Publication 811 (2008), appendix B.8, to the digits printed there.
func TestConversionsAgreeWithNIST(t *testing.T) {
	all := published.Conversions(t)
	for from, got := range map[string]float64{
		"psi":    float64(units.PSI) * 1e5,          // bar to pascals
		"atm":    float64(units.Atmosphere) * 1e5,   // bar to pascals
		"ft3":    float64(units.CubicFoot) / 1000,   // litres to cubic metres
		"ft":     float64(units.Foot),               // metres
		"ft/min": float64(units.FootPerMinute) / 60, // metres a minute to metres a second
	} {
		require.InDelta(t, all[from].Factor, got, all[from].Half, from)
	}
	require.Len(t, all, 5)
}

// Common practice: a reading is reported rounded down, to 100 psi or 10 bar; a
// turn or low-gas pressure is rounded up.
func TestRoundingGoesToTheSideAsked(t *testing.T) {
	for _, c := range []struct {
		name string
		got  units.Reading
		want string
	}{
		{"a report in psi goes down", units.Read(1750, units.UnitPSI).Pressure().RoundDown(units.UnitPSI, 100),
			"1700 psi"},
		{"a report in bar goes down", units.Read(187, units.UnitBar).Pressure().RoundDown(units.UnitBar, 10),
			"180 bar"},
		{"a multiple stays", units.Read(1700, units.UnitPSI).Pressure().RoundDown(units.UnitPSI, 100),
			"1700 psi"},
		{"a multiple stays upward too", units.Read(800, units.UnitPSI).Pressure().RoundUp(units.UnitPSI, 100),
			"800 psi"},
		{"a low-gas pressure goes up", units.Read(51, units.UnitBar).Pressure().RoundUp(units.UnitBar, 5),
			"55 bar"},
		{"50 bar in psi goes up", units.Read(50, units.UnitBar).Pressure().RoundUp(units.UnitPSI, 100),
			"800 psi"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, c.got.String()) })
	}
}

func TestParseReading(t *testing.T) {
	for in, want := range map[string]string{
		"187 bar": "187 bar", "1750psi": "1750 psi", " 18.5 m ": "18.5 m", "-1.25 degC": "-1.25 °C",
	} {
		got, err := units.ParseReading(in)
		require.NoError(t, err, in)
		require.Equal(t, want, got.String())
	}
	for _, in := range []string{"", "bar", "187", "187 furlong", "1..2 m", "1e400 m", "--1 m"} {
		_, err := units.ParseReading(in)
		require.Error(t, err, in)
	}
}

func TestAReadingKeepsItsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := units.Decimal(rapid.Int64Range(-9_999_999, 9_999_999).Draw(t, "hundredths"))
		require.Equal(t, d, units.DecimalOf(d.Float()))
		u := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI}).Draw(t, "unit")
		r := units.Reading{Value: d, Unit: u}
		require.Zero(t, r.Compare(units.Read(r.Pressure().In(u), u)), "to bar and back")
		back, err := units.ParseReading(r.String())
		require.NoError(t, err)
		require.Equal(t, r, back)
	})
}

func TestRoundingBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0, 6000).Draw(t, "x")
		step := rapid.SampledFrom([]float64{1, 5, 10, 100}).Draw(t, "step")
		up, down := units.RoundUp(x, step), units.RoundDown(x, step)
		require.GreaterOrEqual(t, up, x-step*1e-6)
		require.LessOrEqual(t, down, x+step*1e-6)
		require.LessOrEqual(t, up-down, step+1e-6)
		require.InDelta(t, 0, math.Mod(up, step), 1e-9)
	})
}

func TestAWrongDimensionIsABug(t *testing.T) {
	require.Panics(t, func() { units.Read(18, units.UnitMetre).Pressure() })
	require.Panics(t, func() { units.Bar.In(units.UnitFoot) })
}

func ExamplePressure_RoundDown() {
	read := units.Read(1750, units.UnitPSI)
	fmt.Println("read", read, "reported", read.Pressure().RoundDown(units.UnitPSI, 100))
	// Output: read 1750 psi reported 1700 psi
}
