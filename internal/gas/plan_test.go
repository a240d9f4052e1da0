package gas_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/published"
	"tankside/internal/units"
)

// fourPeople is an instructor with three students on an ordinary training
// dive. Invented people.
func fourPeople(t testing.TB) (gas.Dive, []gas.Diver) {
	c := rated(t, 77.4, 3000, gas.RealGas)
	who := func(id, name string, rate float64, start units.Reading) gas.Diver {
		return gas.Diver{Subject: finding.Subject{Type: "participant", ID: id}, Name: name, Cylinder: c,
			Rate: units.Rate(rate), Start: start}
	}
	return gas.Dive{Depth: 12, Planned: 25 * time.Minute, Least: 15 * time.Minute, SiteDepth: 20}, []gas.Diver{
		who("p1", "Mara", 14, barReading(205)), who("p2", "Ilse", 18, barReading(200)),
		who("p3", "Teo", 25, psiReading(2900)), who("p4", "Juno", 20, barReading(190)),
	}
}

func TestAnOrdinaryPlanHasNoFindings(t *testing.T) {
	d, divers := fourPeople(t)
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Empty(t, p.Findings)
	require.Equal(t, 2, p.Limiting, "who breathes most")
	require.Equal(t, 2, p.People[0].SharesWith)
	require.Equal(t, 1, p.People[2].SharesWith-2, "Teo's thirstiest partner is Juno")
	require.Equal(t, p.LatestAscent, p.People[2].GasTime)
	require.Equal(t, units.UnitPSI, p.People[2].Low.Unit)
	require.Equal(t, p.People[0].Low, p.People[0].Turn, "all usable: they are one pressure")
}

// Each finding comes with its limit, what was found, and a cure, and is about
// the person it concerns. The figures found were reckoned by hand: two stressed
// divers need 596 L from 12 m, which is 53.9 bar of this 11.07 L cylinder, and
// 25 L/min at 12 m are 55 L a minute.
func TestFindings(t *testing.T) {
	noStop := 20 * time.Minute
	for _, c := range []struct {
		name     string
		change   func(*gas.Dive, []gas.Diver, *gas.Settings)
		rule     finding.Rule
		severity finding.Severity
		subject  string // "" for the group
		limit    string
		found    string
	}{
		{"deeper than the site", func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.SiteDepth = 10 },
			gas.DepthOverSite, finding.Forbidden, "", "10 m", "12 m"},
		{"a child's limit", func(d *gas.Dive, v []gas.Diver, _ *gas.Settings) {
			v[1].Limits = []gas.DepthLimit{{Max: 18, Because: "training dive 3"},
				{Max: 10, Because: "aged 11", Source: "the organisation's manual"}}
		}, gas.DepthOverPerson, finding.Forbidden, "p2", "10 m", "12 m"},
		{"a short fill", func(d *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[3].Start = barReading(60) },
			gas.StartAtLowGas, finding.Forbidden, "p4", "65 bar", "60 bar"},
		{"too little for the least duration",
			func(d *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[3].Start = barReading(100) },
			gas.TimeBelowLeast, finding.Forbidden, "p4", "15 min", "14 min"}, // 9 min of gas and 5 min of ascent
		{"beyond the no-stop limit", func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.NoStop = &noStop },
			gas.OverNoStop, finding.Forbidden, "", "20 min", "25 min"},
		{"too rich a mix", func(d *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[0].Mix = 0.80 },
			gas.OxygenOverLimit, finding.Forbidden, "p1", "7.5 m", "12 m"},
		{"too much oxygen today",
			func(d *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[0].Mix, v[0].OxygenToday = 0.36, 0.95 },
			gas.OxygenTooLong, finding.Forbidden, "p1", "100 %", "100.56 %"},
		{"planned longer than the gas",
			func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.Planned = 30 * time.Minute },
			gas.TimeBelowPlanned, finding.Caution, "p3", "30 min", "25 min"},
		{"murky", func(d *gas.Dive, _ []gas.Diver,
			_ *gas.Settings) {
			d.Visibility = units.Read(1.5, units.UnitMetre)
		},
			gas.DemandingConditions, finding.Caution, "", "2 m", "1.5 m"},
		{"a current", func(d *gas.Dive, _ []gas.Diver,
			_ *gas.Settings) {
			d.Current = units.Read(0.3, units.UnitMPerSec)
		},
			gas.DemandingConditions, finding.Caution, "", "0.25 m/s", "0.3 m/s"},
		{"cold", func(d *gas.Dive, _ []gas.Diver,
			_ *gas.Settings) {
			d.Water = units.Read(48, units.UnitFahren)
		},
			gas.DemandingConditions, finding.Caution, "", "50 °F", "48 °F"},
		{"no stop planned", func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Ascent.StopFor = 0 },
			gas.NoSafetyStop, finding.Caution, "", "3 min at 5 m", "none"},
		{"back with too little",
			func(d *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Stress, d.Planned = 1, 28*time.Minute },
			gas.EndBelow50, finding.Caution, "p3", "725.19 psi", "500 psi"},
		{"overfilled, or psi taken for bar",
			func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[0].Start = barReading(240) },
			gas.OverFilled, finding.Caution, "p1", "206.84 bar", "240 bar"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, divers := fourPeople(t)
			s := gas.DefaultSettings()
			c.change(&d, divers, &s)
			f := planned(t, d, divers, s).Findings.Of(c.rule)
			require.Len(t, f, 1)
			require.Equal(t, c.severity, f[0].Severity)
			require.Equal(t, c.limit, f[0].Limit.Text)
			require.Equal(t, c.found, f[0].Found.Text)
			require.NotEmpty(t, f[0].Cures)
			require.NotEmpty(t, f[0].Source)
			require.NotRegexp(t, `\bsafe\b`, f[0].Message)
			if c.subject == "" {
				require.Empty(t, f[0].Subjects)
			} else {
				require.Equal(t, c.subject, f[0].Subjects[0].ID)
			}
		})
	}
}

// On its limit a plan passes; a hair beyond it does not. ISO 24801-3:2014,
// clause 11.3, says "under 2 m", "over 0.25 m/s", "under 10 °C".
func TestLimitsThemselvesPass(t *testing.T) {
	d, divers := fourPeople(t)
	limit := 25 * time.Minute
	d.SiteDepth, d.NoStop = 12, &limit
	bound := published.DemandingConditions(t)
	d.Visibility = units.Read(bound["visibility"].Bound, units.UnitMetre)
	d.Current = units.Read(bound["current"].Bound, units.UnitMPerSec)
	d.Water = units.Read(bound["temperature"].Bound, units.UnitCelsius)
	divers[0].Limits = []gas.DepthLimit{{Max: 12, Because: "training dive 1"}}
	require.Empty(t, planned(t, d, divers, gas.DefaultSettings()).Findings)
}

// A reading at or below the low-gas pressure has reached it: so has a start.
func TestAStartOnTheAgreedPressureIsForbidden(t *testing.T) {
	d, divers := fourPeople(t)
	low := planned(t, d, divers, gas.DefaultSettings()).People[0].Low
	divers[0].Start = low
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Len(t, p.Findings.Of(gas.StartAtLowGas), 1)
}

func TestANoStopLimitOfNothingIsALimit(t *testing.T) {
	d, divers := fourPeople(t)
	d.NoStop = new(time.Duration)
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Len(t, p.Findings.Of(gas.OverNoStop), 1)
	require.Zero(t, p.LatestAscent)
}

func TestTheTurnRuleMayShortenTheDive(t *testing.T) {
	d, divers := fourPeople(t)
	s := gas.DefaultSettings()
	s.Rule = gas.Thirds
	p := planned(t, d, divers, s)
	require.Equal(t, p.LatestAscent, 2*p.TurnAfter, "back when the way out took as long")
	require.Len(t, p.Findings.Of(gas.TimeBelowPlanned), 1)
	require.Empty(t, p.Findings.Of(gas.TimeBelowPlanned)[0].Subjects)
}

// Unlike cylinders: all turn on the same volume, that of the controlling diver.
// Cave-diving gas matching, as in the pages of rows W31 and W32.
func TestUnlikeCylindersTurnOnTheSameVolume(t *testing.T) {
	d, divers := fourPeople(t)
	divers[0].Cylinder = sized(t, 12, 232).Twin()
	divers[1].Cylinder = sized(t, 7, 232)
	s := gas.DefaultSettings()
	s.Law, s.Rule = gas.IdealGas, gas.Thirds
	p := planned(t, d, divers, s)
	require.Equal(t, 1, p.Controlling)
	for i, w := range p.People {
		fall := float64((w.Start - w.TurnExact) * units.Pressure(divers[i].Cylinder.Water()))
		require.InDelta(t, float64(p.People[1].Usable)/3*1.01325, fall, 1e-4)
	}
}

func TestGasIsSharedWithinTheTeam(t *testing.T) {
	d, divers := fourPeople(t)
	divers[1].Team, divers[2].Team, divers[3].Team = 1, 2, 1
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Equal(t, 2, p.People[0].SharesWith, "the instructor, in no team, with anybody")
	require.Equal(t, 3, p.People[1].SharesWith, "Ilse with Juno, not with Teo of the other team")
	require.Equal(t, 0, p.People[2].SharesWith, "Teo's only partner is the instructor")
}

func TestColdWaterTakesPressureAndWarmWaterGivesNone(t *testing.T) {
	d, divers := fourPeople(t)
	divers[0].FilledAt = units.Read(40, units.UnitCelsius)
	d.Water = units.Read(10, units.UnitCelsius)
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Less(t, float64(p.People[0].Start), 0.9*205.0)
	divers[0].FilledAt = units.Read(5, units.UnitCelsius)
	p = planned(t, d, divers, gas.DefaultSettings())
	require.InDelta(t, 205, float64(p.People[0].Start), 1e-9)
}

func TestImpossibleInputIsAnErrorThatSaysWhat(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*gas.Dive, []gas.Diver, *gas.Settings)
		what   string
		diver  int
	}{
		"psi taken for bar": {func(_ *gas.Dive, v []gas.Diver,
			_ *gas.Settings) {
			v[1].Start = barReading(2900)
		}, "start pressure of Ilse", 1},
		"a start in metres": {func(_ *gas.Dive, v []gas.Diver,
			_ *gas.Settings) {
			v[1].Start = units.Read(20, units.UnitMetre)
		}, "start pressure of Ilse", 1},
		"no cylinder": {func(_ *gas.Dive, v []gas.Diver,
			_ *gas.Settings) {
			v[2].Cylinder = gas.Cylinder{}
		}, "water volume of the cylinder of Teo", 2},
		"a rate of nobody": {func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[0].Rate = 2 },
			"breathing rate of Mara", 0},
		"less oxygen than air": {func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) { v[0].Mix = 0.1 },
			"oxygen in the mix of Mara", 0},
		"a gauge in feet": {func(_ *gas.Dive, v []gas.Diver,
			_ *gas.Settings) {
			v[0].Gauge = units.UnitFoot
		}, "gauge of Mara", 0},
		"a team of one": {func(_ *gas.Dive, v []gas.Diver, _ *gas.Settings) {
			v[0].Team, v[1].Team, v[2].Team, v[3].Team = 1, 1, 2, 1
		}, "team of Teo", 2},
		"mean below the deepest": {func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.Mean = 13 },
			"mean depth", -1},
		"not a depth": {func(d *gas.Dive, _ []gas.Diver,
			_ *gas.Settings) {
			d.Depth = units.Depth(math.NaN())
		}, "depth", -1},
		"nothing planned": {func(d *gas.Dive, _ []gas.Diver, _ *gas.Settings) { d.Planned = 0 },
			"planned time", -1},
		"no stress at all": {func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Stress = 0 },
			"stress factor", -1},
		"an ascent like a cork": {func(_ *gas.Dive, _ []gas.Diver, s *gas.Settings) { s.Ascent.Speed = 60 },
			"ascent rate", -1},
		"a current in degrees": {func(d *gas.Dive, _ []gas.Diver,
			_ *gas.Settings) {
			d.Current = units.Read(3, units.UnitCelsius)
		}, "current", -1},
	} {
		t.Run(name, func(t *testing.T) {
			d, divers := fourPeople(t)
			s := gas.DefaultSettings()
			c.change(&d, divers, &s)
			_, err := gas.PlanGroup(d, divers, s)
			var out *gas.OutOfRange
			require.ErrorAs(t, err, &out)
			require.Equal(t, c.what, out.What)
			require.Equal(t, c.diver, out.Diver)
			require.NotEmpty(t, out.Cure)
		})
	}
	d, divers := fourPeople(t)
	_, err := gas.PlanGroup(d, divers[:1], gas.DefaultSettings())
	require.ErrorContains(t, err, "two or more; add the partner")
}

func TestRulesAreListedOnceWithSources(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range gas.Rules() {
		require.False(t, seen[r.ID], r.ID)
		seen[r.ID] = true
		require.NotEmpty(t, r.Title)
		require.NotEmpty(t, r.Text)
		require.NotEmpty(t, r.Source)
	}
}
