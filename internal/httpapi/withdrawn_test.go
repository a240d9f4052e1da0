package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A student who was called present before the opening and then withdraws is
// taken off the planned session all the same: out of the group, which counts one
// less, free at that time, and able to be placed there again.
func TestWhoWasCalledAndWithdrawsIsTakenOff(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	part, ofGroup := w.part(w.confined, w.sofia), "/v1/groups/"+w.blue
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": part,
			"attendance": "present", "witnessed_at": at(saturday)}}}))
	require.EqualValues(t, 2, w.manager.get(ofGroup).want(http.StatusOK).at("students"))

	gone := w.manager.post("/v1/enrolments/"+w.sofia+"/withdraw",
		body{"reason": "moved away"}).want(http.StatusOK)
	f := gone.by("sessions.taken_off_named")
	require.Equal(t, `Sofia Student is taken off "Pool 1", and stays in its list as absent: records name the person (roll call).`, f["message"])
	require.Len(t, gone.list("findings"), 1, "no record names her in the session in the bay")
	require.EqualValues(t, 1, w.manager.get(ofGroup).want(http.StatusOK).at("students"))
	kept := w.manager.get("/v1/participants/" + part).want(http.StatusOK)
	require.Equal(t, []any{"absent", nil}, []any{kept.at("attendance"), kept.at("group_id")})
	w.manager.post("/v1/enrolments/"+w.sofia+"/withdraw",
		body{"reason": "moved away"}).want(http.StatusOK).by("sessions.taken_off_named")
	require.Equal(t, kept.at("version"),
		w.manager.get("/v1/participants/"+part).want(http.StatusOK).at("version"), "again does no harm")

	// She comes back: into the same session, under the part that the roll call names.
	again := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": w.student.person}).made()
	ask := body{"id": newID(), "role": "student", "enrolment_id": again, "group_id": w.blue}
	placed := w.manager.post("/v1/sessions/"+w.confined+"/participants", ask).want(http.StatusCreated)
	require.Equal(t, []any{part, again, w.blue, "expected"},
		[]any{placed.id(), placed.at("enrolment_id"), placed.at("group_id"), placed.at("attendance")})
	require.Equal(t, part, w.manager.post("/v1/sessions/"+w.confined+"/participants",
		ask).want(http.StatusOK).id(), "sent again")
	require.EqualValues(t, 2, w.manager.get(ofGroup).want(http.StatusOK).at("students"))
	w.manager.post("/v1/sessions/"+w.confined+"/participants",
		body{"role": "student", "enrolment_id": again}).refused(http.StatusConflict, "already_participant")

	// By a placement into all sessions too, and the part can be moved and called.
	w.manager.post("/v1/enrolments/"+again+"/withdraw", body{"reason": "ill"}).want(http.StatusOK)
	third := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": w.student.person}).made()
	w.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": []string{third}, "group_name": "blue"}).want(http.StatusOK)
	require.EqualValues(t, 2, w.manager.get(ofGroup).want(http.StatusOK).at("students"))
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": part,
			"attendance": "present", "witnessed_at": at(saturday.Add(time.Minute))}}}))
	require.Equal(t, "present", w.manager.get("/v1/participants/"+part).want(http.StatusOK).at("attendance"))
}

// Whoever was taken off is free for another session at the same time.
func TestWhoIsTakenOffIsBookedNoLonger(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/roll-calls", body{"items": []body{{"id": newID(),
		"participant_id": w.part(w.confined,
			w.sofia), "attendance": "present", "witnessed_at": at(saturday)}}}))
	other := w.manager.post("/v1/courses",
		body{"title": "Other", "syllabus_id": w.syllabus, "starts_on": "2026-06-05",
			"ends_on": "2026-06-07"}).made()
	w.manager.post("/v1/enrolments/"+w.sofia+"/transfer",
		body{"course_id": other}).want(http.StatusCreated).by("sessions.taken_off_named")
	moved := w.manager.get("/v1/courses/" + other + "/enrolments").want(http.StatusOK).ids()[0]
	session := w.manager.post("/v1/courses/"+other+"/sessions",
		body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-06T09:00", "ends_local": "2026-06-06T12:00"}).made()
	w.manager.post("/v1/sessions/"+session+"/participants",
		body{"role": "student", "enrolment_id": moved}).want(http.StatusCreated)
}
