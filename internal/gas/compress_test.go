package gas_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// rows reads a table of testdata: its header and its rows.
func rows(t testing.TB, name string) (head []string, body [][]string) {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(all), 1)
	return all[0], all[1:]
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

// equation is the equation of state for air of Lemmon et al., J. Phys. Chem.
// Ref. Data 29(3):331 (2000): the sum of terms n δ^d τ^t exp(-δ^l).
type equation [][4]float64 // n, d, t, l

const (
	gasConstant     = 8.31451  // J/(mol K)
	reducingDensity = 10447.7  // mol/m³
	reducingKelvin  = 132.6312 // K
)

func readEquation(t testing.TB) (eq equation) {
	_, body := rows(t, "eos_air_lemmon2000.csv")
	for _, r := range body {
		eq = append(eq, [4]float64{number(t, r[1]), number(t, r[2]), number(t, r[3]), number(t, r[4])})
	}
	require.Len(t, eq, 19)
	return eq
}

// z gives the compressibility at a density in mol/m³.
func (eq equation) z(density, kelvin float64) float64 {
	d, tau, z := density/reducingDensity, reducingKelvin/kelvin, 1.0
	for _, c := range eq {
		term := c[0] * math.Pow(d, c[1]) * math.Pow(tau, c[2])
		if c[3] > 0 {
			dl := math.Pow(d, c[3])
			z += term * math.Exp(-dl) * (c[1] - c[3]*dl)
		} else {
			z += term * c[1]
		}
	}
	return z
}

// at gives the compressibility at an absolute pressure: by bisection of the
// density, a method that has nothing in common with the package's own.
func (eq equation) at(bar, kelvin float64) float64 {
	ideal := bar * 1e5 / (gasConstant * kelvin)
	lo, hi := ideal/2, ideal*2
	for range 60 {
		mid := (lo + hi) / 2
		if mid*gasConstant*kelvin*eq.z(mid, kelvin) < bar*1e5 {
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
	p := 9402.93 * gasConstant * 145.89432 * eq.z(9402.93, 145.89432)
	require.InDelta(t, 5540161.79, p, 1)
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
	head, body := rows(t, "z_air.csv")
	cells := 0
	for _, r := range body {
		kelvin := number(t, r[0])
		for j := 1; j < len(r); j++ {
			bar := number(t, strings.TrimSuffix(strings.TrimPrefix(head[j], "P_"), "_bar_abs"))
			got := gas.Compressibility(units.Pressure(bar), units.Temperature(kelvin))
			require.InDelta(t, number(t, r[j]), got, 0.001, "%v bar, %v K", bar, kelvin)
			cells++
		}
	}
	require.Equal(t, 17*30, cells)
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
