package gas

import "tankside/internal/units"

// compressionTerms are the coefficients of Z - 1 of air as a polynomial: row i
// belongs to the power i+1 of the absolute pressure in 100 bar, column j to the
// power j of (T - 298.15 K) / 25 K.
//
// They are our least-squares fit, over 0.5-352 bar and 272-324.5 K, to the
// equation of state for dry air of Lemmon, Jacobsen, Penoncello and Friend,
// J. Phys. Chem. Ref. Data 29(3):331 (2000). The error is at most 0.0002 over
// 1-350 bar and 0-50 °C; the test compares them with that equation itself.
var compressionTerms = [6][4]float64{
	{-0.03217282, 0.02215127, -0.00375637, 0.00047053},
	{0.02514004, -0.00245102, -0.00076905, 0.00035572},
	{-0.00260109, -0.00248985, 0.00155246, -0.00047383},
	{0.00211614, 0.00024631, -0.00040621, 0.00014882},
	{-0.00074498, 0.00014496, 0.00001967, -0.00001595},
	{0.00007877, -0.00002424, 0.00000284, 0.00000020},
}

// The range of compressionTerms. Beyond it the nearer end counts. A plan refuses pressures beyond
// it beforehand.
const (
	leastAbsolute                   = 0.5    // bar
	mostAbsolute                    = 352    // bar
	coldestGas    units.Temperature = 273.15 // 0 °C
	warmestGas    units.Temperature = 323.15 // 50 °C
)

// isotherm is the compressibility at one temperature: the coefficients of
// Z - 1 in powers of the pressure. All zero is the ideal law.
type isotherm [6]float64

// isothermOf returns the compressibility at the temperature of ph.
func isothermOf(ph Physics) (iso isotherm) {
	if ph.Law == IdealGas {
		return iso
	}
	t := (within(float64(ph.Temperature), float64(coldestGas), float64(warmestGas)) - 298.15) / 25
	for i, c := range &compressionTerms {
		iso[i] = c[0] + t*(c[1]+t*(c[2]+t*c[3]))
	}
	return iso
}

// z returns the compressibility at an absolute pressure in bar.
func (iso *isotherm) z(bar float64) float64 {
	x := within(bar, leastAbsolute, mostAbsolute) / 100
	z := 0.0
	for i := len(iso) - 1; i >= 0; i-- {
		z = x * (iso[i] + z)
	}
	return 1 + z
}

// Compressibility returns Z of air, the factor on the ideal law's pressure, at an absolute pressure
// and a temperature. It is within 0.0002 of the equation of state over 1-350 bar and 0-50 °C;
// outside it is the value at the nearest such state. It is used for nitrox too: oxygen compresses a
// little more easily than nitrogen, so that a cylinder of nitrox holds slightly more than
// calculated. Source: Lemmon et al. 2000, see compressionTerms.
func Compressibility(absolute units.Pressure, t units.Temperature) float64 {
	iso := isothermOf(Physics{Temperature: t})
	return iso.z(float64(absolute))
}

// density returns the amount of gas per volume at an absolute pressure, in units of the amount of
// ideal gas at 1 bar. It grows with pressure throughout.
func (iso *isotherm) density(bar float64) float64 { return bar / iso.z(bar) }

// absoluteFor returns the absolute pressure in bar at which the density is n, to a billionth of a
// bar and no more than mostPressure. Method: regula falsi (Illinois).
func (iso *isotherm) absoluteFor(n float64) float64 {
	lo, hi := 0.9*n, min(1.3*n, mostPressure)
	flo, fhi := iso.density(lo)-n, iso.density(hi)-n
	if fhi <= 0 || hi <= lo {
		return hi
	}
	side := 0
	for range 60 {
		p := (lo*fhi - hi*flo) / (fhi - flo)
		f := iso.density(p) - n
		if f > -1e-10 && f < 1e-10 {
			return p
		}
		if f > 0 {
			hi, fhi, flo, side = p, f, halved(flo, side > 0), 1
		} else {
			lo, flo, fhi, side = p, f, halved(fhi, side < 0), -1
		}
	}
	return hi
}

func halved(x float64, yes bool) float64 {
	if yes {
		return x / 2
	}
	return x
}
