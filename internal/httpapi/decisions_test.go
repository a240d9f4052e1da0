package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
)

// A decision shows what it was judged on, by ids, and what they are called now.
func TestADecisionIsExplainedByWhatItWasJudgedOn(t *testing.T) {
	w := newSeason(t, open(t))
	list := "/v1/decisions?subject_type=session&subject_id=" + w.open
	made := w.manager.get(list).want(http.StatusOK)
	kinds := []any{}
	for _, d := range made.list("items") {
		kinds = append(kinds, d["kind"])
	}
	require.Equal(t, []any{"create_session", "create_group", "create_participant", "create_placements"}, kinds)
	newest := w.manager.get(list + "&sort=-decided_at&limit=1").want(http.StatusOK)
	require.Equal(t, made.ids()[3:], newest.ids())
	require.NotNil(t, newest.at("next_cursor"))

	a := w.manager.get("/v1/decisions/" + newest.ids()[0]).want(http.StatusOK)
	require.Equal(t, w.manager.person.String(), a.at("decided_by"))
	require.Equal(t, body{"type": "session", "id": w.open}, a.at("subject"))
	require.Equal(t, "2026-06-07", a.at("judged_on.session.day"))
	require.Equal(t, w.course, a.at("judged_on.session.course_id"))
	require.Equal(t, w.openBlue, a.at("judged_on.session.groups.0.group_id"))
	require.Equal(t, "general-open", a.at("judged_on.session.groups.0.books.0.id"))
	require.Equal(t, body{"state": "active", "same_course": true, "same_syllabus": true},
		a.at("judged_on.session.students.0.judged.enrolment"))
	require.NotEmpty(t, a.at("judged_on.session.students.0.papers"))
	require.Nil(t, a.at("judged_on.enrolment"))
	names := map[any]any{}
	for _, n := range a.list("names") {
		names[n["id"]] = n["name"]
	}
	require.Equal(t, []any{"June", "blue", "Tiago Student"},
		[]any{names[w.course], names[w.openBlue], names[w.manager.get("/v1/enrolments/"+w.tiago).at("person_id")]})
	w.manager.get("/v1/decisions/"+newest.ids()[0], "If-None-Match", a.header.Get("ETag")).
		want(http.StatusNotModified)
}

func TestWhoReadsADecision(t *testing.T) {
	w := newSeason(t, open(t))
	enrolled := func(id string) string { return "/v1/decisions?subject_type=enrolment&subject_id=" + id }
	about := func(query string) string { return "/v1/decisions/" + w.manager.get(query).want(http.StatusOK).ids()[0] }
	own, others := about(enrolled(w.sofia)), about(enrolled(w.tiago))
	session := "/v1/decisions?subject_type=session&subject_id=" + w.open
	require.Equal(t, w.student.person.String(), w.student.get(own).want(http.StatusOK).
		at("judged_on.enrolment.person_id"))
	w.student.get(others).refused(http.StatusNotFound, "not_found")
	w.student.get(enrolled(w.tiago)).refused(http.StatusNotFound, "not_found")
	w.student.get(session).refused(http.StatusForbidden, "missing_role")
	w.student.get(about(session)).refused(http.StatusForbidden, "missing_role")
	w.manager.get("/v1/decisions/"+newID()).refused(http.StatusNotFound, "not_found")

	without := w.withToken(access.NewToken{Program: new("club site"), Scopes: []actor.Scope{access.TrainingRead}})
	placed := w.manager.get(session + "&sort=-decided_at").want(http.StatusOK).ids()[0]
	a := without.get("/v1/decisions/" + placed).want(http.StatusOK)
	require.Equal(t, []any{"papers", "unfit"}, a.at("withheld"))
	student := a.at("judged_on.session.students.0").(body)
	require.NotContains(t, student, "papers")
	require.NotContains(t, student, "unfit")
	for _, n := range a.list("names") {
		require.NotEqual(t, "paper", n["type"])
	}
	w.manager.get("/v1/decisions?subject_type=dive&subject_id="+w.open).refused(http.StatusBadRequest,
		"invalid_request")
	w.manager.get("/v1/decisions").refused(http.StatusBadRequest, "invalid_request")
}
