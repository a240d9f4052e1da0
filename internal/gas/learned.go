package gas

import (
	"math"

	"tankside/internal/units"
)

// The learning of a diver's rate. The planning value is that of a course's study guide; the spreads
// are our choice, from common practice.
const (
	// NoviceRate is the rate to plan with for a diver without any measured rate: 25 L/min (0.88 cu
	// ft/min), as an entry-level course's study guide takes for a first dive. It is meant to be the
	// prudent value of 9 in 10.
	NoviceRate = 25 * units.LitrePerMinute
	// betweenDivers is the spread of the typical rates of people: 25 %.
	betweenDivers = 0.25
	// betweenDives is the spread of one person's rates from dive to dive: 12 %.
	betweenDives = 0.12
	// prudence is the number of spreads from the typical to the planned value: with 1.2816, 9 dives
	// in 10 stay below it.
	prudence = 1.2816
	// OpenDives is the number of dives in open water that a planned rate below the novice's needs:
	// our choice. A pool is shallow, warm and calm.
	OpenDives = 3
	// lastDives is the number of dives that are learned from; novices change.
	lastDives = 10
)

// Learned is what is known of a diver's breathing rate after some dives.
type Learned struct {
	Typical units.Rate // the median
	Planned units.Rate // for plans: the next dive stays below it 9 times in 10
	Low     units.Rate // the next dive stays above it 9 times in 10
	Dives   int        // the dives learned from
	Open    int        // of Dives, those in open water; see LearnIn
	Novice  bool       // Planned is NoviceRate, since too little is known; see LearnIn
}

// PastDive is the estimate of a dive, and whether it was in confined water.
type PastDive struct {
	Estimate
	Confined bool
}

// LearnIn returns what is known of a diver's breathing rate, like Learn, for plans in open water,
// from dives in either kind of water, oldest first. Confined water never lowers the planned rate.
// Fewer than OpenDives dives in open water do not lower it below NoviceRate, while one is enough to
// raise it.
func LearnIn(dives []PastDive) Learned {
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

// Learn returns what is known of a diver's breathing rate from the estimates of their dives, oldest
// first. Without any it is NoviceRate. Each dive moves the rate by its own weight: a wide interval
// (few checks, a doubtful gauge) moves it little. Estimates outside 5-100 L/min are ignored, and
// only the last 10 count.
//
// The method is the normal law's update of a mean, on the logarithm of the rate, since rates differ
// by factors: a prior common to all divers, then each dive weighted by the inverse of its variance
// (any textbook of Bayesian statistics). The planned value adds the spread of the next dive.
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
