package gas_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/gas"
	"tankside/internal/published"
	"tankside/internal/units"
)

// looks invents an honest dive: a diver of a known rate goes down and about, and
// the gauge is read every two minutes, rounded down to the step of the gauge.
func looks(c gas.Cylinder, rate, start float64, depths []float64, step float64, ph gas.Physics) []gas.Check {
	out := []gas.Check{{After: 0, Depth: units.Depth(depths[0]), Reading: barReading(start)}}
	left := c.Contents(units.Pressure(start), ph)
	for i := 1; i < len(depths); i++ {
		mean := units.Depth(depths[i-1]+depths[i]) / 2
		left -= gas.Need(units.Rate(rate), mean, 2*time.Minute, ph.Water)
		read := float64(c.Pressure(left, ph))
		if step > 0 {
			read = units.RoundDown(read, step)
		}
		out = append(out, gas.Check{After: time.Duration(2*i) * time.Minute, Depth: units.Depth(depths[i]),
			Reading: barReading(read)})
	}
	return out
}

var aDive = []float64{5, 12, 16, 18, 18, 17, 15, 14, 12, 10}

func TestConsumptionFindsTheRateThatWasBreathed(t *testing.T) {
	c := sized(t, 11.1, 207)
	for _, rate := range []float64{12, 18, 25, 32} {
		got, err := gas.Consumption(c, looks(c, rate, 200, aDive, 0, seaReal), seaReal)
		require.NoError(t, err)
		require.InDelta(t, rate, float64(got.Rate), 0.02, "readings to a hundredth of a bar")
		got, err = gas.Consumption(c, looks(c, rate, 200, aDive, 5, seaReal), seaReal)
		require.NoError(t, err)
		require.Less(t, float64(got.Low), rate)
		require.Greater(t, float64(got.High), rate)
		require.Empty(t, got.Misread)
	}
}

var seaReal = gas.Physics{Water: gas.SeaWater}

// One gauge misread, by any amount beyond two reading errors, anywhere, among
// at least five checks moves the rate no further than a reading error would.
func TestAMisreadGaugeDoesNoHarm(t *testing.T) {
	c := sized(t, 11.1, 207)
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(10, 30).Draw(t, "rate")
		n := rapid.IntRange(5, len(aDive)).Draw(t, "checks")
		checks := looks(c, rate, 200, aDive[:n], 0, seaReal)
		i := rapid.IntRange(0, n-1).Draw(t, "misread")
		by := rapid.Float64Range(20, 100).Draw(t, "by")
		read := checks[i].Reading.Value.Float()
		if read-by < 0 || rapid.Bool().Draw(t, "up") {
			by = -by
		}
		checks[i].Reading = barReading(read - by)
		got, err := gas.Consumption(c, checks, seaReal)
		require.NoError(t, err)
		require.Equal(t, []int{i}, got.Misread)
		require.InDelta(t, rate, float64(got.Rate), 0.05)
	})
}

func TestTwoMisreadGaugesOfSevenDoNoHarm(t *testing.T) {
	c := sized(t, 12, 232)
	checks := looks(c, 20, 220, aDive[:7], 0, seaReal)
	checks[2].Reading, checks[5].Reading = barReading(60), barReading(300)
	checks[0], checks[6] = checks[6], checks[0] // and the order does not matter
	got, err := gas.Consumption(c, checks, seaReal)
	require.NoError(t, err)
	require.ElementsMatch(t, []int{2, 5}, got.Misread)
	require.InDelta(t, 20, float64(got.Rate), 0.05)
}

func TestThreeChecksThatDisagreeGiveAWideInterval(t *testing.T) {
	c := sized(t, 12, 232)
	good := looks(c, 20, 200, []float64{15, 15, 15}, 0, seaReal)
	calm, err := gas.Consumption(c, good, seaReal)
	require.NoError(t, err)
	good[1].Reading = barReading(150)
	doubt, err := gas.Consumption(c, good, seaReal)
	require.NoError(t, err)
	require.Empty(t, doubt.Misread, "which of three is wrong nobody can tell")
	require.Greater(t, doubt.High-doubt.Low, 5*(calm.High-calm.Low))
}

func TestConsumptionRefusesWhatGivesNoRate(t *testing.T) {
	c := sized(t, 12, 232)
	for name, checks := range map[string][]gas.Check{
		"none":              nil,
		"one":               {{0, 10, barReading(200)}},
		"at one time":       {{time.Minute, 10, barReading(200)}, {time.Minute, 10, barReading(190)}},
		"the pressure rose": {{0, 10, barReading(100)}, {10 * time.Minute, 10, barReading(150)}},
		"no unit":           {{0, 10, units.Reading{}}, {10 * time.Minute, 10, barReading(150)}},
		"a depth": {{0, 10, units.Read(18, units.UnitMetre)},
			{10 * time.Minute, 10, barReading(150)}},
		"psi taken for bar": {{0, 10, barReading(3000)}, {10 * time.Minute, 10, barReading(150)}},
		"no depth at all": {{0, units.Depth(math.NaN()), barReading(200)},
			{10 * time.Minute, 10, barReading(150)}},
	} {
		_, err := gas.Consumption(c, checks, seaReal)
		require.Error(t, err, name)
	}
	_, err := gas.Consumption(gas.Cylinder{},
		[]gas.Check{{0, 10, barReading(200)}, {time.Minute, 10, barReading(190)}}, seaReal)
	require.Error(t, err, "no cylinder")
}

// The interval is a promise about frequency, so it is counted: gauges read with
// an even error of up to 5 bar, many dives. Invented divers.
func TestTheIntervalHoldsItsPromise(t *testing.T) {
	c, r := sized(t, 11.1, 207), rand.New(rand.NewPCG(1, 2))
	const dives = 1000
	for _, n := range []int{2, 3, 5, 10} {
		inside := 0
		for range dives {
			checks := looks(c, 20, 180, aDive[:n], 0, seaReal)
			for i := range checks {
				checks[i].Reading = barReading(checks[i].Reading.Value.Float() + 10*r.Float64() - 5)
			}
			got, err := gas.Consumption(c, checks, seaReal)
			if err == nil && got.Low <= 20 && got.High >= 20 {
				inside++
			}
		}
		t.Logf("%d checks: %.1f %% inside", n, 100*float64(inside)/dives)
		require.Greater(t, inside, dives*93/100, "%d checks", n)
	}
}

func TestANoviceStartsAtThePlanningValue(t *testing.T) {
	got := gas.Learn(nil)
	require.InDelta(t, float64(gas.NoviceRate), float64(got.Planned), 1e-9)
	require.Zero(t, got.Dives)
	require.Less(t, got.Typical, got.Planned)
	guide := published.ExampleOf(t, "W16a") // a study guide's first dive
	require.InDelta(t, guide.Inputs["sac_l_min"][0], float64(gas.NoviceRate), 0)
}

func TestLearningComesNearAndStaysPrudent(t *testing.T) {
	dive := func(rate, half float64) gas.Estimate {
		return gas.Estimate{Rate: units.Rate(rate), Low: units.Rate(rate - half), High: units.Rate(rate + half)}
	}
	var dives []gas.Estimate
	before := gas.Learn(nil)
	for range 8 {
		dives = append(dives, dive(14, 1))
		now := gas.Learn(dives)
		require.Less(t, now.Planned, before.Planned, "a calm diver's plan comes down dive by dive")
		require.Greater(t, float64(now.Planned), 14.0, "never below what was measured")
		before = now
	}
	require.InDelta(t, 14, float64(before.Typical), 0.5)
	wild := gas.Learn([]gas.Estimate{dive(45, 40)})
	sure := gas.Learn([]gas.Estimate{dive(45, 2)})
	require.Less(t, wild.Planned, sure.Planned, "a doubtful dive moves it less")
	require.Greater(t, sure.Planned, gas.NoviceRate, "and a thirsty one moves it up")
	passed := gas.Learn([]gas.Estimate{{Rate: units.Rate(math.NaN())}, dive(3, 1), dive(400, 1), {Rate: 20}})
	require.Zero(t, passed.Dives)
}

// The planned value is exceeded by about one dive in ten, whatever was learned.
// Invented divers, drawn with the spreads that the package states.
func TestThePlannedRateIsPrudent(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	typical := float64(gas.Learn(nil).Typical)
	for _, n := range []int{0, 1, 3, 8} {
		over := 0
		for range 4000 {
			own := typical * math.Exp(0.25*r.NormFloat64())
			next := func() float64 { return own * math.Exp(0.12*r.NormFloat64()) }
			var dives []gas.Estimate
			for range n {
				x := next() * math.Exp(0.05*r.NormFloat64())
				dives = append(dives, gas.Estimate{Rate: units.Rate(x), Low: units.Rate(x * 0.906),
					High: units.Rate(x * math.Exp(0.05*1.96))})
			}
			if next() > float64(gas.Learn(dives).Planned) {
				over++
			}
		}
		t.Logf("after %d dives %.1f %% exceed the planned rate", n, float64(over)/40)
		require.InDelta(t, 400, over, 80)
	}
}
