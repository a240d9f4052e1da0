package httpapi_test

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestSessionsArePlannedMovedAndCalledOff(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	list := "/v1/courses/" + w.course + "/sessions"
	plan := func(more body) answer {
		ask := body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-06T14:00", "ends_local": "2026-06-06T16:00"}
		for k, v := range more {
			ask[k] = v
		}
		return w.program.post(list, ask)
	}
	plan(body{"ends_local": "2026-06-06T13:00"}).refused(http.StatusBadRequest, "invalid_request")
	plan(body{"kind": "open"}).refused(http.StatusUnprocessableEntity, "rules_refused")
	plan(body{"site_id": newID()}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	plan(body{"id": w.open}).refused(http.StatusConflict, "id_reused")
	// The clocks in Lisbon went forward on 29 March 2026 at 01:00 (IANA time
	// zone database, Europe/Lisbon): 01:30 was never shown.
	plan(body{"starts_local": "2026-03-29T01:30",
		"ends_local": "2026-03-29T03:00"}).refused(http.StatusBadRequest, "invalid_request")
	id := newID()
	a := plan(body{"id": id}).want(http.StatusCreated)
	require.Equal(t, []any{"Europe/Lisbon", "2026-06-06T13:00:00Z"},
		[]any{a.at("time_zone"), a.at("starts_at")})
	plan(body{"id": id}).want(http.StatusOK)
	to := "/v1/sessions/" + id
	require.Len(t, w.student.get(list).want(http.StatusOK).ids(), 3)
	require.Equal(t, []string{id},
		w.student.get("/v1/sessions?site_id="+w.pool+
			"&starts_from=2026-06-06T12:00:00Z").want(http.StatusOK).ids())
	require.Len(t, w.manager.get("/v1/sessions?person_id="+
		w.student.person.String()).want(http.StatusOK).ids(), 2)
	w.student.get(to).want(http.StatusOK)
	require.InDelta(t, 6, w.instructor.patch(to,
		body{"places_lowered": 6}).want(http.StatusOK).at("places_lowered"), 0)
	w.instructor.call(http.MethodPatch, to, body{"title": "P"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	move := body{"starts_local": "2026-06-06T17:00", "ends_local": "2026-06-06T18:00"}
	require.Equal(t, true, w.program.post(to+"/move?dry_run=true", move).want(http.StatusOK).at("allowed"))
	w.program.post(to+"/move", move, "If-Match", `"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	require.Equal(t, "2026-06-06T16:00:00Z",
		w.program.post(to+"/move", move).want(http.StatusOK).at("starts_at"))
	w.program.post(to+"/cancel", body{"reason": "storm"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	require.Equal(t, "cancelled",
		w.program.post(to+"/cancel", body{"reason": "storm"}).want(http.StatusOK).at("state"))
	w.program.post(to+"/cancel", body{"reason": "again"}).want(http.StatusOK)
	w.program.post(to+"/move", move).refused(http.StatusConflict, "wrong_state")
	w.assistant.post(to+"/close", nil).refused(http.StatusConflict, "wrong_state")
	w.assistant.post(to+"/abandon", body{"reason": "thunder"}).refused(http.StatusConflict, "wrong_state")
	w.instructor.post(to+"/open", nil).refused(http.StatusConflict, "wrong_state")
}

// Three organisations' manuals: in open water at entry level 8 students to an
// instructor, 10 with one assistant (seen).
func TestGroupsKeepTheirRatioWhateverIsMoved(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	var more []string
	for i := range 8 {
		id := w.manager.post("/v1/courses/"+w.course+"/enrolments",
			body{"person_id": w.Student(fmt.Sprintf("Student %d", i), "1990-01-01")}).made()
		more = append(more, id)
	}
	place := func(enrolments []string, query string) answer {
		return w.program.post("/v1/courses/"+w.course+"/placements"+query,
			body{"enrolment_ids": enrolments, "session_ids": []string{w.open}, "group_name": "blue"})
	}
	place(more, "").want(http.StatusOK) // ten with an assistant
	require.Equal(t, []any{10.0, 10.0, true},
		pick(w.manager.get("/v1/groups/"+w.openBlue), "students", "places", "cleared"))
	eleventh := w.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": w.Student("Eleventh", "1990-01-01")}).made()
	require.Equal(t, false, place([]string{eleventh}, "?dry_run=true").want(http.StatusOK).at("allowed"))
	f := place([]string{eleventh}, "").refused(http.StatusUnprocessableEntity,
		"rules_refused").by("ratio.too_many_students")
	require.Equal(t, []any{10.0, 11.0}, []any{f["limit"].(body)["value"], f["found"].(body)["value"]})
	w.instructor.post("/v1/sessions/"+w.open+"/participants",
		body{"role": "student", "enrolment_id": eleventh, "group_id": w.openBlue}).
		refused(http.StatusUnprocessableEntity, "rules_refused").by("ratio.too_many_students")
	assistant := "/v1/participants/" + w.part(w.open, w.assistant.person.String())
	w.manager.delete(assistant, "If-Match", `"1"`).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("ratio.too_many_students")
	w.manager.delete(assistant).refused(http.StatusPreconditionRequired, "version_required")
	// A second group, and a swap between two groups as one operation.
	rui := w.Crew("Rui Instructor", "instructor")
	red := w.manager.post("/v1/sessions/"+w.open+"/groups",
		body{"id": newID(), "name": "red", "instructor_id": rui}).made()
	w.manager.post("/v1/sessions/"+w.open+"/groups",
		body{"id": red, "name": "green", "instructor_id": rui}).refused(http.StatusConflict, "id_reused")
	w.manager.post("/v1/sessions/"+w.open+"/groups",
		body{"name": "green", "instructor_id": w.student.person}).refused(http.StatusConflict, "already_participant")
	require.ElementsMatch(t, []string{w.openBlue, red},
		w.student.get("/v1/sessions/"+w.open+"/groups").want(http.StatusOK).ids())
	w.student.get("/v1/groups/" + red).want(http.StatusOK)
	last := w.instructor.post("/v1/sessions/"+w.open+"/participants",
		body{"role": "student", "enrolment_id": eleventh, "group_id": red}).made()
	sofia := w.part(w.open, w.sofia)
	w.program.post("/v1/sessions/"+w.open+"/regroup",
		body{"moves": []body{{"participant_id": last, "group_id": w.openBlue}}}).
		refused(http.StatusUnprocessableEntity, "rules_refused").by("ratio.too_many_students")
	w.program.post("/v1/sessions/"+w.open+"/regroup",
		body{"moves": []body{{"participant_id": last, "group_id": w.openBlue},
			{"participant_id": sofia, "group_id": red}}}).want(http.StatusOK)
	require.Equal(t, red, w.student.get("/v1/participants/"+sofia).want(http.StatusOK).at("group_id"))
	require.Len(t, w.student.get("/v1/sessions/"+w.open+"/participants").want(http.StatusOK).ids(), 14)
	a := w.manager.patch("/v1/groups/"+w.openBlue, body{"places_lowered": 9})
	a.refused(http.StatusUnprocessableEntity, "rules_refused").by("ratio.above_lowered_limit")
	w.manager.patch("/v1/groups/"+w.openBlue, body{"name": "navy"}).want(http.StatusOK)
	w.manager.delete("/v1/groups/"+red, "If-Match",
		w.manager.get("/v1/groups/"+red).header.Get("ETag")).refused(http.StatusConflict, "wrong_state")
	// The instructor in charge is replaced, and the group is never without one.
	joao := w.Crew("Joao Instructor", "instructor")
	w.manager.post("/v1/groups/"+red+"/replace-instructor",
		body{"person_id": w.assistant.person}).refused(http.StatusUnprocessableEntity, "rules_refused")
	w.manager.post("/v1/groups/"+red+"/replace-instructor", body{"person_id": joao}).want(http.StatusOK)
	w.program.call(http.MethodPatch, "/v1/participants/"+sofia, body{"gauge_unit": "psi"}, "If-Match",
		`"9"`).refused(http.StatusPreconditionFailed, "stale_version")
	w.program.patch("/v1/participants/"+sofia, body{"gauge_unit": "psi"}).want(http.StatusOK)
	w.manager.delete("/v1/participants/"+sofia, "If-Match",
		w.manager.get("/v1/participants/"+sofia).header.Get("ETag")).want(http.StatusOK)
	empty := w.manager.post("/v1/sessions/"+w.open+"/groups",
		body{"name": "green", "instructor_id": rui}).made()
	w.manager.delete("/v1/groups/"+empty, "If-Match", `"9"`).refused(http.StatusPreconditionFailed,
		"stale_version")
	for _, p := range w.manager.get("/v1/sessions/" + w.open + "/participants").list("items") {
		if p["group_id"] == empty {
			w.manager.delete("/v1/participants/"+p["id"].(string), "If-Match", `"1"`).want(http.StatusOK)
		}
	}
	w.manager.delete("/v1/groups/"+empty, "If-Match",
		w.manager.get("/v1/groups/"+empty).header.Get("ETag")).want(http.StatusNoContent)
}

func pick(a answer, members ...string) (out []any) {
	a.t.Helper()
	for _, m := range members {
		out = append(out, a.want(http.StatusOK).at(m))
	}
	return out
}

// Watermanship before the first open-water dive: common practice (read widely).
func TestASessionUnderWayIsJoinedAsItWasOpened(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	s.Clock(sunday)
	w.brief(w.open, sunday)
	w.instructor.post("/v1/sessions/"+w.open+"/open", nil).want(http.StatusOK)
	kim := s.Student("Kim Student", "1996-06-06")
	enrolment := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": kim}).made()
	join := body{"role": "student", "enrolment_id": enrolment, "group_id": w.openBlue}
	to, place := "/v1/sessions/"+w.open+
		"/participants", body{"enrolment_ids": []string{enrolment}, "session_ids": []string{w.open}}
	dry := w.instructor.post(to+"?dry_run=true", join).want(http.StatusOK)
	require.Equal(t, false, dry.at("allowed"))
	require.Subset(t, dry.rules("findings"),
		[]any{"sessions.not_briefed", "planning.no_low_pressure_told", "syllabus.watermanship_first",
			"syllabus.dive_prerequisite"})
	w.instructor.post(to, join).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("syllabus.watermanship_first")
	w.program.post("/v1/courses/"+w.course+"/placements", place).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("syllabus.watermanship_first")
	w.credit(enrolment, true)
	w.instructor.post(to, join).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("sessions.not_briefed")
	w.instructor.post("/v1/sessions/"+w.open+"/briefings",
		body{"briefed_at": at(sunday), "convention": "digits_bar", "check_every": nil,
			"people": []body{{"person_id": kim, "low": of(100, "bar")}}, "heard": []body{{"person_id": kim,
				"how": "said_so"}}}).made()
	w.instructor.post(to, join).made()
}

func TestARollCallIsRecordedWithWhatSpeaksAgainstWhoIsThere(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	s.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	s.assistant.post("/v1/people/"+s.student.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-06"}).want(http.StatusCreated)
	id := newID()
	a := w.recorded(w.assistant.post("/v1/sessions/"+w.confined+"/roll-calls", body{"items": []body{
		{"id": id, "participant_id": w.part(w.confined, w.sofia), "attendance": "present",
			"witnessed_at": at(saturday)},
		{"id": newID(), "participant_id": w.part(w.confined, w.tiago), "attendance": "late",
			"witnessed_at": at(saturday.Add(-time.Minute))}}}))
	require.Equal(t, []any{"roster.not_fit"}, a.rules("items.0.findings"))
	require.Empty(t, a.list("items.1.findings"))
	w.instructor.get("/v1/entries/" + id).want(http.StatusOK).by("roster.not_fit")
	require.Contains(t, w.instructor.get("/v1/sessions/"+w.confined+
		"/entries?kind=roll_call").want(http.StatusOK).rules("items.1.findings"), "roster.not_fit")
}

func TestAGroupInTheWaterIsReadWithTheCallToEndTheDive(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	s.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	group, groups := "/v1/groups/"+w.blue, "/v1/sessions/"+w.confined+"/groups"
	require.Empty(t, w.student.get(group).want(http.StatusOK).list("findings"))
	w.recorded(w.assistant.post("/v1/sessions/"+w.confined+"/roll-calls", body{"items": []body{{"id": newID(),
		"participant_id": w.part(w.confined,
			w.instructor.person.String()), "attendance": "left_early", "witnessed_at": at(saturday)}}}))
	a := w.student.get(group).want(http.StatusOK)
	require.Equal(t, false, a.at("cleared"))
	a.by("sessions.end_the_dive")
	require.Contains(t, w.assistant.get(groups).want(http.StatusOK).rules("items.0.findings"),
		"sessions.end_the_dive")
}

func TestAnInstructorsDayIsOneCall(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	a := w.instructor.get("/v1/people/" + w.instructor.person.String() + "/days/2026-06-07").want(http.StatusOK)
	require.Len(t, a.list("sessions"), 1)
	require.Len(t, a.list("sessions.0.participants"), 4)
	require.Equal(t, w.openBlue, a.at("sessions.0.groups.0.id"))
	opening := w.instructor.post("/v1/sessions/"+w.open+"/open?dry_run=true", nil).want(http.StatusOK)
	require.Subset(t, opening.rules("findings"), []any{"sessions.not_briefed", "syllabus.dive_prerequisite"})
	require.ElementsMatch(t, opening.list("findings"), a.list("sessions.0.findings"),
		"what its opening would find")
	require.Empty(t, w.student.get("/v1/people/"+w.student.person.String()+
		"/days/2026-06-05").want(http.StatusOK).list("sessions"))
	w.student.get("/v1/people/" + w.instructor.person.String() + "/days/2026-06-07").want(http.StatusForbidden)
}

// A corrected birth date is a fact: the group loses its clearance, and the
// answer says so. Nobody aged 10 to 14 is in a group of more than 4 to an
// instructor, 6 with an assistant (one training organisation's manual, seen).
func TestACorrectedBirthDateIsNeverRefused(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for i := range 5 {
		id := w.manager.post("/v1/courses/"+w.course+"/enrolments",
			body{"person_id": w.Student(fmt.Sprintf("Student %d", i), "1990-01-01")}).made()
		w.program.post("/v1/courses/"+w.course+"/placements",
			body{"enrolment_ids": []string{id}, "session_ids": []string{w.open},
				"group_name": "blue"}).want(http.StatusOK)
	}
	a := w.manager.patch("/v1/people/"+w.student.person.String(),
		body{"birth_on": "2012-05-05", "reason": "passport seen"}).want(http.StatusOK)
	f := a.by("ratio.too_many_students")
	require.InDelta(t, 6, f["limit"].(body)["value"], 0)
	require.Equal(t, false, w.manager.get("/v1/groups/"+w.openBlue).at("cleared"))
	w.manager.patch("/v1/people/"+w.student.person.String(),
		body{"birth_on": "1995-05-05", "reason": "another passport seen"}).want(http.StatusOK)
	require.Equal(t, true, w.manager.get("/v1/groups/"+w.openBlue).at("cleared"))
}

func TestAnOutingIsCountedUntilTheCountsAgree(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	ask := body{"id": newID(), "title": "Sunday boat", "held_on": "2026-06-07"}
	to := "/v1/outings/" + w.instructor.post("/v1/outings", ask).made()
	w.instructor.post("/v1/outings", ask).want(http.StatusOK)
	ask["title"] = "Another"
	w.instructor.post("/v1/outings", ask).refused(http.StatusConflict, "id_reused")
	w.instructor.patch(to, body{"title": "Sunday boat, early"}).want(http.StatusOK)
	w.instructor.call(http.MethodPatch, to, body{"title": "B"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	w.instructor.patch("/v1/sessions/"+w.open, body{"outing_id": ask["id"]}).want(http.StatusOK)
	require.Contains(t, w.assistant.get("/v1/outings?on_from=2026-06-07&on_before=2026-06-08").want(http.StatusOK).ids(), ask["id"])
	guest := w.assistant.post(to+"/guests", body{"id": newID(), "name": "Skipper", "part": "skipper"}).made()
	w.assistant.post(to+"/guests", body{"id": guest, "name": "Cook"}).refused(http.StatusConflict, "id_reused")
	w.Clock(sunday)
	w.present(w.open, sunday)
	count := func(c *client, figure int, when time.Time) answer {
		return c.post(to+"/head-counts", body{"phase": "departure", "figure": figure, "counted_at": at(when)})
	}
	count(w.instructor, 5, sunday).made()
	require.Equal(t, "alarm",
		count(w.assistant, 6, sunday.Add(time.Minute)).want(http.StatusCreated).at("state"))
	require.Equal(t, "agreed",
		count(w.assistant, 5, sunday.Add(2*time.Minute)).want(http.StatusCreated).at("state"))
	count(w.assistant, 5, sunday.Add(time.Hour)).refused(http.StatusBadRequest, "invalid_request")
	again := body{"id": newID(), "phase": "return", "figure": 5, "counted_at": at(sunday)}
	w.assistant.post(to+"/head-counts", again).made()
	again["figure"] = 4
	w.assistant.post(to+"/head-counts", again).refused(http.StatusConflict, "id_reused")
	require.Len(t, w.assistant.get(to+"/head-counts").want(http.StatusOK).ids(), 4)
	require.Len(t, w.assistant.get(to).want(http.StatusOK).list("aboard"), 5)
	w.assistant.post("/v1/outing-guests/"+guest+"/leave", nil).want(http.StatusOK)
	what := body{"id": newID(), "what": "A fin strap broke.", "witnessed_at": at(sunday),
		"people": []body{{"person_id": w.student.person, "part": "diver"}}}
	w.assistant.post(to+"/incidents", what).made()
	what["what"] = "A mask strap broke."
	w.assistant.post(to+"/incidents", what).refused(http.StatusConflict, "id_reused")
	require.Len(t, w.instructor.get(to+"/incidents").want(http.StatusOK).ids(), 1)
}
