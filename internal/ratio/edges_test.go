package ratio_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// cures returns the codes and messages of the cures of the one finding of that rule.
func cures(t *testing.T, v ratio.Verdict, r finding.Rule) map[string]string {
	t.Helper()
	found := v.Findings.Of(r)
	require.Len(t, found, 1)
	out := map[string]string{}
	for _, c := range found[0].Cures {
		out[c.Code] = c.Message
	}
	return out
}

// A cause that no line of any book names is asked about by the service, by the thresholds of ISO 24801-3:2014
// clause 11.3; one that a line names is the line's. So naming one cause silences none of the others.
func TestACauseThatABookNamesSilencesThatCauseAlone(t *testing.T) {
	bad := ratio.Conditions{Visibility: metres(1)}
	current, cold := 0.5*units.MetrePerSecond, units.Celsius(4)
	bad.Current, bad.Temperature = &current, &cold
	all := []ratio.Cause{ratio.Visibility, ratio.Current, ratio.Cold}
	for _, named := range all {
		house := own("house", 8)
		house.Lines[0].Conditions = []ratio.Condition{{Text: "the instructor decides", Cause: named}}
		g := group(ratio.Open, ratio.EntryLevel, 0, 30)
		g.Conditions = bad
		var asked []ratio.Cause
		for _, f := range ratio.Judge([]ratio.Book{house}, g).Findings.Of(ratio.DemandingConditions) {
			asked = append(asked, ratio.Cause(f.Params["cause"].(string)))
		}
		var others []ratio.Cause
		for _, c := range all {
			if c != named {
				others = append(others, c)
			}
		}
		require.Equal(t, others, asked, "the book names %s", named)
	}
}

// In a pool an instructor at the side is one of the crew who do not dive; in open water that is a caution of its own.
func TestCrewAshoreAreCountedWithTheLeaderInAPoolAlone(t *testing.T) {
	for water, want := range map[ratio.Setting]string{
		ratio.Confined: "Crew who count and do not dive: 3.",
		ratio.Open:     "Crew who count and do not dive: 2.",
	} {
		g := group(water, ratio.EntryLevel, 2, 30)
		g.Ashore, g.NotDiving = true, 2
		found := ratio.Judge(books(t, "general-open", "general-confined"), g).Findings.Of(ratio.CrewNotDiving)
		require.Len(t, found, 1)
		require.Contains(t, found[0].Message, want)
	}
	g := group(ratio.Confined, ratio.EntryLevel, 0, 30)
	g.Ashore = true
	found := ratio.Judge(books(t, "general-confined"), g).Findings.Of(ratio.CrewNotDiving)
	require.Len(t, found, 1)
	require.Contains(t, found[0].Message, "Crew who count and do not dive: 1.")
	require.InDelta(t, 1, found[0].Params["crew"], 0)
}

func TestAFindingSaysWhetherItsFiguresAreFromMemory(t *testing.T) {
	for status, want := range map[ratio.Status]bool{ratio.Seen: false, ratio.Memory: true, ratio.Set: false} {
		house := own("house", 1)
		house.Status = status
		v := ratio.Judge([]ratio.Book{house}, group(ratio.Open, ratio.EntryLevel, 0, 30, 30))
		source := v.Findings.Of(ratio.TooManyStudents)[0].Source
		require.Equal(t, want, strings.HasSuffix(source, "(figures from memory)"), source)
	}
}

// Books are applied in the order in which the centre names them; of two as strict as one another the first is named.
func TestOfTwoBooksAsStrictTheFirstIsNamed(t *testing.T) {
	first, second := own("first", 4), own("second", 4)
	first.Title, second.Title = "First", "Second"
	first.Lines[0].MaxDepth, second.Lines[0].MaxDepth = 12, 12
	both := []ratio.Book{first, second}
	require.Equal(t, "first", ratio.Judge(both, group(ratio.Open, ratio.EntryLevel, 0, 30)).Book)
	require.Equal(t, "First, everybody", ratio.DepthLimit(both, ratio.Open, ratio.EntryLevel, 30).Why)
}

// A limit lowered to what the books allow anyway lowers nothing: the books refuse the ninth student, not the instructor.
func TestALoweredLimitIsNamedOnlyWhereItIsTheLower(t *testing.T) {
	judge := func(n, lowered int) ratio.Verdict {
		g := group(ratio.Open, ratio.EntryLevel, 0, aged(n, 30)...)
		g.LoweredTo = &lowered
		return ratio.Judge(books(t, "general-open"), g)
	}
	v := judge(9, 8)
	require.Len(t, v.Findings.Of(ratio.TooManyStudents), 1)
	require.Empty(t, v.Findings.Of(ratio.AboveLoweredLimit))

	require.False(t, judge(4, 4).Findings.Forbids(), "as many as the instructor takes")
	v = judge(7, 4)
	require.Equal(t, "Move 3 students to another group.", cures(t, v, ratio.AboveLoweredLimit)["move_student"])
}

// What is wrong for another reason does not make wrong what stands exactly on a limit: one training organisation's
// instructor manual, 2024 (seen), lets a child dive from 10, two under-12s for each of the crew.
func TestNothingElseIsFoundAgainstWhatStandsOnALimit(t *testing.T) {
	for name, ages := range map[string][]int{"aged 10": {10}, "two under 12": {10, 11},
		"one of 15 beside one of 11": {11, 15}} {
		g := group(ratio.Open, ratio.EntryLevel, 0, ages...)
		g.Instructor = false
		v := ratio.Judge(books(t, ratio.GeneralPractice()...), g)
		require.Len(t, v.Findings, 1, name)
		require.Len(t, v.Findings.Of(ratio.NoInstructor), 1, name)
	}
}

// A line may speak of the young alone in order to keep them out. Of an empty group it says nothing: nobody is too young.
func TestNobodyIsTooYoungInAnEmptyGroup(t *testing.T) {
	house := own("house", 4)
	house.Lines[0].AgeTo, house.Lines[0].MinAge = 12, 14
	require.NoError(t, ratio.Validate(house))
	g := group(ratio.Open, ratio.EntryLevel, 0)
	g.Instructor = false // so that the composition is looked at
	require.Empty(t, ratio.Judge([]ratio.Book{house}, g).Findings.Of(ratio.BelowMinimumAge))
	g.Ages = []int{12}
	require.Len(t, ratio.Judge([]ratio.Book{house}, g).Findings.Of(ratio.BelowMinimumAge), 1)
}

// A line that only limits permits nobody, so an empty group has no figure of it.
func TestALineThatOnlyLimitsSetsNoFigureForAnEmptyGroup(t *testing.T) {
	v := ratio.Judge(books(t, "general-minors"), group(ratio.Open, ratio.Introductory, 0))
	require.Empty(t, v.Book)
	require.Zero(t, v.Places)
}

// The older manual's 10 and 4 more for each assistant (one training organisation, seen): 42 is what 8 assistants take.
// That at most 8 are advised is our choice; beyond, what one would add is said.
func TestAtMostEightAssistantsAreAdvised(t *testing.T) {
	advice := func(n int) string {
		g := group(ratio.Confined, ratio.EntryLevel, 0, aged(n, 30)...)
		return cures(t, ratio.Judge(books(t, "general-confined-wide"), g),
			ratio.TooManyStudents)["add_assistant"]
	}
	require.Equal(t, "Add 1 assistant: the limit becomes 14.", advice(14), "exactly what one assistant adds")
	require.Equal(t, "Add 8 assistants: the limit becomes 42.", advice(42))
	require.Equal(t, "Add 1 assistant: the limit becomes 14.", advice(43))
}

// 6 and 8 with an assistant, 3 more for each beyond the last figure: 6/8/11/14.
func TestWhatIsAddedForEachAssistantBeginsAfterTheLastFigure(t *testing.T) {
	house := own("house", 6, 8)
	house.Lines[0].PerAssistant = 3
	for assistants, n := range []int{6, 8, 11, 14} {
		require.Equal(t, n, ratio.Judge([]ratio.Book{house},
			group(ratio.Open, ratio.EntryLevel, assistants, 30)).Places)
	}
}

func TestTheAgeOfWhichNoBookSpeaksIsNamedWhereverItStands(t *testing.T) {
	for _, ages := range [][]int{{14, 30}, {30, 14}} {
		v := ratio.Judge(books(t, "general-open"), group(ratio.Open, ratio.EntryLevel, 0, ages...))
		require.InDelta(t, 14, v.Findings.Of(ratio.NoNumber)[0].Params["age"], 0)
	}
}

// Two under-12s each, and then nobody else under 15: one training organisation's instructor manual, 2024 (seen).
func TestWhoIsToMoveFromTheYoungIsSaid(t *testing.T) {
	judge := func(ages ...int) ratio.Verdict {
		return ratio.Judge(books(t, "general-minors"), group(ratio.Open, ratio.EntryLevel, 0, ages...))
	}
	require.Equal(t, "Move 3 students under 12 to another group.",
		cures(t, judge(aged(5, 11)...), ratio.TooManyYoung)["move_student"])
	require.Equal(t, "Move the students under 12, or those from 12 to 14, to another group.",
		cures(t, judge(11, 13), ratio.YoungWithOthers)["move_student"])
}

func TestApplied(t *testing.T) {
	ids := func(books []ratio.Book, err error) []string {
		require.NoError(t, err)
		out := []string{}
		for _, b := range books {
			out = append(out, b.ID)
		}
		return out
	}
	house, broken := own("house", 6), own("house")
	require.Equal(t, []string{"france"}, ids(ratio.Applied([]string{"france"}, nil)))
	require.Equal(t, []string{"france", "house"}, ids(ratio.Applied([]string{"france"}, &house)),
		"the centre's own always counts")
	require.Equal(t, []string{"house", "france"}, ids(ratio.Applied([]string{"house", "france"}, &house)),
		"where it is named")
	_, err := ratio.Applied([]string{"house"}, nil)
	require.ErrorContains(t, err, `there is no rule book "house"`)
	_, err = ratio.Applied(nil, &broken)
	require.ErrorContains(t, err, "/lines/0/places")
}

// The bounds of what a book may say (our choice): the last value that is taken and the first that is not.
func TestTheBoundsOfABook(t *testing.T) {
	line := func(change func(*ratio.Line)) func(*ratio.Book) {
		return func(b *ratio.Book) { change(&b.Lines[0]) }
	}
	for pointer, c := range map[string]struct{ ok, not func(*ratio.Book) }{
		"/id": {
			func(b *ratio.Book) {
				b.ID = strings.Repeat("a",
					64)
			}, func(b *ratio.Book) { b.ID = strings.Repeat("a", 65) },
		},
		"/source": {
			func(b *ratio.Book) {
				b.Source = strings.Repeat("a",
					500)
			}, func(b *ratio.Book) { b.Source = strings.Repeat("a", 501) },
		},
		"/lines/0/places/0": {
			line(func(l *ratio.Line) { l.Places = []int{100} }), line(func(l *ratio.Line) { l.Places = []int{101} }),
		},
		"/lines/0/min_age": {
			line(func(l *ratio.Line) { l.MinAge = 120 }), line(func(l *ratio.Line) { l.MinAge = 121 }),
		},
		"/lines/0/max_depth": {
			line(func(l *ratio.Line) { l.MaxDepth = *metres(100) }), line(func(l *ratio.Line) { l.MaxDepth = *metres(100.1) }),
		},
	} {
		b := own("house", 8)
		c.ok(&b)
		require.NoError(t, ratio.Validate(b), pointer)
		c.not(&b)
		var flaws ratio.Flaws
		require.ErrorAs(t, ratio.Validate(b), &flaws, pointer)
		require.Len(t, flaws, 1)
		require.Equal(t, pointer, flaws[0].Pointer)
	}
}
