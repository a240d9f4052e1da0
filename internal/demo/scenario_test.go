package demo

import (
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func theScenario(t *testing.T) *scenario {
	t.Helper()
	sc, err := readScenario()
	require.NoError(t, err)
	return sc
}

// names returns the first names of everybody, and fails the test where two share one.
func (sc *scenario) names(t *testing.T) []string {
	t.Helper()
	all := append([]string{firstName(sc.centre.Manager.Name), firstName(sc.referral.Name)}, sc.students...)
	for _, c := range sc.crew {
		all = append(all, firstName(c.name))
	}
	slices.Sort(all)
	require.Len(t, slices.Compact(slices.Clone(all)), len(all), "two people share a first name")
	return all
}

// A name that is misspelt in one file would fail the story only after minutes.
func TestTheFilesOfTheScenarioNameTheSameThings(t *testing.T) {
	t.Parallel()
	sc := theScenario(t)
	names := sc.names(t)
	titles := map[string]session{}
	for key, c := range sc.courses {
		for _, x := range c.Sessions {
			require.NotContains(t, titles, x.Title, "two sessions of one title")
			titles[x.Title] = x
			require.Equal(t, x.Kind != "theory", x.Site != "", x.Title)
			if x.Site != "" {
				require.Contains(t, sc.sites, x.Site, x.Title)
			}
			require.Less(t, x.StartsLocal, x.EndsLocal, x.Title)
			require.GreaterOrEqual(t, x.StartsLocal[:10], c.StartsOn, key)
			require.LessOrEqual(t, x.EndsLocal[:10], c.EndsOn, key)
		}
	}
	var placed []string
	for _, g := range sc.courses["weekend"].Groups {
		require.Contains(t, names, g.Instructor, g.Name)
		placed = append(append(placed, g.Students...), g.WithAssistant...)
	}
	require.ElementsMatch(t, sc.students, placed, "each student of the list is in one group")
	for _, p := range sc.papers {
		require.Contains(t, names, p.person)
	}
	require.ElementsMatch(t, slices.DeleteFunc(names, func(n string) bool { return n == "Mara" }),
		slices.Collect(maps.Keys(sc.breathing)), "who may be in the water")
	for title := range sc.briefing.Low {
		require.Contains(t, titles, title)
	}
	for _, r := range sc.briefing.Roles {
		require.NotEqual(t, r.Person == "", r.Name == "", "one of the people, or somebody by name")
		require.True(t, r.Person == "" || slices.Contains(names, r.Person), r.Person)
	}
	for _, d := range sc.dives {
		require.LessOrEqual(t, d.number, len(titles[d.session].TrainingDives), d.session)
	}
	for _, c := range sc.checks {
		require.Contains(t, titles, c.session)
		require.Contains(t, names, c.person)
	}
}

// Everybody's day is lawful in itself: no dive is longer or deeper than its session and site.
func TestTheDivesOfTheScenarioFitTheirSessions(t *testing.T) {
	t.Parallel()
	sc := theScenario(t)
	bay := sc.sites["bay"]["max_depth"].(object)["value"].(float64)
	for i, d := range sc.dives {
		in, err := time.Parse(time.RFC3339, d.in)
		require.NoError(t, err)
		require.LessOrEqual(t, d.depth, bay)
		require.Positive(t, d.minutes)
		if i > 0 && sc.dives[i-1].session == d.session {
			before, err := time.Parse(time.RFC3339, sc.dives[i-1].in)
			require.NoError(t, err)
			require.True(t, before.Add(time.Duration(sc.dives[i-1].minutes)*time.Minute).Before(in), d.in)
		}
	}
	require.Len(t, sc.dives, 4)
}

// What the story tells of these people rests on these figures.
func TestTheScenarioHasWhatTheStoryTellsOf(t *testing.T) {
	t.Parallel()
	sc := theScenario(t)
	require.Len(t, sc.students, 12)
	require.Len(t, sc.group("blue").Students, 8, "a ninth would be too many for one instructor")
	steps := map[string]int{}
	for _, c := range sc.checks {
		steps[c.step]++
	}
	require.Equal(t, map[string]int{"reports": 3, "missed check": 4, "misread": 5}, steps)
	when := map[string]int{}
	for _, p := range sc.papers {
		when[p.when]++
	}
	require.Equal(t, map[string]int{"hired": 15, "enrolled": 24, "physician": 1, "father": 1, "referred": 2},
		when)
}
