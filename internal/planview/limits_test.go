package planview

import (
	"fmt"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// sessionOf returns a session of a kind at a site of a depth, "" for an unknown one, with
// a dive for each training dive of the syllabus that is named. The syllabus limits dive 1
// to 12 m for 15 min, dive 2 to 18 m for 20 min, and confined water to 6 m.
func sessionOf(t *testing.T, kind ratio.Setting, site string, training ...int) Session {
	t.Helper()
	read := func(text string) syllabus.Quantity {
		r, err := units.ParseReading(text)
		require.NoError(t, err)
		return syllabus.Quantity(r)
	}
	course := versions.Version{SyllabusID: uuid.New(), Number: 1}
	s := Session{course: course, syllabuses: map[versions.Version]syllabus.Syllabus{course: {
		ConfinedMaxDepth: read("6 m"),
		Dives: []syllabus.TrainingDive{
			{Number: 1, MaxDepth: read("12 m"), LeastDuration: read("15 min")},
			{Number: 2, MaxDepth: read("18 m"), LeastDuration: read("20 min")},
		}}}}
	s.Kind = kind
	for _, n := range training {
		s.Dives = append(s.Dives, dayview.Dive{ID: uuid.New(), TrainingDive: new(n)})
	}
	if site != "" {
		s.Site.MaxDepth = new(units.Reading(read(site)))
	}
	return s
}

// A dive whose limits nobody told is judged at the greatest depth that it may have, and
// lasts at least as long as it must to count.
func TestTheLimitsThatADiveHasByItsSyllabusAndSite(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why      string
		kind     ratio.Setting
		site     string
		training []int
		dive     int // index, -1 for every dive
		depth    string
		time     string
	}{
		{"a training dive's own limit", ratio.Open, "30 m", []int{1, 2}, 0, "12 m", "15 min"},
		{"of every dive the deepest and the longest", ratio.Open, "30 m", []int{1, 2}, -1, "18 m", "20 min"},
		{"the site is shallower", ratio.Open, "9 m", []int{1, 2}, -1, "9 m", "20 min"},
		{"no site is known", ratio.Open, "", []int{2}, -1, "18 m", "20 min"},
		{"no training dive: the site alone", ratio.Open, "30 m", nil, -1, "30 m", "none"},
		{"nothing is known", ratio.Open, "", nil, -1, "none", "none"},
		{"confined water has its own depth, and no least time", ratio.Confined, "", nil, -1, "6 m", "none"},
		{"a pool that is shallower", ratio.Confined, "3 m", nil, -1, "3 m", "none"},
	} {
		t.Run(c.why, func(t *testing.T) {
			t.Parallel()
			s := sessionOf(t, c.kind, c.site, c.training...)
			var dive *uuid.UUID
			if c.dive >= 0 {
				dive = &s.Dives[c.dive].ID
			}
			text := func(r fmt.Stringer, known bool) string {
				if !known {
					return "none"
				}
				return r.String()
			}
			var depth, least units.Reading
			d, l := s.GreatestDepth(dive), s.LeastTime(dive)
			if d != nil {
				depth = d.Reading()
			}
			if l != nil {
				least = l.Reading()
			}
			require.Equal(t, c.depth, text(depth, d != nil))
			require.Equal(t, c.time, text(least, l != nil))
		})
	}
}
