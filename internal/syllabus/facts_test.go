package syllabus_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// The drills with a measurable criterion, against published instructor manuals
// (the figures were read there) and common practice.
func TestCriteriaAreThoseOfTheTrade(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, c := range []struct {
		skill, measure string
		want           syllabus.Quantity
		source         string
	}{
		{"swim", "swim-without-aids", metres(200), "watermanship, common practice"},
		{"swim", "swim-with-snorkel", metres(300), "watermanship, common practice"},
		{"float", "time-afloat", minutes(10), "watermanship, common practice"},
		{"free-flow", "time-breathing", seconds(30), "manuals: at least 30 s"},
		{"hover", "time-hovering", seconds(30), "manuals: at least 30 s"},
		{"no-mask", "swim-without-mask", metres(15), "manuals: 15 m"},
		{"no-mask", "time-without-mask", minutes(1), "manuals: or 1 min"},
		{"gas-receiving", "time-sharing", seconds(60), "manuals: at least 1 min while swimming"},
		{"gas-giving", "time-sharing", seconds(60), "manuals: at least 1 min while swimming"},
		{"gas-receiving-open", "time-sharing", seconds(60), "manuals: at least 1 min while swimming"},
		{"gas-giving-open", "time-sharing", seconds(60), "manuals: at least 1 min while swimming"},
		{"safety-stop", "stop-time", minutes(3), "common practice: 3 min at 5 m"},
		{"own-dive", "end-pressure", syllabus.QuantityOf(50, units.UnitBar),
			"common practice: end with 50 bar"},
	} {
		t.Run(c.skill+" "+c.measure, func(t *testing.T) {
			m := measure(t, s, c.skill, c.measure)
			require.NotNil(t, m.AtLeast)
			require.Zero(t, units.Reading(c.want).Compare(units.Reading(*m.AtLeast)), "%s: %s", c.source,
				m.AtLeast)
		})
	}
	for _, c := range []struct {
		skill, measure string
		want           syllabus.Quantity
		source         string
	}{
		{"emergency-ascent-open", "depth-from", metres(9),
			"one manual 9-12 m; 6-9 m common practice (memory): at most 9 m"},
		{"shared-ascent-open", "ascent-speed", syllabus.QuantityOf(9, units.UnitMPerMin),
			"common practice: 9 m/min"},
		{"safety-stop", "ascent-speed", syllabus.QuantityOf(9, units.UnitMPerMin), "common practice: 9 m/min"},
	} {
		m := measure(t, s, c.skill, c.measure)
		require.NotNil(t, m.AtMost, c.source)
		require.Equal(t, c.want, *m.AtMost, c.source)
	}
}

func measure(t *testing.T, s syllabus.Syllabus, skill, name string) syllabus.Measure {
	t.Helper()
	k := s.Skill(skill)
	require.NotNil(t, k, skill)
	all := k.Criterion.Measures
	for _, w := range k.Criterion.EitherOf {
		all = append(slices.Clone(all), w.Measures...)
	}
	i := slices.IndexFunc(all, func(m syllabus.Measure) bool { return m.Name == name })
	require.GreaterOrEqual(t, i, 0, name)
	return all[i]
}

// Instructor manuals (read): at least 4 dives of at least 15 min, 80 min in all,
// 5-18 m, at most 3 a day; dives 1-2 to 12 m, the rest to 18 m, under 12s to
// 12 m; from 10 years on, full grade at 15; confined water to 5 m.
func TestTrainingDivesAreThoseOfTheTrade(t *testing.T) {
	s := syllabus.BuiltIn()
	require.Len(t, s.Dives, 4)
	require.Equal(t, 3, s.MostDivesADay)
	require.Equal(t, minutes(80), s.LeastDiveTime)
	require.Equal(t, metres(5), s.ConfinedMaxDepth)
	require.EqualValues(t, 10, s.MinAge)
	require.EqualValues(t, 15, s.FullAge)
	for _, d := range s.Dives {
		require.Equal(t, minutes(15), d.LeastDuration)
		require.Equal(t, metres(5), d.LeastDepth)
	}
	for _, c := range []struct {
		dive int
		age  syllabus.Years
		site syllabus.Quantity
		want syllabus.Quantity
	}{
		{1, 30, metres(40), metres(12)},
		{2, 30, metres(40), metres(12)},
		{3, 30, metres(40), metres(18)},
		{4, 30, metres(40), metres(18)},
		{4, 12, metres(40), metres(18)},
		{3, 11, metres(40), metres(12)},
		{4, 10, metres(40), metres(12)},
		{4, 30, metres(9), metres(9)},
		{4, 30, syllabus.QuantityOf(30, units.UnitFoot), syllabus.QuantityOf(30, units.UnitFoot)},
		{4, 30, syllabus.Quantity{}, metres(18)},
		{0, 30, metres(40), metres(12)},
		{7, 30, metres(40), metres(12)},
	} {
		got := syllabus.DepthLimit(s, c.dive, c.age, c.site)
		require.Equal(t, c.want, got.Depth, "dive %d, age %d, site %s", c.dive, c.age, c.site)
		require.NotEmpty(t, got.Why)
		require.NotEmpty(t, got.Source)
	}
}

// A skill is met in confined water before it is tried in open water (common
// practice, read); an emergency ascent is not made on the first open-water dive
// (one manual, read); watermanship comes before the first one (read widely).
func TestOrderIsThatOfTheTrade(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, k := range s.Skills {
		if k.Setting == syllabus.Open {
			require.Subset(t, s.Before(k.Code), []string{"swim", "float"}, k.Code)
		}
		if k.Setting == syllabus.Open && k.TouchesGas {
			require.Equal(t, syllabus.Confined, s.Skill(k.Repeats).Setting, k.Code)
			require.Contains(t, s.Before(k.Code), k.Repeats)
		}
	}
	require.Equal(t, 2, s.Skill("emergency-ascent-open").EarliestDive)
	require.Subset(t, s.DiveBefore(1), []string{"swim", "float", "gas-receiving", "gas-giving"})
	for _, d := range s.Dives {
		require.Subset(t, s.DiveBefore(4), d.Prerequisites, "a later dive needs what an earlier one does")
	}
}

func TestEverythingThatTouchesGasIsMarked(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, code := range []string{"gauge-reading", "gas-report", "low-gas", "gas-receiving", "gas-giving",
		"shared-ascent", "free-flow",
		"gas-report-open", "low-gas-open", "gas-receiving-open", "gas-giving-open", "shared-ascent-open"} {
		require.True(t, s.Skill(code).TouchesGas, code)
		require.NotEqual(t, syllabus.Witnessed, s.Skill(code).Proof, code)
	}
	require.Equal(t, []syllabus.Role{syllabus.Donor}, s.Skill("gas-giving").Roles)
	require.Equal(t, []syllabus.Role{syllabus.Receiver}, s.Skill("gas-receiving").Roles)
}

func TestEveryFigureNamesItsSource(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, p := range s.Theory {
		require.NotEmpty(t, p.Source, p.Code)
	}
	for _, d := range s.Dives {
		require.NotEmpty(t, d.Source, d.Number)
	}
	for _, k := range s.Skills {
		require.NotEmpty(t, k.Criterion.Source, k.Code)
	}
	for _, figure := range []string{"min_age", "full_age", "confined_max_depth", "most_dives_a_day",
		"least_dive_time", "evidence_days", "signer_papers"} {
		require.NotEmpty(t, s.Sources[figure], figure)
	}
}

// The number of points that a question paper has is our choice; that the mark
// itself passes is common practice.
func TestAMarkPassesFromThePassMarkOn(t *testing.T) {
	p := *syllabus.BuiltIn().TheoryPart("pressure")
	require.True(t, syllabus.Passed(p, percent(75)))
	require.True(t, syllabus.Passed(p, percent(100)))
	require.False(t, syllabus.Passed(p, percent(74.99)))
	require.False(t, syllabus.Passed(p, syllabus.CountOf(90)), "a count of points is no percentage")
	require.False(t, syllabus.Passed(p, syllabus.Quantity{}))
}

func TestRulesAreComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range syllabus.Rules() {
		require.False(t, seen[r.ID], r.ID)
		seen[r.ID] = true
		require.Regexp(t, `^syllabus\.[a-z_]+$`, r.ID)
		require.NotEmpty(t, r.Title)
		require.NotEmpty(t, r.Text)
		require.NotEmpty(t, r.Source)
		require.Contains(t, []finding.Severity{finding.Forbidden, finding.Caution, finding.Note}, r.Severity)
	}
	require.Len(t, seen, len(declared(t)), "every rule that is declared is listed")
}
