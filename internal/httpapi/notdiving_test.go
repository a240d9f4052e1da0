package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// Crew who are there and do not dive stay in the group and in the ratio: 8
// students to an instructor in open water, 10 with an assistant (three
// organisations' manuals, seen); no plan waits for them.
func TestCrewWhoDoNotDiveAreMarked(t *testing.T) {
	w := newSeason(t, open(t))
	to := "/v1/participants/" + w.part(w.open, w.assistant.person.String())
	a := w.manager.get(to)
	require.Equal(t, []any{false, nil, nil}, pick(a, "not_diving", "not_diving_by", "not_diving_at"))
	a = w.instructor.patch(to, body{"not_diving": true}).want(http.StatusOK)
	require.Equal(t, []any{true, w.instructor.person.String()}, pick(a, "not_diving", "not_diving_by"))
	require.NotNil(t, a.at("not_diving_at"))
	group := w.manager.get("/v1/groups/" + w.openBlue).want(http.StatusOK)
	require.Equal(t, []any{10.0, true}, pick(group, "places", "cleared"))
	group.by("ratio.crew_not_diving")

	without := w.everybody(10, 20)
	without["divers"] = append(without["divers"].([]body)[:1], without["divers"].([]body)[2:]...)
	require.NotContains(t, w.planGas(without).rules("findings"), "planning.left_out")
	w.planGas(w.everybody(10, 20)).by("planning.not_there")

	a = w.program.patch(to, body{"not_diving": false, "gauge_unit": "psi"}).want(http.StatusOK)
	require.Equal(t, []any{false, nil, nil, "psi"},
		pick(a, "not_diving", "not_diving_by", "not_diving_at", "gauge_unit"))
	require.NotContains(t, w.manager.get("/v1/groups/"+w.openBlue).rules("findings"), "ratio.crew_not_diving")
}

func TestAStudentWhoDoesNotDiveSitsOut(t *testing.T) {
	w := newSeason(t, open(t))
	a := w.instructor.patch("/v1/participants/"+w.part(w.open, w.sofia),
		body{"not_diving": true}).refused(http.StatusBadRequest, "invalid_request")
	require.Contains(t, string(a.text), "sits out")
	other := w.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": w.Student("Carla Student", "1990-01-01")}).made()
	join := body{"role": "student", "enrolment_id": other, "group_id": w.openBlue, "not_diving": true}
	w.manager.post("/v1/sessions/"+w.open+"/participants", join).refused(http.StatusBadRequest,
		"invalid_request")
	vera := body{"role": "assistant", "person_id": w.Crew("Vera Lund", "assistant"), "group_id": w.openBlue,
		"not_diving": true}
	a = w.manager.post("/v1/sessions/"+w.open+"/participants", vera).want(http.StatusCreated)
	require.Equal(t, true, a.at("not_diving"))
}

// Nobody in charge is in the water: no rule book speaks of it, so whoever opens
// the session accepts it. (Our choice.)
func TestALeaderWhoDoesNotDiveIsAccepted(t *testing.T) {
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	w.Clock(sunday)
	w.brief(w.open, sunday)
	w.instructor.patch("/v1/participants/"+w.part(w.open, w.instructor.person.String()),
		body{"not_diving": true}).want(http.StatusOK)
	day := w.instructor.get("/v1/people/" + w.instructor.person.String() +
		"/days/2026-06-07").want(http.StatusOK)
	require.Contains(t, day.rules("sessions.0.findings"), "ratio.leader_not_diving")
	to := "/v1/sessions/" + w.open + "/open"
	f := w.instructor.post(to, nil).refused(http.StatusUnprocessableEntity,
		"cautions_open").by("ratio.leader_not_diving")
	accept := []body{{"rule": f["rule"], "subject_id": f["subjects"].([]any)[0].(body)["id"],
		"reason": "the assistant leads in the water"}}
	w.instructor.post(to, body{"accept": accept}).want(http.StatusOK)
	w.manager.post("/v1/sessions/"+w.open+"/close", nil).want(http.StatusOK)
	w.instructor.patch("/v1/participants/"+w.part(w.open, w.instructor.person.String()),
		body{"not_diving": false}).refused(http.StatusConflict, "wrong_state")
}
