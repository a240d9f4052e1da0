package ratio_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/published"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// books selects built-in books.
func books(t require.TestingT, ids ...string) []ratio.Book {
	out, err := ratio.Select(ids, nil)
	require.NoError(t, err)
	return out
}

// aged gives n students of one age.
func aged(n, age int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = age
	}
	return out
}

// group is a group with an instructor.
func group(s ratio.Setting, l ratio.Level, assistants int, ages ...int) ratio.Group {
	return ratio.Group{Setting: s, Level: l, Ages: ages, Assistants: assistants, Instructor: true}
}

func metres(m float64) *units.Depth { d := units.Depth(m) * units.Metre; return &d }

// What the sources allow, in the form in which instructors say it: students
// over assistants, for one instructor.
func TestFiguresOfTheSources(t *testing.T) {
	for _, c := range published.Ratios(t) {
		t.Run(c.Book+" "+c.Level, func(t *testing.T) {
			allowed := func(students, assistants int) ratio.Verdict {
				return ratio.Judge(books(t, c.Book),
					group(ratio.Setting(c.Setting), ratio.Level(c.Level), assistants, aged(students, c.Age)...))
			}
			for assistants, n := range c.Places {
				v := allowed(n, assistants)
				require.Equal(t, n, v.Places, c.Source)
				require.False(t, v.Findings.Forbids(), c.Source)
				require.Equal(t, c.Book, v.Book)

				v = allowed(n+1, assistants)
				require.Equal(t, n, v.Places, c.Source)
				require.Len(t, v.Findings.Of(ratio.TooManyStudents), 1, c.Source)
			}
		})
	}
}

// The vectors in which the trade teaches the figure: students, assistants.
// Three training organisations' instructor manuals; Queensland guidance film;
// Code du sport, annex III-16a (all seen).
func TestVectors(t *testing.T) {
	for _, c := range []struct {
		name                 string
		book                 string
		level                ratio.Level
		students, assistants int
		ok                   bool
	}{
		{"open water 8/1/0", "general-open", ratio.EntryLevel, 8, 0, true},
		{"open water 9/1/0", "general-open", ratio.EntryLevel, 9, 0, false},
		{"open water 10/1/1", "general-open", ratio.EntryLevel, 10, 1, true},
		{"open water 11/1/1", "general-open", ratio.EntryLevel, 11, 1, false},
		{"open water 12/1/2", "general-open", ratio.EntryLevel, 12, 2, true},
		{"open water 13/1/3, never above 12", "general-open", ratio.EntryLevel, 13, 3, false},
		{"Queensland 4/1/0", "queensland-introductory", ratio.Introductory, 4, 0, true},
		{"Queensland 5/1/0", "queensland-introductory", ratio.Introductory, 5, 0, false},
		{"Queensland 6/1/1", "queensland-introductory", ratio.Introductory, 6, 1, true},
		{"Queensland 7/1/1", "queensland-introductory", ratio.Introductory, 7, 1, false},
		{"France, 4 beginners and a guide", "france", ratio.EntryLevel, 4, 1, true},
		{"France, 5 beginners and a guide", "france", ratio.EntryLevel, 5, 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := ratio.Judge(books(t, c.book),
				group(ratio.Open, c.level, c.assistants, aged(c.students, 30)...))
			require.Equal(t, c.ok, !v.Findings.Forbids())
			require.Equal(t, c.ok, c.students <= v.Places)
		})
	}
}

// One training organisation's instructor manual, 2024 (seen): with anyone aged
// 10 to 14 4/6/8; at most two under-12s for the instructor and each assistant,
// and then nobody else under 15.
func TestMinors(t *testing.T) {
	for _, c := range []struct {
		name       string
		assistants int
		ages       []int
		places     int
		forbidden  *finding.Rule
	}{
		{"four with one of 14", 0, []int{14, 30, 30, 30}, 4, nil},
		{"five with one of 14", 0, []int{14, 30, 30, 30, 30}, 4, &ratio.TooManyStudents},
		{"six with an assistant", 1, []int{12, 13, 14, 30, 30, 30}, 6, nil},
		{"seven with an assistant", 1, []int{12, 13, 14, 30, 30, 30, 30}, 6, &ratio.TooManyStudents},
		{"eight with two assistants", 2, aged(8, 13), 8, nil},
		{"nine with three assistants", 3, aged(9, 13), 8, &ratio.TooManyStudents},
		{"all of 15 are adults here", 0, aged(8, 15), 8, nil},
		{"two under 12 with two of 15", 0, []int{10, 11, 15, 15}, 4, nil},
		{"three under 12", 0, []int{10, 11, 11}, 0, &ratio.TooManyYoung},
		{"four under 12 with an assistant", 1, aged(4, 11), 6, nil},
		{"five under 12 with an assistant", 1, aged(5, 11), 0, &ratio.TooManyYoung},
		{"one of 11 beside one of 14", 0, []int{11, 14}, 0, &ratio.YoungWithOthers},
		{"one of 11 beside one of 12", 0, []int{11, 12}, 0, &ratio.YoungWithOthers},
		{"one of 12 beside one of 14", 0, []int{12, 14}, 4, nil},
		{"one of 9", 0, []int{9, 30}, 0, &ratio.BelowMinimumAge},
	} {
		for _, s := range []ratio.Setting{ratio.Confined, ratio.Open} {
			t.Run(c.name+" "+string(s), func(t *testing.T) {
				v := ratio.Judge(books(t, ratio.GeneralPractice()...),
					group(s, ratio.EntryLevel, c.assistants, c.ages...))
				require.Equal(t, c.places, v.Places)
				require.Equal(t, c.forbidden != nil, v.Findings.Forbids())
				if c.forbidden != nil {
					require.Len(t, v.Findings.Of(*c.forbidden), 1)
				}
			})
		}
	}
}

// Murcia, regional order of June 2015 (seen): from 12 years; 12 and 13 to 10 m.
func TestMurciaMinors(t *testing.T) {
	applied := books(t, "general-open", "general-minors", "murcia-minors")
	for _, c := range []struct {
		name      string
		depth     float64
		ages      []int
		places    int
		forbidden *finding.Rule
	}{
		{"two of 13 to 10 m", 10, aged(2, 13), 2, nil},
		{"two of 13 to 10.1 m", 10.1, aged(2, 13), 0, &ratio.TooDeep},
		{"two of 14 to 18 m", 18, aged(2, 14), 2, nil},
		{"three of 17", 18, aged(3, 17), 2, &ratio.TooManyStudents},
		{"one of 11", 10, []int{11}, 0, &ratio.BelowMinimumAge},
		{"eight adults", 18, aged(8, 18), 8, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := group(ratio.Open, ratio.EntryLevel, 0, c.ages...)
			g.MaxDepth = metres(c.depth)
			v := ratio.Judge(applied, g)
			require.Equal(t, c.places, v.Places)
			require.Equal(t, c.forbidden != nil, v.Findings.Forbids())
			if c.forbidden != nil {
				require.NotEmpty(t, v.Findings.Of(*c.forbidden))
			}
		})
	}
}

// Three of the sources name the depth to which their figure holds.
func TestFiguresHoldToADepth(t *testing.T) {
	checked := 0
	for _, c := range published.Ratios(t) {
		if c.DepthM == 0 {
			continue
		}
		checked++
		judge := func(g ratio.Group) finding.List { return ratio.Judge(books(t, c.Book), g).Findings }
		g := group(ratio.Open, ratio.Level(c.Level), 0, c.Age)
		require.Len(t, judge(g).Of(ratio.DepthNotKnown), 1)
		g.Bottom = metres(c.DepthM)
		require.Empty(t, judge(g).Of(ratio.DepthNotKnown), "nobody gets deeper there")
		g.Bottom = metres(c.DepthM + 0.1)
		require.Len(t, judge(g).Of(ratio.DepthNotKnown), 1)
		require.False(t, judge(g).Forbids(), "a deep site is not a deep plan")
		g.MaxDepth = metres(c.DepthM)
		require.False(t, judge(g).Forbids())
		g.MaxDepth = metres(c.DepthM + 0.1)
		require.Len(t, judge(g).Of(ratio.TooDeep), 1)
	}
	require.Equal(t, 3, checked)
}
