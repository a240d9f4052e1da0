package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestASessionIsOpenedOnlyForWhoeverIsReady(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	to := "/v1/sessions/" + w.open
	w.instructor.post(to+"/open", nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Equal(t, false, w.instructor.post(to+"/open?dry_run=true", nil).want(http.StatusOK).at("allowed"))
	to = "/v1/sessions/" + w.confined
	mark := w.assistant.post("/v1/people/"+w.student.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-06"}).made()
	w.instructor.post(to+"/open", nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	other := w.Crew("Vera Lund", "instructor")
	a := w.as(other).post("/v1/unfit-marks/"+mark+"/lift",
		body{"reason": "looks well"}).refused(http.StatusForbidden, "missing_role")
	require.Contains(t, a.at("detail"), "the instructor in charge of",
		"an instructor who has no charge of them that day")
	w.instructor.post("/v1/unfit-marks/"+mark+"/lift", body{"reason": "slept it off"}).want(http.StatusOK)
	w.brief(w.confined, saturday)
	w.instructor.post(to+"/open", nil, "If-Match", `"9"`).refused(http.StatusPreconditionFailed,
		"stale_version")
	require.Equal(t, "under_way", w.instructor.post(to+"/open", nil).want(http.StatusOK).at("state"))
	w.instructor.post(to+"/open", nil).want(http.StatusOK)
	w.assistant.post(to+"/close", nil, "If-Match", `"1"`).refused(http.StatusPreconditionFailed,
		"stale_version")
	a = w.assistant.post(to+"/close", body{"log_complete": true}).want(http.StatusOK)
	require.Equal(t, []any{"closed", true}, pick(a, "state", "log_complete"))
}

func TestFactsOfTheDayAreTakenDownAndVoided(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	to := "/v1/sessions/" + w.confined
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post(to+"/open", nil).want(http.StatusOK)
	call := body{"id": newID(), "participant_id": w.part(w.confined, w.assistant.person.String()),
		"attendance": "left_early", "witnessed_at": at(saturday)}
	w.recorded(w.instructor.post(to+"/roll-calls", body{"items": []body{call}}))
	require.Equal(t, "already_recorded",
		w.instructor.post(to+"/roll-calls",
			body{"items": []body{call}}).want(http.StatusOK).at("items.0.status"))
	call["attendance"] = "present"
	require.Equal(t, "id_reused",
		w.instructor.post(to+"/roll-calls",
			body{"items": []body{call}}).want(http.StatusOK).at("items.0.problem.code"))
	report := body{"id": newID(), "visibility": body{"value": 1.5, "unit": "m"}, "witnessed_at": at(saturday)}
	w.assistant.post(to+"/conditions", report).made()
	w.assistant.post(to+"/conditions", report).want(http.StatusOK)
	report["note"] = "milky"
	w.assistant.post(to+"/conditions", report).refused(http.StatusConflict, "id_reused")
	w.assistant.post(to+"/conditions",
		body{"visibility": body{"value": 1, "unit": "m"}, "witnessed_at": at(saturday.Add(2 * time.Hour))}).
		refused(http.StatusBadRequest, "invalid_request")
	incident := body{"id": newID(), "what": "A cut on the foot.", "witnessed_at": at(saturday)}
	w.assistant.post(to+"/incidents", incident).made()
	incident["what"] = "A cut on the hand."
	w.assistant.post(to+"/incidents", incident).refused(http.StatusConflict, "id_reused")
	require.Len(t, w.assistant.get(to+"/incidents").want(http.StatusOK).ids(), 1)
	require.Len(t, w.assistant.get(to+"/entries?kind=conditions&kind=incident").want(http.StatusOK).ids(), 2)
	entry := "/v1/entries/" + report["id"].(string)
	w.assistant.get(entry).want(http.StatusOK)
	w.program.post(entry+"/void", body{"reason": "wrong pool"}).refused(http.StatusForbidden, "missing_role")
	for range 2 { // again does no harm
		require.Equal(t, "wrong pool",
			w.assistant.post(entry+"/void", body{"reason": "wrong pool"}).want(http.StatusOK).at("void_reason"))
	}
	require.Equal(t, "abandoned",
		w.assistant.post(to+"/abandon", body{"reason": "thunder"}).want(http.StatusOK).at("state"))
	w.assistant.post(to+"/abandon", body{"reason": "again"}, "If-Match", `"1"`).want(http.StatusOK)
}

// Common practice: a reading is reported rounded down, to 100 psi or 10 bar;
// 1750 psi reported as 1800 says more gas than there is.
func TestGasIsLoggedAsItWasReadAndJudgedAsItWasReported(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia := w.part(w.confined, w.sofia)
	w.program.patch("/v1/participants/"+sofia, body{"gauge_unit": "psi"}).want(http.StatusOK)
	psi := func(n float64) body { return body{"value": n, "unit": "psi"} }
	check := func(read, said body) body {
		return body{"id": newID(), "participant_id": sofia, "reading": read, "signalled": said,
			"witnessed_at": at(saturday)}
	}
	list := "/v1/sessions/" + w.confined + "/gas-checks"
	w.recorded(w.assistant.post(list,
		body{"items": []body{check(psi(1750), psi(1800)), check(psi(1750), psi(1700))}}))
	var verdicts []any
	for _, c := range w.instructor.get(list + "?participant_id=" + sofia).want(http.StatusOK).list("items") {
		require.Equal(t, psi(1750), c["reading"])
		verdicts = append(verdicts, c["verdict"])
	}
	require.ElementsMatch(t, []any{"over_reported", "right"}, verdicts)
	// Impossible pressures and a witness ahead of the clock break the contract;
	// what stands beside them is recorded.
	late := check(psi(1000), psi(1000))
	late["witnessed_at"] = at(saturday.Add(2 * time.Hour))
	a := w.assistant.post(list,
		body{"items": []body{check(psi(5100), psi(1000)), late, check(psi(900), psi(900))}}).want(http.StatusOK)
	require.Equal(t, []any{"refused", "refused", "recorded"},
		[]any{a.at("items.0.status"), a.at("items.1.status"), a.at("items.2.status")})
	w.assistant.post(list, body{"items": []body{check(psi(-1), psi(1))}}).refused(http.StatusBadRequest,
		"invalid_request")
	w.assistant.post(list, body{"items": []body{check(body{"value": 18, "unit": "m"},
		psi(1))}}).refused(http.StatusBadRequest, "invalid_request")
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	in := body{"id": newID(), "participant_id": sofia, "in_at": at(saturday), "start_pressure": psi(3000),
		"team": "A"}
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in", body{"items": []body{in}}))
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": in["id"], "out_at": at(saturday.Add(30 * time.Minute)),
			"depth": body{"value": 2, "unit": "m"}, "end_pressure": psi(1500)}}}))
	w.student.get(list).want(http.StatusForbidden)
}

func TestSkillsAreSignedByWhoSawThem(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	list := "/v1/sessions/" + w.confined + "/sign-offs"
	sign := func(c *client, query string,
		items ...body) answer {
		return c.post(list+query, body{"items": items})
	}
	wish := body{"id": newID(), "enrolment_id": w.sofia, "skill": "swim"}
	a := sign(w.instructor, "", wish).want(http.StatusOK)
	require.Equal(t, "rules_refused", a.at("items.0.problem.code"), "nothing was seen yet")
	require.Equal(t, false, sign(w.instructor, "?dry_run=true", wish).want(http.StatusOK).at("allowed"))
	w.swum(saturday)
	require.Len(t, w.instructor.get("/v1/sessions/"+w.confined+"/drill-attempts").want(http.StatusOK).ids(), 1)
	require.Equal(t, true, sign(w.instructor, "?dry_run=true", wish).want(http.StatusOK).at("allowed"))
	require.Empty(t, w.instructor.get(list).want(http.StatusOK).ids(), "only asked")
	sign(w.assistant, "", wish).refused(http.StatusForbidden, "missing_scope")
	sign(w.program, "", wish).refused(http.StatusForbidden, "missing_scope")
	w.recorded(sign(w.instructor, "", wish))
	require.Equal(t, "already_recorded", sign(w.instructor, "", wish).want(http.StatusOK).at("items.0.status"))
	to := "/v1/sign-offs/" + wish["id"].(string)
	w.student.get(to).want(http.StatusOK)
	require.Equal(t, []any{wish["id"]},
		anys(w.student.get("/v1/enrolments/"+w.sofia+"/sign-offs").want(http.StatusOK).ids()))
	other := w.as(w.Crew("Rui Instructor", "instructor"))
	other.post(to+"/void", body{"reason": "I doubt it"}).refused(http.StatusForbidden,
		"missing_role").by("syllabus.void_by_other")
	require.Equal(t, true, w.instructor.post(to+"/void?dry_run=true",
		body{"reason": "the wrong student"}).want(http.StatusOK).at("allowed"))
	require.Equal(t, "the wrong student",
		w.instructor.post(to+"/void",
			body{"reason": "the wrong student"}).want(http.StatusOK).at("void_reason"))
	w.student.get("/v1/enrolments/" + w.sofia + "/progress").want(http.StatusOK)
	w.student.get("/v1/enrolments/"+w.tiago+"/progress").refused(http.StatusNotFound, "not_found")
	w.instructor.get("/v1/courses/" + w.course + "/progress").want(http.StatusOK)
	a = w.instructor.get("/v1/courses/"+w.course+"/progress", "Accept", "text/csv").want(http.StatusOK)
	require.True(t, strings.HasPrefix(a.header.Get("Content-Type"), "text/csv"), a.header.Get("Content-Type"))
}

func anys(list []string) (out []any) {
	for _, s := range list {
		out = append(out, s)
	}
	return out
}

func TestACompletionIsGrantedWhenNothingIsMissing(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(sunday)
	to := "/v1/enrolments/" + w.tiago
	w.instructor.post(to+"/completions", nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	w.credit(w.tiago, true)
	result := body{"id": newID(), "part": "planning", "percent": 86, "witnessed_at": at(sunday)}
	w.instructor.post(to+"/theory-results", result).made()
	result["percent"] = 90
	w.instructor.post(to+"/theory-results", result).refused(http.StatusConflict, "id_reused")
	w.instructor.post(to+"/theory-results",
		body{"part": "astrology", "percent": 86,
			"witnessed_at": at(sunday)}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	require.Len(t, w.instructor.get(to+"/theory-results").want(http.StatusOK).ids(), 1)
	require.Equal(t, true, w.instructor.post(to+"/completions?dry_run=true",
		nil).want(http.StatusOK).at("allowed"))
	id := w.instructor.post(to+"/completions", nil).made()
	require.Equal(t, "completed", w.manager.get(to).at("state"))
	require.Equal(t, []string{id}, w.instructor.get(to+"/completions").want(http.StatusOK).ids())
	w.instructor.get(to + "/record").want(http.StatusOK)
	w.instructor.post("/v1/completions/"+id+"/void", body{"reason": "dive 3 was not done"}).want(http.StatusOK)
	w.instructor.post("/v1/completions/"+id+"/void", body{"reason": "again"}).want(http.StatusOK)
	require.Equal(t, "active", w.manager.get(to).at("state"))
	credit := w.instructor.get(to + "/credits").want(http.StatusOK).ids()[0]
	w.instructor.post("/v1/credits/"+credit+"/void", body{"reason": "of somebody else"}).want(http.StatusOK)
	w.instructor.post(to+"/completions", nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	second := w.instructor.post(to+"/credits",
		body{"id": credit, "what": "skill", "code": "swim", "done_at_centre": "F", "done_by": "T",
			"done_on": "2026-04-01", "document": "d"})
	second.refused(http.StatusConflict, "id_reused")
}
