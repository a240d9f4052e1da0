package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/scenetest"
)

// namesake is a season all of which may be created under one id: whoever creates
// a thing chooses its id, and things of two kinds are two things.
type namesake struct {
	*season
	any func(kind string) string // the one id, or another
}

// crowd plans a pool session with eight students to a group and an assistant
// who makes room for the ninth, and fills the group.
func (n *namesake) crowd(session, group string) (assistant string) {
	n.t.Helper()
	n.manager.post("/v1/sessions/"+session+"/groups", body{"id": group, "name": "red", "instructor_id": n.boss.person}).made()
	second := n.as(n.Crew("Berta Second", "assistant"))
	assistant = n.manager.post("/v1/sessions/"+session+"/participants", body{"id": n.any("participant"), "role": "assistant", "person_id": second.person,
		"group_id": group}).made()
	for i := range 9 {
		e := n.manager.post("/v1/courses/"+n.course+"/enrolments", body{"person_id": n.Student(fmt.Sprintf("Student %d", i), "1995-05-05")}).made()
		n.manager.post("/v1/sessions/"+session+"/participants", body{"role": "student", "enrolment_id": e, "group_id": group}).made()
	}
	return assistant
}

// One id for as many kinds of thing as a draw picks: nothing is a defect, the
// ledger is whole, and the facts of safety act: an assistant who does not turn up
// takes the group's clearance away, and the one who does gives it back.
func TestOneIDForThingsOfSeveralKinds(t *testing.T) {
	here := open(t)
	for seed := range 5 {
		picks := rapid.SliceOfN(rapid.Bool(), 16, 16).Example(seed)
		w := newSeason(t, openIn(t, scenetest.In(t, here.DB))) // a centre of its own
		w.Clock(saturday)
		shared, drawn := newID(), 0
		n := &namesake{season: w, any: func(string) string {
			if drawn++; seed == 0 || picks[drawn] { // first everything that may have it
				return shared
			}
			return newID()
		}}
		// A person, an enrolment, a group, a session, an outing, a site, a course, a token, a convention.
		person := n.any("person")
		w.manager.post("/v1/people", body{"id": person, "name": "Pia Person", "birth_on": "1990-01-01", "roles": []string{"student"}}).made()
		paper := w.manager.post("/v1/people/"+person+"/papers", body{"id": n.any("paper"), "kind": "medical", "outcome": "nothing_flagged",
			"issued_on": "2026-05-01"}).made()
		course := w.manager.post("/v1/courses", body{"id": n.any("course"), "title": "Late", "syllabus_id": w.syllabus, "starts_on": "2026-06-05",
			"ends_on": "2026-06-07"}).made()
		enrolment := w.manager.post("/v1/courses/"+course+"/enrolments", body{"id": n.any("enrolment"), "person_id": person}).made()
		credit := w.instructor.post("/v1/enrolments/"+enrolment+"/credits", body{"id": n.any("credit"), "what": "skill", "code": "swim",
			"done_at_centre": "Far Bank Divers", "done_by": "T. Oakes", "done_on": "2026-04-01", "document": "referral, seen"}).made()
		unfit := w.instructor.post("/v1/people/"+person+"/unfit-marks", body{"id": n.any("unfit"), "unfit_on": "2026-06-06", "note": "a cold"}).made()
		session, group := n.any("session"), n.any("group")
		w.manager.post("/v1/courses/"+w.course+"/sessions", body{"id": session, "kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-06T14:00", "ends_local": "2026-06-06T16:00"}).made()
		assistant := n.crowd(session, group)

		call := func(id, attendance string, when time.Time) {
			w.recorded(w.boss.post("/v1/sessions/"+session+"/roll-calls", body{"items": []body{{"id": id, "participant_id": assistant,
				"attendance": attendance, "witnessed_at": at(when)}}}))
		}
		cleared := func() any { return w.manager.get("/v1/groups/" + group).want(http.StatusOK).at("cleared") }
		entry := n.any("entry") // an entry is of one kind, whatever was witnessed
		require.Equal(t, true, cleared())
		call(entry, "absent", saturday)
		require.Equal(t, false, cleared(), "nine students are too many without the assistant")
		call(newID(), "present", saturday.Add(time.Minute))
		require.Equal(t, true, cleared())

		// What is taken back is taken back by its kind too.
		because := body{"reason": "the wrong one"}
		w.instructor.post("/v1/entries/"+entry+"/void", because).want(http.StatusOK)
		w.instructor.post("/v1/credits/"+credit+"/void", because).want(http.StatusOK)
		w.manager.post("/v1/papers/"+paper+"/void", because).want(http.StatusOK)
		w.instructor.post("/v1/unfit-marks/"+unfit+"/lift", because).want(http.StatusOK)
		w.manager.get("/v1/entries/" + entry).want(http.StatusOK)
		record := w.manager.get("/v1/enrolments/" + enrolment + "/record").want(http.StatusOK)
		require.Len(t, record.list("ledger"), 2, "the credit and its void, and nothing of the person's")

		whole, err := ledger.Verify(t.Context(), w.DB.DB, w.Centre, app.Ledger())
		require.NoError(t, err)
		whole.Problems = slices.DeleteFunc(whole.Problems, func(p ledger.Problem) bool {
			return p.Code == ledger.RowAdded && p.EntryKind == ledger.Paper // the scene gives its people papers by SQL
		})
		require.Empty(t, whole.Problems)
	}
}
