package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/once"
	"tankside/internal/people"
)

// Somebody who manages, instructs and is enrolled: nothing of their own course is
// theirs to decide.
func TestNobodyDecidesAboutThemselves(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.manager.put("/v1/people/" + w.boss.person.String() + "/roles/student").want(http.StatusOK)
	for kind, outcome := range map[string]string{"waiver": "valid", "medical": "nothing_flagged"} {
		w.Paper(w.boss.person, kind, outcome, "2026-01-01", "2040-01-01")
	}
	own := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": w.boss.person}).made()
	at2 := "/v1/enrolments/" + own
	credit := body{"what": "skill", "code": "swim", "done_at_centre": "Far Bank", "done_by": "T. Oakes",
		"done_on": "2026-05-01", "document": "letter"}
	w.boss.post(at2+"/credits", credit).refused(http.StatusForbidden, "missing_role")
	kept := w.instructor.post(at2+"/credits", credit).made()
	w.boss.post("/v1/credits/"+kept+"/void", body{"reason": "no"}).refused(http.StatusForbidden, "missing_role")
	w.boss.post(at2+"/completions", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("syllabus.signer_is_student")
	w.boss.post(at2+"/theory-results",
		body{"part": "gas", "percent": 90,
			"witnessed_at": at(today)}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	other := w.manager.post("/v1/courses",
		body{"title": "July", "syllabus_id": w.syllabus, "starts_on": "2026-07-05",
			"ends_on": "2026-07-07"}).made()
	w.boss.post(at2+"/transfer", body{"course_id": other}).refused(http.StatusForbidden, "missing_role")
	w.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": []string{own}, "session_ids": []string{w.confined},
			"group_name": "blue"}).want(http.StatusOK)
	w.Clock(saturday)
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	w.Clock(saturday.Add(time.Hour))
	var part string
	for _, p := range w.manager.get("/v1/sessions/" + w.confined + "/participants").list("items") {
		if p["enrolment_id"] == own {
			part = p["id"].(string)
		}
	}
	tried := body{"id": newID(), "participant_id": part, "skill": "swim", "met": true,
		"witnessed_at": at(saturday),
		"measures":     []body{{"name": "distance", "value": 200, "unit": "m"}}}
	a := w.boss.post("/v1/sessions/"+w.confined+"/drill-attempts",
		body{"items": []body{tried}}).want(http.StatusOK)
	require.Equal(t, "refused", a.at("items.0.status"))
	require.Equal(t, "unknown_reference", a.at("items.0.problem.code"))
	a = w.boss.post("/v1/sessions/"+w.confined+"/sign-offs",
		body{"items": []body{{"id": newID(), "enrolment_id": own, "skill": "swim"}}}).want(http.StatusOK)
	require.Contains(t, a.rules("items.0.findings"), "syllabus.signer_is_student")
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/drill-attempts", body{"items": []body{tried}}))
	w.boss.post("/v1/entries/"+tried["id"].(string)+"/void",
		body{"reason": "mine"}).refused(http.StatusForbidden, "missing_role")
	w.instructor.post("/v1/entries/"+tried["id"].(string)+"/void",
		body{"reason": "the wrong student"}).want(http.StatusOK)
}

// A paper is seen by one of the staff other than whose it is.
func TestNobodyRecordsTheirOwnPapers(t *testing.T) {
	s := open(t)
	own := "/v1/people/" + s.assistant.person.String() + "/papers"
	paper := body{"kind": "medical", "outcome": "physician_approved", "issued_on": "2026-05-01"}
	a := s.assistant.post(own, paper).refused(http.StatusForbidden, "missing_role")
	require.Contains(t, a.at("detail"), "tankside paper record")
	minor := s.Person("Mia Minor", "2014-05-05", "student")
	for name, seen := range map[string]any{"a student": s.student.person, "whose it is": minor,
		"nobody": newID()} {
		ask := body{"kind": "consent", "issued_on": "2026-05-01", "seen_by": seen}
		a := s.assistant.post("/v1/people/"+minor.String()+"/papers",
			ask).refused(http.StatusUnprocessableEntity, "unknown_reference")
		require.Equal(t, "/seen_by", a.at("findings.0.pointer"), name)
	}
	a = s.assistant.post("/v1/people/"+minor.String()+"/papers",
		body{"kind": "consent", "issued_on": "2026-05-01",
			"seen_by": s.instructor.person}).want(http.StatusCreated)
	require.Equal(t, s.instructor.person.String(), a.at("seen_by"))
	require.Equal(t, s.assistant.person.String(), a.at("recorded_by"),
		"who entered it for another stands beside it")
	id := s.manager.post("/v1/people/"+s.boss.person.String()+"/papers", paper).made()
	s.boss.post("/v1/papers/"+id+"/void", body{"reason": "mine"}).refused(http.StatusForbidden, "missing_role")
	s.manager.post("/v1/papers/"+id+"/void", body{"reason": "of somebody else"}).want(http.StatusOK)
}

// An owner alone at the centre: the operator's command records, names who saw it,
// and it shows.
func TestWhatTheOperatorRecordedShows(t *testing.T) {
	s := open(t)
	issued := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	_, err := s.services.Desk.RecordPaperAsOperator(t.Context(), actor.Actor{Centre: s.Centre},
		people.NewPaper{Key: once.New(), PersonID: s.boss.person, Kind: "insurance", Outcome: "valid",
			IssuedOn: issued}, "Dr. A. Reyes")
	require.NoError(t, err)
	for _, p := range s.assistant.get("/v1/people/" + s.boss.person.String() +
		"/papers").want(http.StatusOK).list("items") {
		if p["seen_by"] != nil {
			continue
		}
		require.Equal(t, "Dr. A. Reyes", p["seen_by_name"])
		require.Nil(t, p["recorded_by"])
		found := p["findings"].([]any)[0].(body)
		require.Equal(t, "people.paper_not_seen_here", found["rule"])
		require.Contains(t, found["message"], "not seen by a second person here")
		return
	}
	t.Fatal("the operator's paper is not on the list")
}

// A program sees nothing: it cannot say that somebody did, either.
func TestAProgramWitnessesNothing(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.present(w.confined, saturday)
	saw, part, on := w.instructor.person, w.part(w.confined, w.sofia), "/v1/sessions/"+w.confined
	dive := w.instructor.get(on + "/dives").want(http.StatusOK).ids()[0]
	for path, item := range map[string]body{
		on + "/roll-calls":                {"participant_id": part, "attendance": "present"},
		on + "/gas-checks":                {"participant_id": part, "no_answer": true},
		on + "/drill-attempts":            {"participant_id": part, "skill": "swim", "met": true},
		"/v1/dives/" + dive + "/times-in": {"participant_id": part, "in_at": at(saturday)},
	} {
		item["id"], item["witnessed_by"] = newID(), saw
		if item["in_at"] == nil {
			item["witnessed_at"] = at(saturday)
		}
		w.program.post(path, body{"items": []body{item}}).refused(http.StatusForbidden, "missing_role")
	}
	w.program.post(on+"/conditions",
		body{"visibility": body{"value": 10, "unit": "m"}, "witnessed_by": saw,
			"witnessed_at": at(saturday)}).refused(http.StatusForbidden, "missing_role")
	w.program.post("/v1/enrolments/"+w.sofia+"/theory-results",
		body{"part": "gas", "percent": 90, "witnessed_by": saw,
			"witnessed_at": at(saturday)}).refused(http.StatusForbidden, "missing_role")
	w.program.post("/v1/batches", body{"device_id": "gate", "sent_at": at(saturday), "entries": []body{
		entry("gas_check", w.confined,
			body{"participant_id": part, "no_answer": true, "witnessed_by": saw,
				"witnessed_at": at(saturday)})}}).want(http.StatusForbidden)
}

// A booking page with all that a program may have writes no paper and changes no
// signal; without papers:read it sees none.
func TestPapersAndSignalsNeedScopesOfTheirOwn(t *testing.T) {
	s := open(t)
	before := s.withToken(access.NewToken{Program: new("older page"),
		Scopes: []actor.Scope{access.PeopleRead, access.PeopleWrite, access.CoursesRead, access.CoursesWrite,
			access.SessionsRead}})
	person := "/v1/people/" + s.student.person.String()
	for _, path := range []string{"/papers", "/unfit-marks", "/readiness"} {
		require.Contains(t, before.get(person+path).refused(http.StatusForbidden, "missing_scope").at("detail"),
			"papers:read")
		s.program.get(person + path).want(http.StatusOK)
	}
	before.get(person).want(http.StatusOK)
	require.Contains(t, before.post("/v1/sites", pool()).refused(http.StatusForbidden,
		"missing_scope").at("detail"), "sites:write")
	require.Contains(t, before.post("/v1/conventions", house(body{})).refused(http.StatusForbidden,
		"missing_scope").at("detail"), "conventions:write")
	for _, beyond := range []actor.Scope{access.PapersWrite, access.SignsWrite} {
		s.manager.post("/v1/tokens",
			body{"program": "page", "scopes": []actor.Scope{beyond}}).refused(http.StatusUnprocessableEntity, "rules_refused").by("people.scope_beyond_role")
	}
	a := s.manager.post("/v1/tokens",
		body{"program": "map", "scopes": []actor.Scope{access.SitesWrite}}).want(http.StatusCreated)
	require.Equal(t, s.manager.person.String(), a.at("token.issued_by"))
	require.Equal(t, false, a.at("token.issued_by_operator"))
}
