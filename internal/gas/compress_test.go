package gas_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/gas"
	"tankside/internal/published"
	"tankside/internal/units"
)

// equation is the equation of state for air of Lemmon et al., J. Phys. Chem.
// Ref. Data 29(3):331 (2000): its terms and its constants.
type equation struct {
	terms []published.AirTerm
	of    map[string]float64
}

func readEquation(t testing.TB) equation {
	return equation{published.AirTerms(t), published.AirConstants(t)}
}

// z returns the compressibility at a density in mol/m³.
func (eq equation) z(density, kelvin float64) float64 {
	d, tau, z := density/eq.of["reducing_density"], eq.of["reducing_temperature"]/kelvin, 1.0
	for _, c := range eq.terms {
		term := c.N * math.Pow(d, c.I) * math.Pow(tau, c.J)
		if c.L > 0 {
			dl := math.Pow(d, c.L)
			z += term * math.Exp(-dl) * (c.I - c.L*dl)
		} else {
			z += term * c.I
		}
	}
	return z
}

// pressure returns the absolute pressure at a density in mol/m³, in pascals.
func (eq equation) pressure(density, kelvin float64) float64 {
	return density * eq.of["gas_constant"] * kelvin * eq.z(density, kelvin)
}

// at returns the compressibility at an absolute pressure: by bisection of the
// density, a method that has nothing in common with the package's own.
func (eq equation) at(bar, kelvin float64) float64 {
	ideal := bar * 1e5 / (eq.of["gas_constant"] * kelvin)
	lo, hi := ideal/2, ideal*2
	for range 60 {
		mid := (lo + hi) / 2
		if eq.pressure(mid, kelvin) < bar*1e5 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return ideal / lo
}

// The check state is printed with the equation.
func TestTheReferenceEquationIsTypedRight(t *testing.T) {
	eq := readEquation(t)
	p := eq.pressure(eq.of["check_density"], eq.of["check_temperature"])
	require.InDelta(t, eq.of["check_pressure"], p, 1)
}

func TestCompressibilityAgainstTheEquationOfState(t *testing.T) {
	eq, worst := readEquation(t), 0.0
	for bar := 1.0; bar <= 350; bar += 1 {
		for c := 0.0; c <= 50; c += 2.5 {
			got := gas.Compressibility(units.Pressure(bar), units.Celsius(c))
			worst = math.Max(worst, math.Abs(got-eq.at(bar, 273.15+c)))
		}
	}
	t.Logf("largest error of the closed form: %.6f", worst)
	require.LessOrEqual(t, worst, 0.0002, "the error that the package states")
}

func TestCompressibilityAgainstTheTable(t *testing.T) {
	for _, row := range published.AirZ(t) {
		got := gas.Compressibility(units.Pressure(row.BarAbs), units.Temperature(row.Kelvin))
		require.InDelta(t, row.Z, got, 0.001, "%v bar, %v K", row.BarAbs, row.Kelvin)
	}
}

// The contents of a cylinder by the equation of state itself.
func TestContentsAgainstTheEquationOfState(t *testing.T) {
	eq := readEquation(t)
	c := sized(t, 11.1, 207)
	for _, bar := range []float64{1, 10, 50, 100, 200, 232, 300} {
		for _, deg := range []float64{0, 4, 20, 30, 50} {
			ph := gas.Physics{Temperature: units.Celsius(deg)}
			k, surface := 273.15+deg, 1.01325
			want := 11.1 * ((bar+surface)/eq.at(bar+surface, k)/(surface/eq.at(surface, k)) - 1)
			got := c.Contents(units.Pressure(bar), ph)
			require.InEpsilon(t, want, float64(got), 0.0005, "%v bar, %v °C", bar, deg)
			require.InDelta(t, bar, float64(c.Pressure(got, ph)), 1e-7)
		}
	}
}

func sized(t testing.TB, water units.Volume, working units.Pressure) gas.Cylinder {
	t.Helper()
	c, err := gas.Sized(water, working)
	require.NoError(t, err)
	return c
}

func rated(t testing.TB, cuFt, psi float64, law gas.GasLaw) gas.Cylinder {
	t.Helper()
	c, err := gas.Rated(units.Volume(cuFt)*units.CubicFoot, units.Pressure(psi)*units.PSI, law)
	require.NoError(t, err)
	return c
}
