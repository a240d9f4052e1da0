package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/syllabus"
)

// season is a weekend course as it was planned on the Monday before, all of it
// through the API: a confined-water session on Saturday and an open-water
// session on Sunday, each with the blue group, two students and their crew.
type season struct {
	*shop
	syllabus, course string
	pool, bay        string
	confined, open   string            // sessions
	blue, openBlue   string            // their groups
	sofia, tiago     string            // enrolments; Sofia is s.student
	parts            map[string]string // participants by session and enrolment or person
}

var (
	saturday = time.Date(2026, 6, 6, 8, 0, 0, 0, time.UTC) // nine o'clock in Lisbon
	sunday   = time.Date(2026, 6, 7, 8, 0, 0, 0, time.UTC)
)

// at writes an instant for a body.
func at(t time.Time) string { return t.Format(time.RFC3339) }

func newSeason(t testing.TB, s *shop) *season {
	t.Helper()
	w := &season{shop: s, parts: map[string]string{}}
	w.syllabus = s.manager.post("/v1/syllabuses",
		body{"title": "Weekend", "built_in": syllabus.BuiltIn().Code}).made()
	w.course = s.manager.post("/v1/courses",
		body{"title": "June", "syllabus_id": w.syllabus, "starts_on": "2026-06-05",
			"ends_on": "2026-06-07"}).made()
	w.sofia = s.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": s.student.person}).made()
	w.tiago = s.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": s.Student("Tiago Student", "1996-06-06")}).made()
	w.pool, w.bay = s.manager.post("/v1/sites", pool()).made(), s.manager.post("/v1/sites", bay()).made()
	w.confined = s.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "confined", "title": "Pool 1", "site_id": w.pool,
			"starts_local": "2026-06-06T09:00", "ends_local": "2026-06-06T12:00"}).made()
	w.open = s.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "open", "title": "Bay 1", "site_id": w.bay,
			"starts_local": "2026-06-07T09:00", "ends_local": "2026-06-07T13:00", "training_dives": []int{1,
				2}}).made()
	w.blue, w.openBlue = w.group(w.confined), w.group(w.open)
	s.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": []string{w.sofia, w.tiago}, "group_name": "blue"}).want(http.StatusOK)
	for _, session := range []string{w.confined, w.open} {
		for _, p := range s.manager.get("/v1/sessions/" + session +
			"/participants").want(http.StatusOK).list("items") {
			key := p["person_id"]
			if p["enrolment_id"] != nil {
				key = p["enrolment_id"]
			}
			w.parts[session+key.(string)] = p["id"].(string)
		}
	}
	return w
}

// group opens a group of the instructor and the assistant.
func (w *season) group(session string) string {
	w.t.Helper()
	id := w.manager.post("/v1/sessions/"+session+"/groups",
		body{"name": "blue", "instructor_id": w.instructor.person}).made()
	w.manager.post("/v1/sessions/"+session+"/participants",
		body{"role": "assistant", "person_id": w.assistant.person, "group_id": id}).made()
	return id
}

// part gives the participant of an enrolment or a person in a session.
func (w *season) part(session, who string) string {
	w.t.Helper()
	require.Contains(w.t, w.parts, session+who)
	return w.parts[session+who]
}

// present calls the roll: everybody is there.
func (w *season) present(session string, when time.Time) {
	w.t.Helper()
	var items []body
	for _, p := range w.manager.get("/v1/sessions/" + session + "/participants").list("items") {
		items = append(items, body{"id": newID(), "participant_id": p["id"], "attendance": "present",
			"witnessed_at": at(when)})
	}
	w.recorded(w.instructor.post("/v1/sessions/"+session+"/roll-calls", body{"items": items}))
}

// recorded insists that every entry was recorded.
func (w *season) recorded(a answer) answer {
	w.t.Helper()
	a.want(http.StatusOK)
	for _, r := range a.list("items") {
		require.Equal(w.t, "recorded", r["status"], "%s: %v", a.asked, r["problem"])
	}
	return a
}

// credit accepts from another centre whatever the syllabus asks before the
// first open-water dive; all of it, dives included, with everything.
func (w *season) credit(enrolment string, everything bool) {
	w.t.Helper()
	y := syllabus.BuiltIn()
	credit := func(more body) {
		w.t.Helper()
		ask := body{"done_at_centre": "Far Bank Divers", "done_by": "T. Oakes", "done_on": "2026-04-01",
			"document": "referral, seen"}
		for k, v := range more {
			ask[k] = v
		}
		w.instructor.post("/v1/enrolments/"+enrolment+"/credits", ask).made()
	}
	for _, p := range y.Theory {
		credit(body{"what": "theory_part", "code": p.Code})
	}
	for _, k := range y.Skills {
		if everything || k.Setting != syllabus.Open && k.Code != "swim" {
			credit(body{"what": "skill", "code": k.Code})
		}
	}
	for _, d := range y.Dives {
		if everything {
			credit(body{"what": "training_dive", "training_dive": d.Number, "minutes": 30})
		}
	}
}

// swum records that Sofia swam the distance in the pool, and gives the attempt.
func (w *season) swum(when time.Time) string {
	w.t.Helper()
	id := newID()
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/drill-attempts",
		body{"items": []body{{"id": id, "participant_id": w.part(w.confined, w.sofia),
			"skill": "swim", "met": true, "measures": []body{{"name": "swim-without-aids", "value": 200,
				"unit": "m"}}, "witnessed_at": at(when)}}}))
	return id
}

// brief gives everybody of a session a briefing by the instructor in charge, which
// tells a low-gas pressure and which all acknowledge there and then. It returns its
// id.
func (w *season) brief(session string, when time.Time) string {
	w.t.Helper()
	var heard []body
	for _, p := range w.manager.get("/v1/sessions/" + session +
		"/participants").want(http.StatusOK).list("items") {
		heard = append(heard, body{"person_id": p["person_id"], "how": "said_so"})
	}
	return w.instructor.post("/v1/sessions/"+session+"/briefings",
		body{"briefed_at": at(when), "convention": "digits_bar", "check_every": nil,
			"pressures": body{"low": of(100, "bar")}, "heard": heard}).made()
}
