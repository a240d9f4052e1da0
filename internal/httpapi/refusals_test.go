package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/syllabus"
)

// refusal is a request that is refused, and words that its detail has to say:
// what was wrong, what was found, what would cure it.
type refusal struct {
	what   string
	ask    func() answer
	status int
	code   string
	says   []string
}

// refuse insists on each refusal, its words, and that it changed nothing.
func (w *season) refuse(all []refusal) {
	w.t.Helper()
	before := w.everyRow()
	for _, r := range all {
		a := r.ask().refused(r.status, r.code)
		for _, words := range r.says {
			require.Contains(w.t, a.at("detail"), words, r.what)
		}
		require.Equal(w.t, before, w.everyRow(), "%s changed something", r.what)
	}
}

// weekendUnderWay is Saturday with the pool session open and Bay 1 still planned.
func weekendUnderWay(t *testing.T) *season {
	t.Helper()
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	return w
}

// calledOff plans a session for the afternoon with a group and a student, and
// calls it off; it gives the session, its group and the student's part.
func (w *season) calledOff() (session, group, part string) {
	w.t.Helper()
	session = w.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-06T15:00", "ends_local": "2026-06-06T17:00"}).made()
	group = w.group(session)
	part = w.manager.post("/v1/sessions/"+session+"/participants",
		body{"role": "student", "enrolment_id": w.sofia, "group_id": group}).made()
	w.manager.post("/v1/sessions/"+session+"/cancel", body{"reason": "the pool is closed"}).want(http.StatusOK)
	return session, group, part
}

// What is over, taken or witnessed stays as it is, whoever plans otherwise.
func TestWhatCannotBePlannedAnyMoreSaysWhyAndWhatHelps(t *testing.T) {
	w := weekendUnderWay(t)
	pool, bay := "/v1/sessions/"+w.confined, "/v1/sessions/"+w.open
	off, group, part := w.calledOff()
	over := "/v1/sessions/" + off
	later := w.aCourse(nil).made()
	rui, joao := w.Crew("Rui Instructor", "instructor"), w.Crew("Joao Instructor", "instructor")
	student := func(enrolment string) body { return body{"role": "student", "enrolment_id": enrolment} }
	rearranged := []string{"The session is cancelled.", "while it is planned or under way",
		"choose another session"}
	w.refuse([]refusal{
		{"calling off what is under way",
			func() answer { return w.manager.post(pool+"/cancel", body{"reason": "rain"}) }, 409, "wrong_state",
			[]string{"The session is under way.", "Only a planned session is cancelled", "is abandoned"}},
		{"breaking off another version",
			func() answer {
				return w.assistant.post(pool+"/abandon", body{"reason": "thunder"}, "If-Match",
					`"1"`)
			}, 412, "stale_version",
			[]string{"changed since you read it", "at version 2 now", "Read it again"}},
		{"a second part in a session",
			func() answer {
				return w.manager.post(bay+"/participants",
					student(w.sofia))
			}, 409, "already_participant",
			[]string{"already takes part", "Change that part, or move it"}},
		{"a student as crew", func() answer {
			return w.manager.post(bay+"/groups", body{"name": "red", "instructor_id": w.student.person})
		}, 409, "already_participant", []string{"as a student", "Take the student out first"}},
		{"a second one in charge", func() answer {
			return w.manager.post(bay+"/participants",
				body{"role": "in_charge", "person_id": rui, "group_id": w.openBlue})
		}, 409, "already_in_charge", []string{"has an instructor in charge", "Replace the instructor"}},
		{"joining what is off", func() answer { return w.manager.post(over+"/participants", student(w.tiago)) },
			409, "wrong_state", rearranged},
		{"a group of what is off", func() answer {
			return w.manager.post(over+"/groups", body{"name": "red", "instructor_id": w.instructor.person})
		}, 409, "wrong_state", rearranged},
		{"another instructor for what is off", func() answer {
			return w.manager.post("/v1/groups/"+group+"/replace-instructor", body{"person_id": joao})
		}, 409, "wrong_state", rearranged},
		{"moving people in what is off", func() answer {
			return w.manager.post(over+"/regroup",
				body{"moves": []body{{"participant_id": part, "group_id": nil}}})
		}, 409, "wrong_state", rearranged},
		{"taking somebody off what is off",
			func() answer {
				return w.manager.delete("/v1/participants/"+part, "If-Match",
					`"1"`)
			}, 409, "wrong_state", rearranged},
		{"placing into what is off", func() answer {
			return w.manager.post("/v1/courses/"+w.course+"/placements",
				body{"enrolment_ids": []string{w.tiago}, "session_ids": []string{off}})
		}, 409, "wrong_state", rearranged},
		{"placing where nothing is planned", func() answer {
			return w.manager.post("/v1/courses/"+later+"/placements", body{"enrolment_ids": []string{w.tiago}})
		}, 409, "wrong_state", []string{"without planned sessions", "Plan its sessions first"}},
		{"taking somebody off who was seen", func() answer {
			return w.manager.delete("/v1/participants/"+w.part(w.confined, w.sofia), "If-Match", `"2"`)
		}, 409, "wrong_state", []string{"named by records of the session (roll call)",
			"record by roll call that the person was absent"}},
	})
}

// What was learned, and who is enrolled where, is settled once.
func TestWhatIsEnrolledOrCompletedOnceSaysWhyAndWhatHelps(t *testing.T) {
	w := newSeason(t, open(t))
	elsewhere := func(more body) string {
		ask := body{"syllabus_id": w.syllabus, "starts_on": "2026-07-03", "ends_on": "2026-07-05"}
		for k, v := range more {
			ask[k] = v
		}
		return w.aCourse(ask).made()
	}
	july, closed := elsewhere(nil), elsewhere(nil)
	w.manager.post("/v1/courses/"+july+"/enrolments", body{"person_id": w.student.person}).made()
	w.manager.post("/v1/courses/"+closed+"/close", body{"reason": "nobody came"}).want(http.StatusOK)
	gone := w.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": w.Student("Gil Gone", "1990-01-01")}).made()
	w.manager.post("/v1/enrolments/"+gone+"/withdraw", body{"reason": "moved away"}).want(http.StatusOK)
	w.credit(w.tiago, true)
	completion := w.instructor.post("/v1/enrolments/"+w.tiago+"/completions", nil).made()

	versions := "/v1/syllabuses/" + w.syllabus + "/versions"
	content := w.manager.get(versions + "/1").want(http.StatusOK).at("content")
	version := w.manager.post(versions, body{"id": newID(), "content": content, "note": "again"}).made()
	other := "/v1/syllabuses/" +
		w.manager.post("/v1/syllabuses", body{"title": "Another", "copy_of": w.syllabus}).made() + "/versions"

	transfer := func(enrolment, course string) func() answer {
		return func() answer {
			return w.manager.post("/v1/enrolments/"+enrolment+"/transfer", body{"course_id": course})
		}
	}
	credit := func(enrolment string, more body) func() answer {
		ask := body{"done_at_centre": "Far Bank Divers", "done_by": "T. Oakes", "done_on": "2026-04-01",
			"document": "seen"}
		for k, v := range more {
			ask[k] = v
		}
		return func() answer { return w.instructor.post("/v1/enrolments/"+enrolment+"/credits", ask) }
	}
	taken := []string{"used before with another body", "a new id for a new thing"}
	w.refuse([]refusal{
		{"transferring who has left", transfer(gone, july), 409, "wrong_state",
			[]string{"The enrolment is withdrawn.", "waiting or active", "Enrol the person again"}},
		{"transferring who has completed", transfer(w.tiago, july), 409, "wrong_state",
			[]string{"The enrolment is completed.", "waiting or active", "Void the completion first"}},
		{"transferring to a course that is over", transfer(w.sofia, closed), 409, "wrong_state",
			[]string{"The course is closed.", "Only an active course", "choose one that is"}},
		{"transferring to where one is", transfer(w.sofia, july), 409, "already_enrolled",
			[]string{"on the course already", "Withdraw that enrolment first, or use it"}},
		{"withdrawing who has completed", func() answer {
			return w.manager.post("/v1/enrolments/"+w.tiago+"/withdraw", body{"reason": "too late"})
		}, 409, "wrong_state", []string{"The enrolment is completed.", "waiting or active",
			"Void the completion first"}},
		{"a credit for an unknown skill", credit(w.sofia, body{"what": "skill", "code": "juggling"}), 422,
			"unknown_reference",
			[]string{"/code names no skill", "of the course's syllabus", "send that"}},
		{"a credit for an unknown theory part",
			credit(w.sofia, body{"what": "theory_part", "code": "astrology"}), 422, "unknown_reference",
			[]string{"/code names no theory part"}},
		{"a credit for an unknown training dive",
			credit(w.sofia, body{"what": "training_dive", "training_dive": 99}), 422, "unknown_reference",
			[]string{"/training_dive names no training dive"}},
		{"a credit for who has completed", credit(w.tiago, body{"what": "skill", "code": "swim"}), 409,
			"wrong_state",
			[]string{"The enrolment is completed.", "waiting or active", "void the completion first"}},
		{"completing under the id of another completion", func() answer {
			return w.instructor.post("/v1/enrolments/"+w.sofia+"/completions", body{"id": completion})
		}, 409, "id_reused", taken},
		{"a version under the id of another one",
			func() answer {
				return w.manager.post(versions,
					body{"id": version, "content": content})
			}, 409, "id_reused", taken},
		{"a version under the id of another syllabus's", func() answer {
			return w.manager.post(other, body{"id": version, "content": content, "note": "again"})
		}, 409, "id_reused", taken},
	})
}

// The same of gas plans, signals, briefings, drills and what a phone sent.
func TestWhatCannotBeAgreedAnyMoreSaysWhyAndWhatHelps(t *testing.T) {
	w := weekendUnderWay(t)
	off, _, part := w.calledOff()
	theory := w.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "theory", "title": "Theory", "starts_local": "2026-06-06T18:00",
			"ends_local": "2026-06-06T19:00"}).made()
	plan := "/v1/plans/" + w.planGas(w.everybody(10, 20)).id()
	two := func(first, second string) []body {
		var out []body
		for _, who := range []string{first, second} {
			out = append(out, body{"participant_id": who, "cylinder": body{"water_volume": of(12, "L")},
				"start": of(200, "bar")})
		}
		return out
	}
	shallow := body{"depth": of(3, "m"), "planned_time": of(20, "min")}
	dead := w.instructor.post("/v1/sessions/"+w.confined+"/plans",
		body{"dive": shallow, "divers": two(w.part(w.confined, w.sofia), w.part(w.confined, w.tiago))}).made()
	w.instructor.post("/v1/conventions", house(nil)).made()
	voided := w.brief(w.confined, saturday.Add(time.Minute))
	w.instructor.post("/v1/entries/"+voided+"/void", body{"reason": "the wrong session"}).want(http.StatusOK)
	p := phone{season: w, of: w.assistant, name: "his"}
	check := entry("gas_check", w.confined,
		body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true, "witnessed_at": at(saturday)})
	require.Equal(t, []any{"recorded"}, statuses(p.send(saturday.Add(time.Hour), check)))
	kept := w.instructor.get("/v1/held-entries?state=recorded").want(http.StatusOK).ids()[0]
	w.instructor.post("/v1/sessions/"+w.confined+"/close", nil).want(http.StatusOK)

	ask := body{"dive": shallow, "divers": two(part, part)}
	replan := func(of string, more body) func() answer {
		change := body{"reason": "a short fill"}
		for k, v := range more {
			change[k] = v
		}
		return func() answer { return w.instructor.post(of+"/replan", change) }
	}
	edit := func(to string, content body) func() answer {
		return func() answer { return w.boss.call(http.MethodPatch, to, content, "If-Match", `"7"`) }
	}
	w.refuse([]refusal{
		{"gas for theory", func() answer { return w.instructor.post("/v1/sessions/"+theory+"/plans", ask) },
			409, "wrong_state",
			[]string{"not in water", "Gas is planned for water sessions"}},
		{"gas for what is off", func() answer { return w.instructor.post("/v1/sessions/"+off+"/plans", ask) },
			409, "wrong_state",
			[]string{"The session is cancelled.", "planned or under way"}},
		{"gas anew for what is over", replan("/v1/plans/"+dead, nil), 409, "wrong_state",
			[]string{"The session is closed.", "planned or under way"}},
		{"a new plan under the id of the old one", replan(plan, body{"id": plan[len("/v1/plans/"):]}), 409,
			"id_reused", []string{"used before with another body", "a new id"}},
		{"leaving out who was not in", replan(plan, body{"leave_out": []string{part}}), 422,
			"unknown_reference", []string{"/leave_out/0 names no participant of the plan before"}},
		{"somebody new without a cylinder", replan(plan, body{"divers": []body{{"participant_id": part}}}), 400,
			"invalid_request", []string{"needs a cylinder and a start"}},
		{"a fill in the wrong unit",
			replan(plan, body{"divers": []body{{"participant_id": w.part(w.open, w.tiago),
				"start": of(2900, "bar")}}}), 400, "invalid_request",
			[]string{"2900 bar", "unit"}},
		{"former settings", edit("/v1/gas-settings", body{"settings": body{"stress": 1.8}}), 412,
			"stale_version", []string{"changed since you read it", "at version 1 now", "Read it again"}},
		{"a former convention", edit("/v1/conventions/house", body{"name": "X"}), 412, "stale_version",
			[]string{"at version 1 now"}},
		{"a ready convention", edit("/v1/conventions/digits_bar", body{"name": "X"}), 409, "wrong_state",
			[]string{"comes with the service", "Create your own"}},
		{"a code that is taken", func() answer { return w.instructor.post("/v1/conventions", house(nil)) }, 409,
			"code_taken", []string{"has this code", "Choose another code"}},
		{"one gesture with two meanings", func() answer {
			return w.instructor.patch("/v1/conventions/house",
				body{"signs": and(house(nil), "go_up", "fist_on_chest")["signs"]})
		}, 422, "rules_refused", []string{"ist"}},
		{"a convention that counts on nothing",
			func() answer {
				return w.instructor.patch("/v1/conventions/house",
					body{"style": "forearm"})
			}, 422, "rules_refused", []string{"hand"}},
		{"a briefing that was not given",
			func() answer {
				return w.student.post("/v1/briefings/"+voided+"/acknowledge",
					nil)
			}, 409, "wrong_state",
			[]string{"The briefing is voided.", "Acknowledge the one that was given instead"}},
		{"a drill for somebody else's student", func() answer {
			return w.script(body{"convention": "digits_bar", "participant_ids": []string{part}})
		}, 422, "unknown_reference", []string{"/participant_ids/0 names no student of this session"}},
		{"dropping what stands",
			func() answer {
				return w.manager.post("/v1/held-entries/"+kept+"/drop",
					body{"reason": "twice"})
			}, 409, "wrong_state",
			[]string{"The entry is recorded.", "is held, or has expired, is dropped", "is voided"}},
	})
	f := replan(plan, body{"divers": []body{{"participant_id": w.part(w.open, w.tiago),
		"start": of(2900, "bar")}}})().by("planning.not_possible")
	require.Equal(t, "/divers/0/start", f["pointer"], "where it stands in the change, not in the plan")
}

// An id says that a version is meant anew: without one, what was taught before
// could never be taught again.
func TestAnEarlierContentBecomesTheNewestVersion(t *testing.T) {
	s := open(t)
	to := "/v1/syllabuses/" +
		s.manager.post("/v1/syllabuses", body{"title": "Weekend", "built_in": syllabus.BuiltIn().Code}).made() +
		"/versions"
	content := s.manager.get(to + "/1").want(http.StatusOK).at("content")
	add := func(more body) answer {
		ask := body{"content": content}
		for k, v := range more {
			ask[k] = v
		}
		return s.manager.post(to, ask)
	}
	require.EqualValues(t, 2, add(nil).want(http.StatusCreated).at("number"))
	require.EqualValues(t, 2, add(nil).want(http.StatusOK).at("number"))
	id := newID()
	require.EqualValues(t, 3, add(body{"id": id}).want(http.StatusCreated).at("number"))
	again := add(body{"id": id}).want(http.StatusOK)
	require.Equal(t, []any{3.0, id}, pick(again, "number", "id"))
	require.Len(t, s.manager.get(to).want(http.StatusOK).list("items"), 3)
}
