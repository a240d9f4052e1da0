package gas

import (
	"math"
	"time"

	"tankside/internal/units"
)

// Air is the oxygen fraction of air in plans: 21 %. Common practice; dry air has 20.95 %.
const Air units.Fraction = 0.21

// nitrogenInAir is the rest of Air.
const nitrogenInAir = 0.79

// wholePercent returns the oxygen fraction as a whole number of per cent: rounded up for the
// effects of oxygen (maximum depth, exposure), down for those of nitrogen.
func wholePercent(mix units.Fraction, up bool) units.Fraction {
	p := within(mix.Percent(), 1, 100)
	if up {
		return units.Percent(units.RoundUp(p, 1))
	}
	return units.Percent(units.RoundDown(p, 1))
}

// PartialPressure returns the partial pressure of oxygen at depth d, the mix rounded up to a whole
// per cent.
func PartialPressure(mix units.Fraction, d units.Depth, w Water) units.Pressure {
	return units.Pressure(wholePercent(mix, true)) * w.Ambient(d)
}

// MaxDepth returns the greatest depth at which the oxygen of the mix stays within a partial
// pressure, unrounded (show it rounded down), 0 where there is none. The mix is rounded up to a
// whole per cent. Formula as in the worked examples of the nitrox textbooks: (limit ÷ fraction − 1)
// × 33 ft.
func MaxDepth(mix units.Fraction, limit units.Pressure, w Water) units.Depth {
	w = w.filled()
	times := within(float64(limit/w.Surface), 0, 10) / float64(wholePercent(mix, true))
	return units.Depth(within((times-1)*float64(w.Deep), 0, 1000))
}

// EquivalentAirDepth returns the depth at which air has the same partial pressure of nitrogen,
// unrounded (tables take the next deeper one), never above the surface. The mix is rounded down to
// a whole per cent. Formula as in the nitrox textbooks: (1 − fraction) ÷ 0.79 × (depth + 33 ft) −
// 33 ft.
func EquivalentAirDepth(mix units.Fraction, d units.Depth, w Water) units.Depth {
	w = w.filled()
	nitrogen := 1 - float64(wholePercent(mix, false))
	return units.Depth(within((nitrogen/nitrogenInAir*w.Times(d)-1)*float64(w.Deep), 0, 2000))
}

// oxygenRow is a row of the exposure limits.
type oxygenRow struct {
	atmospheres         float64
	singleMin, dailyMin int
}

// oxygenRows are the exposure limits of the NOAA Diving Manual (table 15-1 in
// the 6th edition). The single exposures at 1.2 to 1.6 were seen in copies; the
// rest of the single and most daily figures are from memory.
var oxygenRows = [...]oxygenRow{
	{0.6, 720, 720}, {0.7, 570, 570}, {0.8, 450, 450}, {0.9, 360, 360}, {1.0, 300, 300}, {1.1, 240, 270},
	{1.2, 210, 240}, {1.3, 180, 210}, {1.4, 150, 180}, {1.5, 120, 180}, {1.6, 45, 150},
}

// OxygenLimits returns how long a partial pressure of oxygen may be breathed in one dive and in 24
// h: the row of the NOAA limits at or next above it; below 0.6 atmospheres the row of 0.6. ok is
// false above 1.6 atmospheres, where the limits allow no exposure.
func OxygenLimits(partial units.Pressure) (single, daily time.Duration, ok bool) {
	atm := float64(partial / units.Atmosphere)
	for _, r := range oxygenRows {
		if atm <= r.atmospheres+1e-9 {
			return time.Duration(r.singleMin) * time.Minute, time.Duration(r.dailyMin) * time.Minute, true
		}
	}
	return 0, 0, false
}

// Exposure is the part of the oxygen limits that a dive uses: 1 is all of it.
type Exposure struct {
	Single units.Fraction // of the limit for one dive
	Daily  units.Fraction // of the limit for 24 h; those of several dives add up
}

// OxygenExposure returns the exposure of a time, all of it at depth d. It returns false where the
// partial pressure is above every NOAA limit.
func OxygenExposure(mix units.Fraction, d units.Depth, t time.Duration, w Water) (Exposure, bool) {
	single, daily, ok := OxygenLimits(PartialPressure(mix, d, w))
	if !ok {
		return Exposure{}, false
	}
	m := math.Max(0, t.Minutes())
	return Exposure{units.Fraction(m / single.Minutes()), units.Fraction(m / daily.Minutes())}, true
}
