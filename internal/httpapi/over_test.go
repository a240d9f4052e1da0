package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// outingOf gives the outing of a session.
func (w *season) outingOf(session string) string {
	w.t.Helper()
	return w.manager.get("/v1/sessions/" + session).want(http.StatusOK).at("outing_id").(string)
}

// counts enters a head count of an outing at its departure, and gives its entry.
func (w *season) counts(outing string, figure int, when time.Time) string {
	w.t.Helper()
	return w.assistant.post("/v1/outings/"+outing+"/head-counts",
		body{"phase": "departure", "figure": figure, "counted_at": at(when)}).made()
}

// A session that is over stays as it was held, its head counts with it: whoever
// was counted on Saturday's outing is not to be on another one afterwards.
func TestWhatIsOverIsNotEdited(t *testing.T) {
	w := weekendUnderWay(t)
	off, offGroup, _ := w.calledOff()
	boat := w.manager.post("/v1/outings", body{"title": "Saturday boat", "held_on": "2026-06-06"}).made()
	pool := "/v1/sessions/" + w.confined
	change := func(path string, ask body) func() answer {
		return func() answer { return w.manager.patch(path, ask) }
	}
	w.refuse([]refusal{{"another outing while under way", change(pool, body{"outing_id": boat}), 409,
		"wrong_state",
		[]string{"The session is under way.", "only while it is planned", "recorded by roll call"}}})
	require.Equal(t, "Pool, deep end",
		w.manager.patch(pool, body{"title": "Pool, deep end",
			"outing_id": w.outingOf(w.confined)}).want(http.StatusOK).at("title"))
	outing := w.outingOf(w.confined)
	w.counts(outing, 4, saturday)
	w.instructor.post("/v1/outings/"+outing+"/head-counts",
		body{"phase": "departure", "figure": 4, "counted_at": at(saturday)}).made()
	agreed := func() any {
		return w.manager.get("/v1/outings/" + outing).want(http.StatusOK).at("head_counts.0.state")
	}
	require.Equal(t, "agreed", agreed())
	w.assistant.post(pool+"/close", nil).want(http.StatusOK)
	for _, over := range []struct{ state, session, group string }{{"closed", w.confined, w.blue},
		{"cancelled", off, offGroup}} {
		to, group := "/v1/sessions/"+over.session, "/v1/groups/"+over.group
		says := []string{"The session is " + over.state + ".", "while it is planned or under way"}
		w.refuse([]refusal{
			{"a title", change(to, body{"title": "P"}), 409, "wrong_state", append(says, "recorded as facts")},
			{"a limit", change(to, body{"places_lowered": 1}), 409, "wrong_state", says},
			{"an outing", change(to, body{"outing_id": boat}), 409, "wrong_state", says},
			{"a group's name", change(group, body{"name": "navy"}), 409, "wrong_state", says},
			{"a group's limit", change(group, body{"places_lowered": 1}), 409, "wrong_state", says},
			{"a group", func() answer {
				return w.manager.delete(group, "If-Match",
					w.manager.get(group).header.Get("ETag"))
			}, 409, "wrong_state", says},
		})
	}
	require.Equal(t, "agreed", agreed())
}

func TestWhatWasBrokenOffIsNotEdited(t *testing.T) {
	w := weekendUnderWay(t)
	w.assistant.post("/v1/sessions/"+w.confined+"/abandon", body{"reason": "thunder"}).want(http.StatusOK)
	w.refuse([]refusal{
		{"a limit", func() answer {
			return w.manager.patch("/v1/sessions/"+w.confined,
				body{"places_lowered": 1})
		}, 409, "wrong_state", []string{"The session is abandoned."}},
		{"a group", func() answer { return w.manager.patch("/v1/groups/"+w.blue, body{"name": "navy"}) }, 409,
			"wrong_state", []string{"The session is abandoned."}},
	})
}

// A head count was held against everybody of the outing's sessions, so none
// leaves or joins it while one stands.
func TestAnOutingThatWasCountedKeepsItsSessions(t *testing.T) {
	w := newSeason(t, open(t))
	boat := w.manager.post("/v1/outings", body{"title": "Sunday boat", "held_on": "2026-06-07"}).made()
	own, to := w.outingOf(w.open), "/v1/sessions/"+w.open
	w.Clock(sunday.Add(-time.Hour))
	count := w.counts(own, 4, sunday.Add(-time.Hour))
	join := func() answer { return w.manager.patch(to, body{"outing_id": boat}) }
	counted := []string{"The outing is counted already.", "a head count stands",
		"record by roll call who is not there", "void the count"}
	w.refuse([]refusal{{"leaving what was counted", join, 409, "wrong_state", append(counted, `"Bay 1"`)}})
	w.instructor.post("/v1/entries/"+count+"/void",
		body{"reason": "counted at the wrong boat"}).want(http.StatusOK)
	w.counts(boat, 0, sunday.Add(-time.Hour))
	w.refuse([]refusal{{"joining what was counted", join, 409, "wrong_state",
		append(counted, `"Sunday boat"`)}})
	other := w.manager.post("/v1/outings", body{"title": "Second boat", "held_on": "2026-06-07"}).made()
	require.Equal(t, other, w.manager.patch(to, body{"outing_id": other}).want(http.StatusOK).at("outing_id"))
}

func TestAnInstructorIsReplacedInTheVersionThatIsMeant(t *testing.T) {
	w := newSeason(t, open(t))
	rui, joao := w.Crew("Rui Instructor", "instructor"), w.Crew("Joao Instructor", "instructor")
	group := "/v1/groups/" + w.openBlue
	seen := w.manager.get(group).want(http.StatusOK).header.Get("ETag")
	w.manager.post(group+"/replace-instructor", body{"person_id": rui}, "If-Match", seen).want(http.StatusOK)
	w.program.post(group+"/replace-instructor", body{"person_id": joao}, "If-Match",
		seen).refused(http.StatusPreconditionFailed, "stale_version")
	w.program.post(group+"/replace-instructor", body{"person_id": rui}, "If-Match",
		seen).want(http.StatusOK) // done already
	w.program.post(group+"/replace-instructor", body{"person_id": joao}, "If-Match",
		w.manager.get(group).header.Get("ETag")).want(http.StatusOK)
}
