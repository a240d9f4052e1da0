package httpapi_test

import (
	"net/http"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// A device that lost its answer sends again, perhaps while the first request is
// still under way: one of them creates, the others are answered with the same.
func TestWhatIsSentTwiceAtOnceIsDoneOnce(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	creations := map[string]body{
		"/v1/people":     {"name": "Nuno Reis", "birth_on": "1994-03-21", "roles": []string{"student"}},
		"/v1/sites":      pool(),
		"/v1/syllabuses": {"title": "Weekend", "copy_of": w.syllabus},
		"/v1/courses": {"title": "July", "syllabus_id": w.syllabus, "starts_on": "2026-07-03",
			"ends_on": "2026-07-05"},
		"/v1/outings": {"title": "Boat", "held_on": "2026-06-07"},
		"/v1/tokens":  {"program": "slate", "scopes": []string{"courses:read"}},
		"/v1/people/" + s.student.person.String() +
			"/papers": {"kind": "insurance", "issued_on": "2026-05-01"},
		"/v1/people/" + s.student.person.String() + "/unfit-marks": {"unfit_on": "2026-06-09"},
		"/v1/sessions/" + w.open +
			"/conditions": {"visibility": body{"value": 5, "unit": "m"}, "witnessed_at": at(today)},
	}
	for path, ask := range creations {
		t.Run(path, func(t *testing.T) {
			ask["id"] = newID()
			statuses := make([]int, 8)
			var all sync.WaitGroup
			for i := range statuses {
				all.Go(func() { statuses[i] = s.boss.on(t).post(path, ask).status })
			}
			all.Wait()
			created := 0
			for _, status := range statuses {
				require.Contains(t, []int{http.StatusOK, http.StatusCreated}, status)
				if status == http.StatusCreated {
					created++
				}
			}
			require.Equal(t, 1, created, "%v", statuses)
		})
	}
}
