package httpapi_test

import (
	"maps"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/syllabus"
)

func TestABuiltInSyllabusIsCopiedAndChanged(t *testing.T) {
	s := open(t)
	built := s.student.get("/v1/built-in-syllabuses").want(http.StatusOK).list("items")[0]
	require.Equal(t, syllabus.BuiltIn().Code, built["code"])
	ask := body{"id": newID(), "title": "Weekend", "built_in": built["code"]}
	to := s.instructor.post("/v1/syllabuses", ask).want(http.StatusCreated).header.Get("Location")
	s.instructor.post("/v1/syllabuses", ask).want(http.StatusOK)
	ask["title"] = "Another"
	s.instructor.post("/v1/syllabuses", ask).refused(http.StatusConflict, "id_reused")
	// What was read can be changed and sent as the next version, as it is.
	content := s.program.get(to + "/versions/1").want(http.StatusOK).at("content").(body)
	require.Equal(t, built, content)
	first := content["skills"].([]any)[0].(body)
	first["title"] = "Swim a longer distance"
	a := s.instructor.post(to+"/versions", body{"content": content, "note": "longer"}).want(http.StatusCreated)
	require.InDelta(t, 2, a.at("number"), 0)
	require.Equal(t, content, a.at("content"))
	require.Equal(t, to+"/versions/2", a.header.Get("Location"))
	s.instructor.post(to+"/versions", body{"content": content, "note": "longer"}).want(http.StatusOK)
	require.Len(t, s.student.get(to+"/versions").want(http.StatusOK).list("items"), 2)
	s.student.get(to+"/versions/3").refused(http.StatusNotFound, "not_found")
	s.manager.patch(to, body{"title": "Summer weekend"}).want(http.StatusOK)
	s.manager.call(http.MethodPatch, to, body{"title": "Late"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	copied := s.manager.post("/v1/syllabuses",
		body{"title": "A copy", "copy_of": ask["id"]}).want(http.StatusCreated)
	require.Equal(t, ask["id"].(string)+"/2", copied.at("copied_from"))
	require.Len(t, s.manager.get("/v1/syllabuses").want(http.StatusOK).ids(), 2)
}

func TestASyllabusThatTeachesNonsenseIsRefused(t *testing.T) {
	s := open(t)
	content := s.manager.get("/v1/built-in-syllabuses").list("items")[0]
	to := "/v1/syllabuses/" +
		s.manager.post("/v1/syllabuses", body{"title": "Weekend", "content": content}).made() + "/versions"
	broken := maps.Clone(content)
	skill := maps.Clone(content["skills"].([]any)[0].(body))
	skill["prerequisites"] = []string{"walking-on-water"}
	skill["criterion"] = body{"text": "Swims.",
		"measures": []body{{"name": "lengths", "at_least": body{"value": 1.5, "unit": "count"}}}}
	broken["skills"] = append([]any{skill}, content["skills"].([]any)[1:]...)
	a := s.manager.post(to, body{"content": broken}).refused(http.StatusUnprocessableEntity, "rules_refused")
	var pointers []any
	for _, f := range a.list("findings") {
		pointers = append(pointers, f["pointer"])
	}
	require.Contains(t, pointers, "/content/skills/0/prerequisites/0")
	require.Contains(t, pointers, "/content/skills/0/criterion/measures/0", "one and a half times")
	s.manager.post("/v1/syllabuses",
		body{"title": "Weekend", "content": broken}).refused(http.StatusUnprocessableEntity, "rules_refused")
	s.manager.post("/v1/syllabuses", body{"title": "Weekend"}).refused(http.StatusBadRequest, "invalid_request")
	s.manager.post("/v1/syllabuses",
		body{"title": "Weekend", "built_in": content["code"],
			"content": content}).refused(http.StatusBadRequest, "invalid_request")
	s.manager.post("/v1/syllabuses",
		body{"title": "Weekend",
			"built_in": "of-a-dream"}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.manager.post("/v1/syllabuses",
		body{"title": "Weekend",
			"copy_of": newID()}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.assistant.post("/v1/syllabuses",
		body{"title": "Weekend", "built_in": content["code"]}).refused(http.StatusForbidden, "missing_scope")
}

// aCourse sets up a course over the first weekend of June.
func (s *shop) aCourse(more body) answer {
	s.t.Helper()
	ask := body{"title": "June",
		"syllabus_id": s.manager.post("/v1/syllabuses",
			body{"title": "Weekend", "built_in": syllabus.BuiltIn().Code}).made(),
		"starts_on": "2026-06-05", "ends_on": "2026-06-07"}
	maps.Copy(ask, more)
	return s.program.post("/v1/courses", ask)
}

func TestACourseIsSetUpChangedAndEnded(t *testing.T) {
	s := open(t)
	id := newID()
	a := s.aCourse(body{"id": id, "places": 1, "external_refs": body{"shop": "7"}}).want(http.StatusCreated)
	to := a.header.Get("Location")
	token := url.QueryEscape(s.manager.get("/v1/courses").want(http.StatusOK).at("updated_token").(string))
	s.aCourse(body{"id": id}).refused(http.StatusConflict, "id_reused")
	s.aCourse(body{"ends_on": "2026-06-04"}).refused(http.StatusBadRequest, "invalid_request")
	s.aCourse(body{"syllabus_id": newID()}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.aCourse(body{"syllabus_number": 9}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	a = s.instructor.patch(to,
		body{"places": nil, "external_refs": body{"shop": nil, "club": "8"}}).want(http.StatusOK)
	require.Nil(t, a.at("places"))
	require.Equal(t, body{"club": "8"}, a.at("external_refs"))
	s.instructor.call(http.MethodPatch, to, body{"title": "J"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	require.Equal(t, []string{id},
		s.student.get("/v1/courses?state=active&on_from=2026-06-07&on_before=2026-06-08").want(http.StatusOK).ids())
	require.Empty(t, s.student.get("/v1/courses?on_before=2026-06-05").want(http.StatusOK).ids())
	require.Equal(t, []string{id}, s.student.get("/v1/courses?updated_since="+token).want(http.StatusOK).ids())
	s.student.get(to).want(http.StatusOK)
	s.manager.post(to+"/close", body{"reason": "done"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	s.manager.post(to+"/close", body{"reason": "done"}).want(http.StatusOK)
	s.manager.post(to+"/close", body{"reason": "again"}).want(http.StatusOK)
	s.manager.post(to+"/cancel", body{"reason": "storm"}).refused(http.StatusConflict, "wrong_state")
	other := "/v1/courses/" + s.aCourse(nil).made()
	require.Equal(t, "storm",
		s.manager.post(other+"/cancel", body{"reason": "storm"}).want(http.StatusOK).at("state_reason"))
	s.manager.post(other+"/close", body{"reason": "done"}).refused(http.StatusConflict, "wrong_state")
	s.manager.post(other+"/enrolments", body{"person_id": s.student.person}).refused(http.StatusConflict,
		"wrong_state")
}

func TestWhoeverIsEnrolledIsOldEnoughAStudentAndHasAPlace(t *testing.T) {
	s := open(t)
	course := s.aCourse(body{"places": 1}).made()
	to := "/v1/courses/" + course + "/enrolments"
	// Least age 10: junior grades in training organisations' manuals (seen).
	child := s.Student("Carla Child", "2016-06-06")
	f := s.manager.post(to, body{"person_id": child}).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("courses.too_young")
	require.Equal(t, []any{10.0, 9.0}, []any{f["limit"].(body)["value"], f["found"].(body)["value"]})
	s.manager.post(to, body{"person_id": s.assistant.person}).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("courses.not_a_student")
	s.manager.post(to, body{"person_id": newID()}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.assistant.post(to, body{"person_id": s.student.person}).refused(http.StatusForbidden, "missing_scope")
	ask := body{"id": newID(), "person_id": s.student.person}
	before := s.everyRow()
	require.Equal(t, true, s.program.post(to+"?dry_run=true", ask).want(http.StatusOK).at("allowed"))
	require.Equal(t, false, s.program.post(to+"?dry_run=true",
		body{"person_id": child}).want(http.StatusOK).at("allowed"))
	require.Equal(t, before, s.everyRow(), "only asked")
	s.program.post(to, ask).want(http.StatusCreated)
	s.program.post(to, ask).want(http.StatusOK)
	s.program.post(to, body{"id": ask["id"], "person_id": child}).refused(http.StatusConflict, "id_reused")
	s.program.post(to, body{"person_id": s.student.person, "waiting": true}).refused(http.StatusConflict,
		"already_enrolled")
	tiago := s.as(s.Student("Tiago Student", "1996-06-06"))
	cures := s.program.post(to, body{"person_id": tiago.person}).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("courses.full")["cures"]
	require.Equal(t, "wait", cures.([]any)[0].(body)["code"])
	waiting := s.program.post(to, body{"person_id": tiago.person, "waiting": true}).made()
	require.Len(t, s.manager.get(to).want(http.StatusOK).ids(), 2)
	require.Equal(t, []string{waiting}, tiago.get(to).want(http.StatusOK).ids(),
		"a student sees only the own one")
	require.Equal(t, []string{waiting},
		s.manager.get("/v1/enrolments?state=waiting&person_id="+tiago.person.String()+"&course_id="+
			course).want(http.StatusOK).ids())
	tiago.get("/v1/enrolments/" + waiting).want(http.StatusOK)
	s.student.get("/v1/enrolments/" + waiting).want(http.StatusNotFound)
	s.manager.post("/v1/enrolments/"+waiting+"/activate", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("courses.full")
	s.manager.patch("/v1/courses/"+course, body{"places": 2}).want(http.StatusOK)
	s.manager.post("/v1/enrolments/"+waiting+"/activate", nil, "If-Match",
		`"9"`).refused(http.StatusPreconditionFailed, "stale_version")
	require.Equal(t, "active",
		s.manager.post("/v1/enrolments/"+waiting+"/activate", nil).want(http.StatusOK).at("state"))
	require.Equal(t, "active",
		s.manager.post("/v1/enrolments/"+waiting+"/activate",
			nil).want(http.StatusOK).at("state"), "again does no harm")
}

func TestAnEnrolmentEndsAndGoesOn(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	elsewhere := w.aCourse(body{"starts_on": "2026-07-03", "ends_on": "2026-07-05",
		"syllabus_id": w.syllabus}).made()
	to := "/v1/enrolments/" + w.sofia
	w.instructor.post("/v1/enrolments/"+w.sofia+"/credits",
		body{"what": "skill", "code": "swim", "done_at_centre": "Far Bank", "done_by": "T. Oakes",
			"done_on": "2026-04-01", "document": "seen"}).made()
	w.manager.post(to+"/transfer", body{"course_id": newID()}).refused(http.StatusUnprocessableEntity,
		"unknown_reference")
	w.program.post(to+"/transfer", body{"course_id": elsewhere}).refused(http.StatusForbidden, "missing_role")
	require.Equal(t, true, w.manager.post(to+"/transfer?dry_run=true",
		body{"course_id": elsewhere}).want(http.StatusOK).at("allowed"))
	w.manager.post(to+"/transfer", body{"course_id": elsewhere}, "If-Match",
		`"9"`).refused(http.StatusPreconditionFailed, "stale_version")
	ask := body{"id": newID(), "course_id": elsewhere}
	require.Equal(t, "active", w.instructor.post(to+"/transfer", ask).want(http.StatusCreated).at("state"))
	w.instructor.post(to+"/transfer", ask).want(http.StatusOK)
	require.Equal(t, "transferred", w.manager.get(to).want(http.StatusOK).at("state"))
	require.Len(t, w.manager.get("/v1/enrolments/"+ask["id"].(string)+"/credits").want(http.StatusOK).ids(), 1,
		"what was learned goes along")
	w.manager.get("/v1/participants/"+w.part(w.open, w.sofia)).refused(http.StatusNotFound, "not_found")
	w.manager.post(to+"/withdraw", body{"reason": "moved"}).refused(http.StatusConflict, "wrong_state")
	w.manager.post("/v1/enrolments/"+w.tiago+"/withdraw", body{"reason": "moved"}, "If-Match",
		`"9"`).refused(http.StatusPreconditionFailed, "stale_version")
	a := w.program.post("/v1/enrolments/"+w.tiago+"/withdraw", body{"reason": "moved away"}).want(http.StatusOK)
	require.Equal(t, []any{"withdrawn", "moved away"}, []any{a.at("state"), a.at("state_reason")})
	w.manager.post("/v1/enrolments/"+w.tiago+"/activate", nil).refused(http.StatusConflict, "wrong_state")
	require.Len(t, w.manager.get("/v1/sessions/"+w.open+"/participants").want(http.StatusOK).ids(), 2,
		"the crew is left")
}

func TestACourseIsCancelledWithItsSessionsAndClosedAfterThem(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	to := "/v1/courses/" + w.course
	w.manager.post(to+"/close", body{"reason": "done"}).refused(http.StatusConflict, "wrong_state")
	w.manager.post("/v1/sessions/"+w.confined+"/cancel",
		body{"reason": "the pool is closed"}).want(http.StatusOK)
	require.Equal(t, "cancelled",
		w.program.post(to+"/cancel", body{"reason": "storm"}).want(http.StatusOK).at("state"))
	require.Equal(t, []any{"cancelled", "storm"},
		pick(w.student.get("/v1/sessions/"+w.open), "state", "state_reason"))
	require.Equal(t, "the pool is closed", w.student.get("/v1/sessions/"+w.confined).at("state_reason"),
		"that was called off before")
	require.Equal(t, false, w.student.get("/v1/participants/"+w.part(w.open, w.sofia)).at("booked"))
	w.program.post(to+"/placements", body{"enrolment_ids": []string{w.sofia}}).refused(http.StatusConflict,
		"wrong_state")
}
