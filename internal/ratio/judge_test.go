package ratio_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/published"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// own is a centre's book with one line for open water at entry level.
func own(id string, places ...int) ratio.Book {
	return ratio.Book{
		ID: id, Title: "House rules", Kind: ratio.Own, Source: "set by the centre", Status: ratio.Set,
		Version: "1",
		Lines: []ratio.Line{{
			Title: "everybody", Settings: []ratio.Setting{ratio.Open}, Levels: []ratio.Level{ratio.EntryLevel},
			Places: places,
		}},
	}
}

func TestTheStrictestBookCounts(t *testing.T) {
	g := group(ratio.Open, ratio.EntryLevel, 2, aged(5, 30)...)
	for _, ids := range [][]string{{"general-open", "france"}, {"france", "general-open"}} {
		v := ratio.Judge(books(t, ids...), g)
		require.Equal(t, 4, v.Places)
		require.Equal(t, "france", v.Book)
		require.Contains(t, v.Findings.Of(ratio.TooManyStudents)[0].Source, "Code du sport")
	}
}

func TestAMissingFigureAddsNoPlaces(t *testing.T) {
	v := ratio.Judge([]ratio.Book{own("house", 8, 10)}, group(ratio.Open, ratio.EntryLevel, 2, aged(10, 30)...))
	require.Equal(t, 10, v.Places)
	require.Empty(t, v.Findings)
}

func TestSilenceOnWaterIsARefusal(t *testing.T) {
	for _, c := range []struct {
		name string
		ids  []string
		g    ratio.Group
	}{
		{"no book at all", nil, group(ratio.Open, ratio.EntryLevel, 0, 30)},
		{"a book for other water", []string{"general-open"}, group(ratio.Confined, ratio.EntryLevel, 0, 30)},
		{"a book for another level", []string{"general-open"}, group(ratio.Open, ratio.Introductory, 0, 30)},
		{"a book for adults, and a child", []string{"general-open"},
			group(ratio.Open, ratio.EntryLevel, 0, 30, 14)},
		{"a book for minors, and an adult", []string{"general-minors"},
			group(ratio.Open, ratio.EntryLevel, 0, 30, 14)},
		{"minors' limit alone is no permission", []string{"general-minors"},
			group(ratio.Open, ratio.Introductory, 0, 14)},
		{"a law that names no age, and a child under 10", []string{"france"},
			group(ratio.Open, ratio.Introductory, 0, 9)},
		{"an unknown setting", []string{"general-open"}, group("lake", ratio.EntryLevel, 0, 30)},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := ratio.Judge(books(t, c.ids...), c.g)
			require.Zero(t, v.Places)
			require.Len(t, v.Findings.Of(ratio.NoNumber), 1)

			c.g.Ages = nil
			require.False(t, ratio.Judge(books(t, c.ids...), c.g).Findings.Forbids(),
				"an empty group is allowed")
		})
	}
}

func TestTheoryHasNoRatio(t *testing.T) {
	v := ratio.Judge(nil, ratio.Group{Setting: ratio.Theory, Level: ratio.EntryLevel, Ages: aged(200, 9)})
	require.Equal(t, ratio.Unlimited, v.Places)
	require.Empty(t, v.Findings)
}

func TestAnEmptyGroupSaysWhatItWillHold(t *testing.T) {
	for _, c := range []struct {
		name   string
		ids    []string
		places int
	}{
		{"general practice holds adults", ratio.GeneralPractice(), 8},
		{"a minors' book alone holds minors", []string{"general-minors"}, 4},
		{"no book holds nobody", nil, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := ratio.Judge(books(t, c.ids...), group(ratio.Open, ratio.EntryLevel, 0))
			require.Equal(t, c.places, v.Places)
			require.False(t, v.Findings.Forbids())
		})
	}
}

func TestALimitIsLoweredNeverRaised(t *testing.T) {
	for _, c := range []struct {
		name    string
		lowered int
		places  int
		rule    *finding.Rule
	}{
		{"lowered to 4", 4, 4, &ratio.AboveLoweredLimit},
		{"lowered to nobody", 0, 0, &ratio.AboveLoweredLimit},
		{"below nobody is nobody", -3, 0, &ratio.AboveLoweredLimit},
		{"the same", 8, 8, nil},
		{"not raised", 20, 8, &ratio.LimitNotRaised},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := group(ratio.Open, ratio.EntryLevel, 0, aged(6, 30)...)
			g.LoweredTo = &c.lowered
			v := ratio.Judge(books(t, "general-open"), g)
			require.Equal(t, c.places, v.Places)
			if c.rule == nil {
				require.Empty(t, v.Findings)
				return
			}
			require.Len(t, v.Findings, 1)
			require.Len(t, v.Findings.Of(*c.rule), 1)
		})
	}
}

// Thresholds: ISO 24801-3:2014 clause 11.3 (seen).
func TestDemandingConditions(t *testing.T) {
	bound := published.DemandingConditions(t)
	vis := func(m float64) ratio.Conditions { return ratio.Conditions{Visibility: metres(m)} }
	cur := func(x float64) ratio.Conditions {
		s := units.Speed(x) * units.MetrePerSecond
		return ratio.Conditions{Current: &s}
	}
	temp := func(c float64) ratio.Conditions { k := units.Celsius(c); return ratio.Conditions{Temperature: &k} }
	fewer := own("house", 8)
	fewer.Lines[0].Conditions = []ratio.Condition{
		{Text: "2 fewer below 5 m", Cause: ratio.Visibility, Beyond: units.Read(5, units.UnitMetre), Fewer: 2},
		{Text: "3 fewer in a current", Cause: ratio.Current, Fewer: 3},
	}
	for _, c := range []struct {
		name     string
		water    ratio.Conditions
		demands  bool
		fewerCap int // by the own book
	}{
		{"the bound of visibility itself", vis(bound["visibility"].Bound), false, 6},
		{"a little less", vis(bound["visibility"].Bound - 0.1), true, 6},
		{"5 m are not below the centre's 5 m", vis(5), false, 8},
		{"the bound of a current itself", cur(bound["current"].Bound), false, 8},
		{"a little more", cur(bound["current"].Bound + 0.05), true, 5},
		{"the bound of cold itself", temp(bound["temperature"].Bound), false, 8},
		{"a degree colder", temp(bound["temperature"].Bound - 1), true, 8},
		{"nothing measured", ratio.Conditions{}, false, 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := group(ratio.Open, ratio.EntryLevel, 0, 30)
			g.Conditions = c.water
			v := ratio.Judge(books(t, "general-open"), g)
			require.Equal(t, 8, v.Places, "no figure takes no place away")
			require.Equal(t, c.demands, len(v.Findings.Of(ratio.ConditionOfBook)) == 1)

			v = ratio.Judge([]ratio.Book{fewer}, g)
			require.Equal(t, c.fewerCap, v.Places)
			require.Equal(t, c.fewerCap < 8, len(v.Findings.Of(ratio.ReducedByConditions)) == 1)
			coldOnly := c.demands && c.water.Temperature != nil
			require.Equal(t, coldOnly, len(v.Findings.Of(ratio.DemandingConditions)) == 1,
				"no line of the book names cold")
		})
	}
}

// Queensland, guidance film (seen): lower for low ability, poor understanding
// of the language, poor visibility, strong current, rough surface; no figures.
func TestConditionsWithoutAFigureAreCautions(t *testing.T) {
	g := group(ratio.Open, ratio.Introductory, 0, 30)
	v := ratio.Judge(books(t, "queensland-introductory"), g)
	require.Len(t, v.Findings.Of(ratio.ConditionOfBook), 3)
	require.Len(t, v.Findings.Only(finding.Caution), 3)
	g.Conditions.Visibility = metres(1)
	v = ratio.Judge(books(t, "queensland-introductory"), g)
	require.Len(t, v.Findings.Of(ratio.ConditionOfBook), 4)
	require.Equal(t, 4, v.Places)
}

func TestCuresSayWhatWouldHelp(t *testing.T) {
	messages := func(g ratio.Group, b ...ratio.Book) []string {
		var out []string
		for _, c := range ratio.Judge(b, g).Findings.Of(ratio.TooManyStudents)[0].Cures {
			out = append(out, c.Message)
		}
		return out
	}
	open := books(t, "general-open")
	other := "Create another group with another instructor."
	require.Equal(t, []string{"Add 1 assistant: the limit becomes 10.", "Move 1 student to another group.",
		other},
		messages(group(ratio.Open, ratio.EntryLevel, 0, aged(9, 30)...), open...))
	require.Equal(t, []string{"Add 2 assistants: the limit becomes 12.", "Move 3 students to another group.",
		other},
		messages(group(ratio.Open, ratio.EntryLevel, 0, aged(11, 30)...), open...))
	require.Equal(t, []string{"Add 1 assistant: the limit becomes 10.", "Move 12 students to another group.",
		other},
		messages(group(ratio.Open, ratio.EntryLevel, 0, aged(20, 30)...),
			open...), "no crew takes 20, an assistant still helps")
	require.Equal(t, []string{"Move 1 student to another group.", other},
		messages(group(ratio.Open, ratio.EntryLevel, 2, aged(13, 30)...), open...), "assistants no longer help")
}

func TestCuresForTooManyYoungSayHowManyAssistants(t *testing.T) {
	for young, want := range map[int]string{
		3: "Add 1 assistant: the crew may then take 4 students under 12.",
		4: "Add 1 assistant: the crew may then take 4 students under 12.",
		5: "Add 2 assistants: the crew may then take 6 students under 12.",
	} {
		v := ratio.Judge(books(t, "general-minors"), group(ratio.Open, ratio.EntryLevel, 0, aged(young, 11)...))
		require.Equal(t, want, v.Findings.Of(ratio.TooManyYoung)[0].Cures[0].Message)
	}
}

func TestAVerdictNamesItsSubjectAndEditions(t *testing.T) {
	g := group(ratio.Open, ratio.EntryLevel, 0, aged(9, 30)...)
	g.Subject, g.Uncounted = finding.Subject{Type: "group", ID: "g1"}, 1
	v := ratio.Judge(books(t, ratio.GeneralPractice()...), g)
	require.Equal(t, []ratio.Edition{{"general-open", "1"}, {"general-confined", "1"}, {"general-minors", "1"}},
		v.Editions())
	require.Len(t, v.Findings, 2)
	for _, f := range v.Findings {
		require.Equal(t, []finding.Subject{{Type: "group", ID: "g1"}}, f.Subjects)
	}
}

func TestNoInstructorNoStudents(t *testing.T) {
	g := group(ratio.Confined, ratio.EntryLevel, 3, 30)
	g.Instructor = false
	v := ratio.Judge(books(t, "general-confined"), g)
	require.Zero(t, v.Places)
	require.Len(t, v.Findings.Of(ratio.NoInstructor), 1)
}

func TestAGroupWithinItsLimitCostsNoAllocation(t *testing.T) {
	applied := books(t, ratio.GeneralPractice()...)
	g := group(ratio.Open, ratio.EntryLevel, 0, aged(8, 30)...)
	require.Zero(t, testing.AllocsPerRun(100, func() { ratio.Judge(applied, g) }))
}

func BenchmarkJudge(b *testing.B) {
	applied := books(b, ratio.GeneralPractice()...)
	for name, n := range map[string]int{"allowed": 8, "refused": 9} {
		g := group(ratio.Open, ratio.EntryLevel, 0, aged(n, 30)...)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				ratio.Judge(applied, g)
			}
		})
	}
}
