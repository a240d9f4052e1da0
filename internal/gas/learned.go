package gas

import (
	"math"

	"tankside/internal/units"
)

// How a diver's rate is learned. The planning value is that of a course's study
// guide; the spreads are our choice, from common practice.
const (
	// NoviceRate is the rate planned with for somebody of whom nothing is
	// known: 25 L/min (0.88 cu ft/min), as an entry-level course's study guide
	// takes for a first dive. It is meant to be the prudent value of 9 in 10.
	NoviceRate = 25 * units.LitrePerMinute
	// betweenDivers is the spread of the typical rates of people: 25 %.
	betweenDivers = 0.25
	// betweenDives is the spread of one person's rates from dive to dive: 12 %.
	betweenDives = 0.12
	// prudence is how many spreads the planned value lies above the typical
	// one: with 1.2816, 9 dives in 10 stay below it.
	prudence = 1.2816
	// OpenDives is how many dives in open water a rate below the novice's needs: our
	// choice. A pool is shallow, warm and calm.
	OpenDives = 3
	// lastDives is how many dives are learned from; novices change.
	lastDives = 10
)

// Learned is what is known of somebody's breathing rate after some dives.
type Learned struct {
	Typical units.Rate // the middle: as often more as less
	Planned units.Rate // for plans: the next dive stays below it 9 times in 10
	Low     units.Rate // the next dive stays above it 9 times in 10
	Dives   int        // how many were learned from
	Open    int        // those in open water; see LearnIn
	Novice  bool       // Planned is NoviceRate, since nothing or too little is known; see LearnIn
}

// Done is the estimate of a dive, and whether it was in confined water.
type Done struct {
	Estimate
	Confined bool
}

// LearnIn returns what is known of somebody's breathing rate, as Learn does, for
// plans in open water, from dives in either kind of water, oldest first. Confined
// water never lowers what is planned with; and fewer than OpenDives dives in open
// water do not lower it below NoviceRate, while one is enough to raise it.
func LearnIn(dives []Done) Learned {
	var all, open []Estimate
	for _, d := range dives {
		all = append(all, d.Estimate)
		if !d.Confined {
			open = append(open, d.Estimate)
		}
	}
	out, inOpen := Learn(all), Learn(open)
	total := out.Dives
	if inOpen.Planned >= out.Planned {
		out = inOpen
	}
	out.Dives, out.Open = total, inOpen.Dives
	if out.Dives == 0 || out.Open < OpenDives && out.Planned < NoviceRate {
		out.Planned, out.Novice = NoviceRate, true
	}
	return out
}

// Learn gives what is known of somebody's breathing rate from the estimates of
// their dives, oldest first. Without any it is NoviceRate to plan with. Each
// dive moves it by its own weight: a wide interval (few checks, a doubtful
// gauge) moves it little. Estimates outside 5-100 L/min are passed over, and
// only the last 10 count.
//
// The method is the normal law's update of a mean, on the logarithm of the
// rate, since rates differ by factors: what people have in common before the
// first dive, then each dive weighted by the inverse of its variance (any
// textbook of Bayesian statistics). The planned value adds what the next dive
// may differ by.
func Learn(dives []Estimate) Learned {
	everybody := math.Hypot(betweenDivers, betweenDives)
	weight := 1 / (betweenDivers * betweenDivers)
	sum := weight * (math.Log(float64(NoviceRate)) - prudence*everybody)
	used := 0
	for i := len(dives) - 1; i >= 0 && used < lastDives; i-- {
		d := dives[i]
		if breathingRate.check("", float64(d.Rate)) != nil || !(d.High >= d.Rate) {
			continue
		}
		used++
		measured := math.Log(float64(d.High/d.Rate)) / normal95
		w := 1 / (betweenDives*betweenDives + measured*measured)
		weight, sum = weight+w, sum+w*math.Log(float64(d.Rate))
	}
	mean, next := sum/weight, math.Sqrt(1/weight+betweenDives*betweenDives)
	at := func(spreads float64) units.Rate { return units.Rate(math.Exp(mean + spreads*next)) }
	return Learned{Typical: at(0), Planned: at(prudence), Low: at(-prudence), Dives: used}
}
