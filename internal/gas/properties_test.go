package gas_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// anyGroup draws a dive, two to five divers with like cylinders, and settings.
func anyGroup(t *rapid.T) (gas.Dive, []gas.Diver, gas.Settings) {
	s := gas.DefaultSettings()
	s.Law = rapid.SampledFrom([]gas.GasLaw{gas.RealGas, gas.IdealGas}).Draw(t, "law")
	s.Rule = rapid.SampledFrom([]gas.TurnRule{gas.AllUsable, gas.Halves, gas.Thirds}).Draw(t, "rule")
	s.Stress = rapid.Float64Range(1, 3).Draw(t, "stress")
	d := gas.Dive{
		Depth:   units.Depth(rapid.Float64Range(0, 45).Draw(t, "depth")),
		Planned: time.Duration(rapid.IntRange(5, 60).Draw(t, "planned")) * time.Minute,
	}
	if rapid.Bool().Draw(t, "cold") {
		d.Water = units.Read(rapid.Float64Range(0, 30).Draw(t, "water"), units.UnitCelsius)
	}
	c, err := gas.Sized(units.Volume(rapid.Float64Range(5, 20).Draw(t, "litres")), 232)
	require.NoError(t, err)
	var divers []gas.Diver
	for range rapid.IntRange(2, 5).Draw(t, "divers") {
		divers = append(divers, anyDiver(t, c))
	}
	return d, divers, s
}

func anyDiver(t *rapid.T, c gas.Cylinder) gas.Diver {
	return gas.Diver{Cylinder: c, Start: barReading(rapid.Float64Range(100, 240).Draw(t, "start")),
		Rate: units.Rate(rapid.Float64Range(8, 40).Draw(t, "rate"))}
}

func planned(t require.TestingT, d gas.Dive, divers []gas.Diver, s gas.Settings) gas.Plan {
	p, err := gas.PlanGroup(d, divers, s)
	require.NoError(t, err)
	return p
}

// harder holds that nobody's low-gas or turn pressure is lower in the second
// plan, nor the group's time longer, exact and as agreed.
func harder(t *rapid.T, easy, hard gas.Plan) {
	for i := range easy.People {
		a, b := easy.People[i], hard.People[i]
		require.GreaterOrEqual(t, float64(b.LowExact), float64(a.LowExact)-1e-6)
		require.GreaterOrEqual(t, float64(b.TurnExact), float64(a.TurnExact)-1e-6)
		require.GreaterOrEqual(t, b.Low.Compare(a.Low), 0)
		require.GreaterOrEqual(t, b.Turn.Compare(a.Turn), 0)
	}
	require.LessOrEqual(t, hard.LatestAscent, easy.LatestAscent)
}

func TestMoreDepthNeverLowersAPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		deeper := d
		deeper.Depth += units.Depth(rapid.Float64Range(0, 20).Draw(t, "deeper"))
		harder(t, planned(t, d, divers, s), planned(t, deeper, divers, s))
	})
}

func TestMorePeopleNeverLowerAPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		more := append(append([]gas.Diver{}, divers...), anyDiver(t, divers[0].Cylinder))
		harder(t, planned(t, d, divers, s), planned(t, d, more, s))
	})
}

func TestMoreStressNeverLowersAPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		tense := s
		tense.Stress += rapid.Float64Range(0, 2).Draw(t, "more stress")
		harder(t, planned(t, d, divers, s), planned(t, d, divers, tense))
	})
}

func TestSmallerCylindersNeverLowerAPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		part := units.Volume(rapid.Float64Range(0.3, 1).Draw(t, "part"))
		smaller := append([]gas.Diver{}, divers...)
		c, err := gas.Sized(divers[0].Cylinder.Water()*part, 232)
		require.NoError(t, err)
		for i := range smaller {
			smaller[i].Cylinder = c
		}
		harder(t, planned(t, d, divers, s), planned(t, d, smaller, s))
		one := append([]gas.Diver{}, divers...)
		one[0].Cylinder = c // one smaller cylinder: that diver's own low-gas pressure
		require.GreaterOrEqual(t, float64(planned(t, d, one, s).People[0].LowExact),
			float64(planned(t, d, divers, s).People[0].LowExact)-1e-6)
	})
}

func TestBarAndPSIPlansOfOneDiveAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		inPSI := append([]gas.Diver{}, divers...)
		for i := range inPSI {
			inPSI[i].Start = psiReading(divers[i].Start.Pressure().In(units.UnitPSI))
		}
		a, b := planned(t, d, divers, s), planned(t, d, inPSI, s)
		step := float64(100 * units.PSI)
		for i := range a.People {
			x, y := a.People[i], b.People[i]
			require.InDelta(t, float64(x.LowExact), float64(y.LowExact), 0.001)
			require.InDelta(t, float64(x.TurnExact), float64(y.TurnExact), 0.002)
			require.InDelta(t, float64(x.Low.Pressure()), float64(y.Low.Pressure()), step)
			require.InDelta(t, float64(x.Turn.Pressure()), float64(y.Turn.Pressure()), step)
			require.InDelta(t, float64(x.End.Pressure()), float64(y.End.Pressure()), float64(10*units.Bar)+0.1)
			require.InDelta(t, x.GasTime.Minutes(), y.GasTime.Minutes(), 1)
			if x.Start > x.LowExact+units.Pressure(step) {
				require.Less(t, float64(x.Low.Pressure()), float64(x.Start))
				require.Less(t, float64(y.Low.Pressure()), float64(y.Start))
			}
		}
	})
}

func TestPressuresAreRoundedToTheSafeSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		p := planned(t, d, divers, s)
		for _, w := range p.People {
			require.GreaterOrEqual(t, float64(w.Low.Pressure()), float64(w.LowExact)-1e-6)
			require.GreaterOrEqual(t, float64(w.Turn.Pressure()), float64(w.TurnExact)-1e-6)
			require.LessOrEqual(t, float64(w.End.Pressure()), float64(w.EndExact)+1e-6)
			require.GreaterOrEqual(t, w.Turn.Compare(w.Low), 0, "the turn comes no later than low on gas")
			require.GreaterOrEqual(t, float64(w.LowExact), float64(s.Floor))
		}
	})
}

// On the dive as planned, nobody who turns and comes up when the plan says is
// below the low-gas pressure before the ascent: the gas is followed breath by
// breath, apart from the plan's own formulae.
func TestFollowingThePlanKeepsTheAscentGas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		p := planned(t, d, divers, s)
		ph := gas.Physics{Law: s.Law, Water: s.Water}
		if !d.Water.IsZero() {
			ph.Temperature = d.Water.Temperature()
		}
		for i, w := range p.People {
			left := divers[i].Cylinder.Contents(w.Start, ph)
			for range int(p.LatestAscent.Minutes()) {
				left -= gas.Need(divers[i].Rate, d.Depth, time.Minute, s.Water)
			}
			if w.Start > w.LowExact {
				need := divers[i].Cylinder.Contents(w.LowExact, ph)
				require.GreaterOrEqual(t, float64(left), float64(need)-1e-6)
			}
		}
	})
}

func TestContentsAndPressureAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, err := gas.Sized(units.Volume(rapid.Float64Range(0.2, 50).Draw(t, "litres")), 0)
		require.NoError(t, err)
		ph := gas.Physics{Temperature: units.Celsius(rapid.Float64Range(-5, 60).Draw(t, "degrees"))}
		p := rapid.Float64Range(0, 500).Draw(t, "bar")
		v := c.Contents(units.Pressure(p), ph)
		require.InDelta(t, p, float64(c.Pressure(v, ph)), 1e-6)
		require.Greater(t, float64(c.Contents(units.Pressure(p+0.1), ph)), float64(v),
			"more pressure, more gas")
	})
}

// sound fails for what is no figure or negative.
func sound(t *testing.T, what string, xs ...float64) {
	t.Helper()
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			t.Fatalf("%s: %v", what, xs)
		}
	}
}

func FuzzFiguresStaySound(f *testing.F) {
	f.Add(11.1, 200.0, 293.15, 18.0, 0.32, 20.0, 30.0, uint8(0))
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e300, math.Inf(-1), 0.0, -5.0, uint8(1))
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, uint8(2))
	f.Fuzz(func(t *testing.T, litres, bar, kelvin, metres, mix, rate, minutes float64, law uint8) {
		ph := gas.Physics{Law: gas.GasLaw(law % 2), Temperature: units.Temperature(kelvin)}
		p, d, v := units.Pressure(bar), units.Depth(metres), units.Volume(litres)
		for _, c := range []gas.Cylinder{{}, firstOf(gas.Sized(v, p)), firstOf(gas.Rated(v, p, ph.Law)),
			firstOf(gas.Sized(11.1, 207)).Twin()} {
			sound(t, "cylinder", float64(c.Water()), float64(c.Contents(p, ph)), float64(c.Pressure(v, ph)),
				float64(c.AtTemperature(p, ph.Temperature, units.Celsius(metres), ph)),
				float64(gas.Usable(c, p, 50, ph)), float64(gas.LowGas(c, v, 10, 50,
					ph)), float64(gas.TurnPressure(c, p, 50, 100, ph)))
		}
		m := time.Duration(int64(math.Mod(minutes, 1e9)))
		sound(t, "oxygen", float64(gas.MaxDepth(units.Fraction(mix), p, ph.Water)),
			float64(gas.EquivalentAirDepth(units.Fraction(mix), d, ph.Water)),
			float64(gas.PartialPressure(units.Fraction(mix), d, ph.Water)), gas.Compressibility(p,
				ph.Temperature))
		e, _ := gas.OxygenExposure(units.Fraction(mix), d, m, ph.Water)
		a := gas.Ascent{SortOut: m, Speed: units.Speed(rate), Stop: d, StopFor: m}
		sound(t, "gas", float64(e.Single), float64(e.Daily),
			float64(gas.Need(units.Rate(rate), d, m, ph.Water)),
			gas.GasTime(v, units.Rate(rate), d,
				ph.Water).Minutes(), float64(a.MinimumGas(d, units.Rate(rate), ph.Water)))
		l := gas.Learn([]gas.Estimate{{Rate: units.Rate(rate), High: units.Rate(litres)}})
		sound(t, "learned", float64(l.Typical), float64(l.Planned), float64(l.Low))
	})
}

func firstOf(c gas.Cylinder, _ error) gas.Cylinder { return c }

func FuzzPlansStaySound(f *testing.F) {
	f.Add(18.0, 12.0, 40.0, 11.1, int64(20000), int64(19000), 20.0, 0.21, 1.5, 9.0, 5.0, 3.0, 10.0, uint8(0))
	f.Add(math.NaN(), -1.0, 1e9, 0.2, int64(-5), int64(1<<62), math.Inf(1), 0.9, 0.0, 0.0, 99.0, -3.0,
		math.NaN(), uint8(7))
	f.Fuzz(func(t *testing.T, depth, mean, minutes, litres float64, start, other int64, rate, mix, stress,
		speed, stop, stopFor, reserve float64, how uint8) {
		s := gas.DefaultSettings()
		s.Law, s.Rule, s.Stress, s.Reserve = gas.GasLaw(how%2), gas.TurnRule(how%4), stress, units.Pressure(reserve)
		s.Ascent = gas.Ascent{SortOut: mins(math.Mod(minutes, 7)), Speed: units.Speed(speed),
			Stop: units.Depth(stop), StopFor: mins(math.Mod(stopFor, 20))}
		unit := []units.Unit{units.UnitBar, units.UnitPSI, units.UnitMetre, ""}[how/4%4]
		c := firstOf(gas.Sized(units.Volume(litres), 207))
		divers := []gas.Diver{
			{Cylinder: c, Start: units.Reading{Value: units.Decimal(start), Unit: unit}, Rate: units.Rate(rate),
				Mix: units.Fraction(mix)},
			{Cylinder: c, Start: units.Reading{Value: units.Decimal(other), Unit: unit}, Team: int(how / 16)},
		}
		d := gas.Dive{Depth: units.Depth(depth), Mean: units.Depth(mean), Planned: mins(math.Mod(minutes, 400)),
			Water: units.Read(math.Mod(depth, 60), units.UnitCelsius)}
		p, err := gas.PlanGroup(d, divers, s)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		for i, w := range p.People {
			sound(t, "person", float64(w.Start), float64(w.Contents), float64(w.AscentGas), float64(w.LowExact),
				float64(w.TurnExact), float64(w.EndExact),
				float64(w.Usable), float64(w.Out), w.Low.Value.Float(), w.Turn.Value.Float(), w.End.Value.Float(), w.GasTime.Minutes(), w.TurnTime.Minutes())
			require.NotEmpty(t, p.Worked(i, unit))
		}
		sound(t, "group", p.TurnAfter.Minutes(), p.LatestAscent.Minutes())
	})
}

// Whatever somebody did in the pool, it lowers no planned rate; and nobody is planned
// with less than a novice before three dives in open water.
func TestConfinedWaterNeverLowersAPlannedRate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var dives, open []gas.PastDive
		for range rapid.IntRange(0, 12).Draw(t, "dives") {
			rate := rapid.Float64Range(5, 60).Draw(t, "rate")
			d := gas.PastDive{Estimate: gas.Estimate{Rate: units.Rate(rate), Low: units.Rate(rate * 0.9),
				High: units.Rate(rate * 1.1)}, Confined: rapid.Bool().Draw(t, "confined")}
			dives = append(dives, d)
			if !d.Confined {
				open = append(open, d)
			}
		}
		with, without := gas.LearnIn(dives), gas.LearnIn(open)
		if with.Planned < without.Planned {
			t.Fatalf("%v with the pool, %v without", with.Planned, without.Planned)
		}
		if len(open) < gas.OpenDives && with.Planned < gas.NoviceRate {
			t.Fatalf("%v after %d dives in open water", with.Planned, len(open))
		}
		if with.Novice && with.Planned != gas.NoviceRate {
			t.Fatalf("a novice is planned with %v", with.Planned)
		}
	})
}

// A training dive counts from time in to time out: at 80 ft 12 min and 6 min of
// ascent (9 m/min, 3 min at 5 m) are 18 (arithmetic).
func TestTheLeastTimeCountsTheAscent(t *testing.T) {
	for least, forbidden := range map[int]bool{15: false, 18: false, 19: true} {
		c, err := gas.Rated(80*units.CubicFoot, 3000*units.PSI, gas.IdealGas)
		require.NoError(t, err)
		v := gas.Diver{Cylinder: c, Start: units.Read(3050, units.UnitPSI), Rate: 25 * units.LitrePerMinute}
		p, err := gas.PlanGroup(gas.Dive{Depth: 80 * units.Foot, Planned: 12 * time.Minute,
			Least: time.Duration(least) * time.Minute}, []gas.Diver{v, v}, gas.DefaultSettings())
		require.NoError(t, err)
		require.Equal(t, 12*time.Minute, p.LatestAscent, "the gas lasts as long as planned")
		require.Equal(t, forbidden, p.Findings.Forbids(), "%d min: %v", least, p.Findings)
		if forbidden {
			require.Contains(t, p.Findings.Of(gas.TimeBelowLeast)[0].Message,
				"12 min, and the ascent takes 6 min: 18 min from time in to time out")
		}
	}
}
