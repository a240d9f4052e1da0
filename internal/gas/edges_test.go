package gas_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// US Navy Diving Manual, planning figures: an atmosphere more every 33 ft of sea water, every 34 ft of fresh water.
func TestWatersAddAnAtmosphereWhereTheirSourcesSay(t *testing.T) {
	require.InDelta(t, 2, gas.NavySeaWater.Times(33*units.Foot), 1e-9)
	require.InDelta(t, 2, gas.FreshWater.Times(34*units.Foot), 1e-9)
	require.InDelta(t, 2*1.01325, float64(gas.SeaWater.Ambient(10)), 1e-9,
		"two atmospheres (one is 1.01325 bar)")
	require.InDelta(t, 4, float64(gas.RoundBar.Ambient(30)), 1e-9)
	for _, half := range []gas.Water{{Deep: 5}, {Surface: 1}} {
		require.InDelta(t, 2, half.Times(10), 1e-9, "what is not wholly stated is sea water")
	}
	require.Equal(t, 4, sized(t, 10, 232).Twin().Twin().Count())
}

// Figures that are refused name what was found and what is possible; on the bound they are taken (our choice; 1.6
// atmospheres is the last row of the NOAA limits).
func TestTheBoundsOfAPlan(t *testing.T) {
	try := func(change func(*gas.Dive, []gas.Diver, *gas.Settings)) error {
		d, divers := fourPeople(t)
		s := gas.DefaultSettings()
		change(&d, divers, &s)
		_, err := gas.PlanGroup(d, divers, s)
		return err
	}
	require.NoError(t, try(func(_ *gas.Dive, _ []gas.Diver,
		s *gas.Settings) {
		s.OxygenLimit = 1.6 * units.Atmosphere
	}))
	require.NoError(t, try(func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Stress = 5 }))
	require.NoError(t, try(func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) {
		v[0].Limits = []gas.DepthLimit{{Max: 40, Because: "grade"}}
	}))
	for name, c := range map[string]struct {
		change      func(*gas.Dive, []gas.Diver, *gas.Settings)
		what, found string
		diver       int
	}{
		"oxygen": {func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.OxygenLimit = 1.7 },
			"limit of the oxygen partial pressure", "1.7 bar", -1},
		"stress": {func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Stress = 5.01 }, "stress factor",
			"5.01", -1},
		"a law": {func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Law = 9 }, "law or turn rule",
			"an unknown one", -1},
		"astronomic": {func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.SiteDepth = 1e15 },
			"maximum depth of the site", "1e+15", -1},
		"a limit": {func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) {
			v[1].Limits = []gas.DepthLimit{{Max: 400, Because: "grade"}}
		}, "depth limit of Ilse", "400 m", 1},
		"without a name": {func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[1].Name, v[1].Rate = "", 2 },
			"breathing rate of diver 2", "2 L/min", 1},
	} {
		var out *gas.OutOfRange
		require.ErrorAs(t, try(c.change), &out, name)
		require.Equal(t, []any{c.what, c.found, c.diver}, []any{out.What, out.Found, out.Diver}, name)
	}
	d, divers := fourPeople(t)
	_, err := gas.PlanGroup(d, divers[:1], gas.DefaultSettings())
	var out *gas.OutOfRange
	require.ErrorAs(t, err, &out)
	require.Equal(t, -1, out.Diver)
	require.NotContains(t, err.Error(), "team of", "one diver is one slip, not two")
	require.ErrorAs(t, gas.CheckFloor("floor", barReading(1)), &out)
	require.Equal(t, -1, out.Diver)
}

// A turn rule may bring the group back before the least duration though everybody's gas lasts for it: then the group
// is told, and nobody in particular. An ascent from 12 m takes 7/9 + 3 + 5/9 min, which the plan says as 5.
func TestWhatTheTurnRuleTakesIsTheGroups(t *testing.T) {
	plan := func(planned, least time.Duration) gas.Plan {
		d, divers := fourPeople(t)
		d.Planned, d.Least = planned, least
		s := gas.DefaultSettings()
		s.Rule = gas.Thirds
		p, err := gas.PlanGroup(d, divers, s)
		require.NoError(t, err)
		return p
	}
	first := plan(time.Minute, 0)
	lasts, back, up := first.People[first.Limiting].GasTime, first.LatestAscent, 5*time.Minute
	require.Less(t, back, lasts)

	found := plan(time.Minute, lasts+up).Findings.Of(gas.TimeBelowLeast)
	require.Len(t, found, 1)
	require.Empty(t, found[0].Subjects)
	require.Equal(t, finding.Quantity(units.Read((back+up).Minutes(), units.UnitMinute)), found[0].Found)
	require.Contains(t, found[0].Message, found[0].Found.Text+" from time in to time out")
	require.Empty(t, plan(time.Minute, back+up).Findings, "exactly the least duration")
	require.Empty(t, plan(back, 0).Findings, "exactly the planned time")
	require.Len(t, plan(back+time.Minute, 0).Findings.Of(gas.TimeBelowPlanned), 1)
}

// From 18 m at 9 m/min with a stop at 9 m: 1 + 3 + 1 min. A whole minute is not rounded up to the next.
func TestAnAscentOfWholeMinutesIsNotRoundedUp(t *testing.T) {
	d, divers := fourPeople(t)
	s := gas.DefaultSettings()
	d.Depth, d.Planned, s.Ascent.Stop = 18, time.Minute, 9
	lasts := planned(t, d, divers, s).People[2].GasTime
	d.Least = lasts + 5*time.Minute
	require.Empty(t, planned(t, d, divers, s).Findings.Of(gas.TimeBelowLeast))
	d.Least += time.Minute
	require.Len(t, planned(t, d, divers, s).Findings.Of(gas.TimeBelowLeast), 1)
}

// The no-stop limit holds for the whole dive: who turns at half of it is back in time.
func TestAnOutAndBackDiveKeepsTheNoStopLimit(t *testing.T) {
	d, divers := fourPeople(t)
	limit := 20 * time.Minute
	d.NoStop, d.Planned = &limit, 20*time.Minute
	s := gas.DefaultSettings()
	s.Rule = gas.Halves
	p := planned(t, d, divers, s)
	require.Greater(t, p.People[p.Limiting].TurnTime, 10*time.Minute)
	require.Equal(t, 10*time.Minute, p.TurnAfter)
	require.Equal(t, limit, p.LatestAscent)
}

// At 25 m of the schoolroom's sea a mix of 40 % has 1.4 atmospheres of oxygen, and the NOAA limit for one dive there is
// 150 min: both are allowed, and no more. One atmosphere every 10 m is the schoolroom's rule.
func TestTheOxygenLimitsThemselvesPass(t *testing.T) {
	plan := func(depth units.Depth, minutes int) finding.List {
		d, divers := fourPeople(t)
		d.SiteDepth, d.Depth, d.Planned = 0, depth, time.Duration(minutes)*time.Minute
		divers[0].Mix = 0.40
		return planned(t, d, divers, gas.DefaultSettings()).Findings
	}
	require.Empty(t, plan(25, 150).Of(gas.OxygenOverLimit))
	require.Empty(t, plan(25, 150).Of(gas.OxygenTooLong))
	require.Len(t, plan(25.1, 10).Of(gas.OxygenOverLimit), 1)
	require.Len(t, plan(25, 151).Of(gas.OxygenTooLong), 1)
}

func TestWhatIsNotStatedIsNotJudged(t *testing.T) {
	d, divers := fourPeople(t)
	divers[0].Cylinder = sized(t, 11.1, 0)
	require.Empty(t, planned(t, d, divers, gas.DefaultSettings()).Findings.Of(gas.OverFilled))

	s := gas.DefaultSettings()
	s.Ascent.Stop = 0
	require.Len(t, planned(t, d, divers, s).Findings.Of(gas.NoSafetyStop), 1, "a stop at the surface is none")

	divers[1].Limits = []gas.DepthLimit{{Max: 10, Because: "aged 11", Source: "the organisation's manual"},
		{Max: 11, Because: "grade"}}
	found := planned(t, d, divers, gas.DefaultSettings()).Findings.Of(gas.DepthOverPerson)
	require.Len(t, found, 2)
	require.Equal(t, "the organisation's manual", found[0].Source)
	require.Equal(t, gas.DepthOverPerson.Source, found[1].Source)
}

// Where several are alike the first of them is named, so that the same plan reads the same.
func TestOfPeopleAlikeTheFirstIsNamed(t *testing.T) {
	d, divers := fourPeople(t)
	for i := range divers {
		divers[i] = divers[0]
	}
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Zero(t, p.Limiting)
	require.Zero(t, p.Controlling)
	require.Zero(t, p.People[2].SharesWith)
}

// By hand: from 10 L and by the ideal law 30 bar in 10 min at the surface are 30 x 10 / 1.01325 L, 29.61 L/min. An even
// error of 5 bar on either reading has a standard deviation of 5/√3 bar; in the slope of two points 10 min apart that
// is 10/1.01325 x 5/√3 / √50, and 1.960 times that is 7.898 L/min.
func TestTheIntervalOfTwoChecksIsThatOfTheGauge(t *testing.T) {
	ideal := gas.Physics{Law: gas.IdealGas, Water: gas.SeaWater}
	got, err := gas.Consumption(sized(t, 10, 232),
		[]gas.Check{{0, 0, barReading(200)}, {10 * time.Minute, 0, barReading(170)}}, ideal)
	require.NoError(t, err)
	require.InDelta(t, 29.608, float64(got.Rate), 0.001)
	require.InDelta(t, 7.898, float64(got.High-got.Rate), 0.001)
	require.InDelta(t, 7.898, float64(got.Rate-got.Low), 0.001)

	_, err = gas.Consumption(sized(t, 10, 232),
		[]gas.Check{{0, 0, barReading(200)}, {10 * time.Minute, 0, barReading(200)}}, ideal)
	require.ErrorContains(t, err, "did not fall")
}

// From four on one misread gauge is found.
func TestOneMisreadOfFourIsLeftOut(t *testing.T) {
	c := sized(t, 12, 232)
	checks := looks(c, 20, 200, []float64{15, 15, 15, 15}, 0, seaReal)
	checks[2].Reading = barReading(60)
	got, err := gas.Consumption(c, checks, seaReal)
	require.NoError(t, err)
	require.Equal(t, []int{2}, got.Misread)

	b := units.UnitBar
	trend, err := gas.PredictTrend([]gas.GaugeReading{sight(0, 10, 200, b), sight(3, 10, 60, b),
		sight(6, 10, 140, b), sight(9, 10, 110, b)}, 50*units.Bar, gas.SeaWater)
	require.NoError(t, err)
	require.Equal(t, []int{1}, trend.LeftOut)
}

func TestADepthOfTheFirstLookHoldsForTheNext(t *testing.T) {
	b := units.UnitBar
	foretell := func(depth ...float64) gas.Trend {
		trend, err := gas.PredictTrend([]gas.GaugeReading{sight(0, depth[0], 200, b),
			sight(5, depth[1], 150, b), sight(8, depth[2], 120, b)}, 50*units.Bar, gas.SeaWater)
		require.NoError(t, err)
		return trend
	}
	require.Equal(t, foretell(10, 10, 20).LowGas, foretell(10, -1, 20).LowGas)
}

// By hand: 25 L/min from 10 L are 2.5 bar a minute at the surface, and twice that at 10 m of the schoolroom's sea.
func TestAFallThatIsToBeExpectedIsReckonedAtTheMeanDepth(t *testing.T) {
	b := gas.ExpectedBreathing{Cylinder: sized(t, 10, 232), Water: gas.RoundBar}
	got := gas.Doubts(row(4, "bar", 10, 200, 200), b)
	require.Len(t, got, 1)
	require.InDelta(t, 20, float64(got[0].Fall), 1e-9)
	require.Empty(t, gas.Doubts(row(4, "bar", 0, 200, 200), b), "10 bar are not beyond 10 bar")
	require.Len(t, gas.Doubts(row(4.1, "bar", 0, 200, 200), b), 1)
}

func TestADoubtSaysHowLongBeforeTheOtherReadingWas(t *testing.T) {
	at := func(seconds int, bar float64) gas.GaugeReading {
		return gas.GaugeReading{After: time.Duration(seconds) * time.Second, Reading: barReading(bar)}
	}
	rose := []gas.GaugeReading{at(600, 150), at(753, 180)}
	require.Contains(t, gas.Doubts(rose, gas.ExpectedBreathing{})[0].Finding(rose,
		finding.Named{Name: "Sofia"}).Message,
		"more than the 150 bar of 2.55 min before")
}

// 666 L for two, reckoned leg by leg in TestToldPressuresAreJudged, are 55.5 bar of 12 L.
func TestToldExactlyWhatTwoNeedIsEnough(t *testing.T) {
	p := schoolroom(t, 12, units.UnitBar)
	require.InDelta(t, 666, float64(p.People[0].AscentGas), 1e-6)
	require.Empty(t, p.JudgeTold(0, gas.ToldPressures{Low: barReading(55.5)}, barReading(50)))
}

// Confined water never lowers what is planned with, fewer than three dives in open water do not go below the novice's
// 25 L/min, and one is enough to raise it (our choices, stated beside LearnIn).
func TestWhatIsLearnedForOpenWater(t *testing.T) {
	dive := func(rate float64, confined bool) gas.PastDive {
		return gas.PastDive{Estimate: gas.Estimate{Rate: units.Rate(rate), Low: units.Rate(rate - 1),
			High: units.Rate(rate + 1)}, Confined: confined}
	}
	times := func(n int, d gas.PastDive) (out []gas.PastDive) {
		for range n {
			out = append(out, d)
		}
		return out
	}
	calm, pool := dive(14, false), dive(12, true)
	none := gas.LearnIn(nil)
	require.True(t, none.Novice)
	require.Equal(t, gas.NoviceRate, none.Planned)
	for n, novice := range []bool{true, true, true, false, false} {
		got := gas.LearnIn(append(times(5, pool), times(n, calm)...))
		require.Equal(t, []any{novice, n, 5 + n}, []any{got.Novice, got.Open, got.Dives})
		require.Equal(t, novice, got.Planned == gas.NoviceRate)
		if !novice {
			require.GreaterOrEqual(t, got.Planned, gas.LearnIn(times(n, calm)).Planned, "a pool lowers nothing")
			require.Less(t, got.Planned, gas.NoviceRate)
		}
	}
	thirsty := gas.LearnIn(times(1, dive(45, false)))
	require.False(t, thirsty.Novice)
	require.Greater(t, thirsty.Planned, gas.NoviceRate)
}

// Only the last ten dives count, and a rate that is known without doubt counts too.
func TestHowManyDivesAreLearnedFrom(t *testing.T) {
	exact := gas.Estimate{Rate: 20, Low: 20, High: 20}
	require.Equal(t, 1, gas.Learn([]gas.Estimate{exact}).Dives)
	var eleven []gas.Estimate
	for range 11 {
		eleven = append(eleven, exact)
	}
	got := gas.Learn(eleven)
	require.Equal(t, 10, got.Dives)
	require.Equal(t, gas.Learn(eleven[:10]), got)
	require.Less(t, got.Low, got.Typical)
	require.Less(t, got.Typical, got.Planned)
}

func TestOneSlipIsOneError(t *testing.T) {
	d, divers := fourPeople(t)
	divers[3].Start = barReading(2900)
	_, err := gas.PlanGroup(d, divers, gas.DefaultSettings())
	var out *gas.OutOfRange
	require.True(t, errors.As(err, &out))
	require.Equal(t, "start pressure of Juno: found 2900 bar, must be from 0 bar to 350 bar; correct the figure or its unit", out.Error())
}
