package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// third returns a session of the third training dive, which adults make to 18 m, with
// everybody of the first in its one group.
func (w *season) third() (deep, group string) {
	w.t.Helper()
	deep = w.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "open", "title": "Bay 2", "site_id": w.bay,
			"starts_local": "2026-06-07T14:00", "ends_local": "2026-06-07T18:00", "training_dives": []int{3}}).made()
	group = w.group(deep)
	w.manager.post("/v1/courses/"+w.course+"/placements", body{"enrolment_ids": []string{w.sofia, w.tiago},
		"session_ids": []string{deep}, "group_name": "blue"}).want(http.StatusOK)
	for _, p := range w.manager.get("/v1/sessions/" + deep +
		"/participants").want(http.StatusOK).list("items") {
		key := p["person_id"]
		if p["enrolment_id"] != nil {
			key = p["enrolment_id"]
		}
		w.parts[w.open+key.(string)] = p["id"].(string) // so that everybody is the group of that session
	}
	return deep, group
}

// What rested on a birth date is judged again by the corrected one. Under 12s stay
// above 12 m, and a course is for those of 10 and over (training organisations'
// manuals, as the built-in syllabus cites them): a plan to 15 m was confirmed for an
// adult who is 11, and then 9.
func TestACorrectedBirthDateJudgesPlansAndEnrolmentsAgain(t *testing.T) {
	w := ready(t)
	deep, group := w.third()
	ask := w.everybody(15, 20)
	ask["group_id"] = group
	plan := w.instructor.post("/v1/sessions/"+deep+"/plans", ask).want(http.StatusCreated)
	accepting(w.instructor, "/v1/plans/"+plan.id()+"/confirm").want(http.StatusOK)
	w.telling(deep, sunday.Add(-2*time.Hour), nil)
	const rule = "planning.too_deep_since_correction"
	require.NotContains(t, w.opened(deep).rules("findings"), untold)

	sofia := "/v1/people/" + w.student.person.String()
	correct := func(birth string) answer {
		return w.manager.patch(sofia, body{"birth_on": birth, "reason": "passport seen"}).want(http.StatusOK)
	}
	require.NotContains(t, correct("2000-01-01").rules("findings"), rule, "as grown up as before")
	require.NotContains(t, w.opened(deep).rules("findings"), untold)

	a := correct("2015-01-01")
	f := a.by(rule)
	require.Equal(t, []any{"12 m", "15 m"}, []any{f["limit"].(body)["text"], f["found"].(body)["text"]})
	require.NotContains(t, a.rules("findings"), "courses.too_young")
	a.by("roster.minor_consent")
	now := w.opened(deep)
	require.Equal(t, false, now.at("allowed"))
	now.by(rule)
	require.Equal(t, "Sofia Student", now.by(untold)["params"].(body)["person"].(body)["name"],
		"the plan tells the child nothing")
	day := w.instructor.get("/v1/people/" + w.instructor.person.String() +
		"/days/2026-06-07").want(http.StatusOK)
	require.Contains(t, append(day.rules("sessions.0.findings"), day.rules("sessions.1.findings")...), rule)

	correct("2017-01-01").by("courses.too_young")
	correct("1995-05-05")
	require.NotContains(t, w.opened(deep).rules("findings"), untold,
		"a plan that was right all along tells it again")
}

// Pressures that a briefing told for a depth that it named are judged again too; those
// for a depth that nobody named were not judged by age. Under 12s stay above 12 m
// (training organisations' manuals, as the built-in syllabus cites them).
func TestACorrectedBirthDateJudgesBriefingsAgain(t *testing.T) {
	w := ready(t)
	deep, _ := w.third()
	told := func(minute int, more body) {
		w.telling(deep, sunday.Add(time.Duration(minute-120)*time.Minute),
			body{"pressures": body{"low": of(90, "bar")}, "dive": more})
	}
	correct := func(birth string) answer {
		return w.manager.patch("/v1/people/"+w.student.person.String(),
			body{"birth_on": birth, "reason": "passport seen"}).
			want(http.StatusOK)
	}
	const rule = "planning.too_deep_since_correction"
	told(0, body{"planned_time": of(20, "min")})
	require.NotContains(t, correct("2015-01-01").rules("findings"), rule, "no depth was named")
	require.NotContains(t, w.opened(deep).rules("findings"), untold)

	correct("1995-05-05")
	told(1, body{"depth": of(15, "m"), "planned_time": of(20, "min")})
	require.NotContains(t, w.opened(deep).rules("findings"), untold)
	f := correct("2015-01-01").by(rule)
	require.Equal(t, []any{"12 m", "15 m"}, []any{f["limit"].(body)["text"], f["found"].(body)["text"]})
	now := w.opened(deep)
	require.Equal(t, "Sofia Student", now.by(untold)["params"].(body)["person"].(body)["name"],
		"told for 15 m, and a child")
	require.Contains(t, now.by(untold)["message"], "What the briefing told them is refused.")
	now.by(rule)

	// And the other way about: refused to the child that she was held to be.
	told(2, body{"depth": of(15, "m"), "planned_time": of(20, "min")})
	was := w.opened(deep)
	was.by("gas.depth_over_person")
	require.NotContains(t, was.rules("findings"), rule)
	require.NotContains(t, correct("1995-05-05").rules("findings"), rule)
	require.NotContains(t, w.opened(deep).rules("findings"), untold, "her own age allows it")
}
