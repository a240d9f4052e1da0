package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// look is a gas check of Sofia in the open-water session.
func (w *season) look(when time.Time, read, said float64) body {
	c := body{"id": newID(), "participant_id": w.part(w.open, w.sofia), "depth": body{"value": 9, "unit": "m"},
		"witnessed_at": at(when)}
	if read > 0 {
		c["reading"] = body{"value": read, "unit": "bar"}
	}
	if said > 0 {
		c["signalled"] = body{"value": said, "unit": "bar"}
	}
	return c
}

func TestTheWatchIsReadByTheCrewAndByPrograms(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(sunday.Add(time.Hour))
	to := "/v1/sessions/" + w.open
	w.recorded(w.assistant.post(to+"/gas-checks", body{"items": []body{w.look(sunday, 150, 150)}}))
	w.student.get(to+"/watch").refused(http.StatusForbidden, "missing_role")
	for _, c := range []*client{w.manager, w.instructor, w.assistant, w.program} {
		c.get(to + "/watch").want(http.StatusOK)
	}
	var seen bool
	for _, d := range w.instructor.get(to + "/watch").list("items") {
		if d["participant_id"] == w.part(w.open, w.sofia) {
			seen = d["last"].(body)["verdict"] == "right"
		}
	}
	if !seen {
		t.Fatal("Sofia's last look is not shown")
	}
}

func TestWhatWasDoneAboutGasIsRecordedAndRead(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(sunday.Add(2 * time.Hour))
	to := "/v1/sessions/" + w.open
	sofia := w.part(w.open, w.sofia)
	dive := w.instructor.get(to).list("dives")[0]["id"].(string)
	start := newID()
	w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": start, "participant_id": sofia, "in_at": at(sunday),
			"start_pressure": body{"value": 200, "unit": "bar"}}}}))
	w.recorded(w.assistant.post(to+"/gas-checks",
		body{"items": []body{w.look(sunday.Add(4*time.Minute), 160, 160),
			w.look(sunday.Add(2*time.Minute), 180, 190)}}))
	turned := body{"id": newID(), "participant_id": sofia, "what": "turned", "note": "all of us",
		"witnessed_at": at(sunday.Add(5 * time.Minute))}
	w.recorded(w.assistant.post(to+"/responses", body{"items": []body{turned}}))
	require.Equal(t, "already_recorded",
		w.assistant.post(to+"/responses",
			body{"items": []body{turned}}).want(http.StatusOK).at("items.0.status"))
	turned["id"], turned["what"] = newID(), "danced"
	w.assistant.post(to+"/responses", body{"items": []body{turned}}).refused(http.StatusBadRequest,
		"invalid_request")
	turned["what"], turned["participant_id"] = "turned", w.part(w.confined, w.sofia)
	require.Equal(t, "unknown_reference",
		w.assistant.post(to+"/responses",
			body{"items": []body{turned}}).want(http.StatusOK).at("items.0.problem.code"))

	complete := body{"id": newID(), "dive_id": dive, "witnessed_at": at(sunday.Add(time.Hour))}
	w.recorded(w.instructor.post(to+"/log-completions", body{"items": []body{complete}}))
	w.student.post(to+"/log-completions", body{"items": []body{complete}}).want(http.StatusForbidden)
	w.student.post(to+"/responses", body{"items": []body{turned}}).want(http.StatusForbidden)

	a := w.program.get(to + "/gas-log").want(http.StatusOK)
	require.Equal(t, []any{false, complete["id"]}, pick(a, "log_complete", "completions.0.id"))
	d := divers(a, sofia)
	log := d["dives"].([]any)[0].(body)
	require.Equal(t, []any{dive, true}, []any{log["dive_id"], log["log_complete"]})
	require.Len(t, log["checks"], 2)
	require.Equal(t, "all of us", log["responses"].([]any)[0].(body)["note"])
	require.Equal(t, "over_reported", d["verdicts"].([]any)[0].(body)["verdict"])
	require.Equal(t, http.StatusNotModified,
		w.program.get(to+"/gas-log", "If-None-Match", a.header.Get("ETag")).status)
	w.student.get(to+"/gas-log").refused(http.StatusForbidden, "missing_role")
	require.Len(t, w.instructor.get(to+
		"/entries?kind=gas_response&kind=log_completion").want(http.StatusOK).ids(), 2)

	w.instructor.post("/v1/entries/"+complete["id"].(string)+"/void",
		body{"reason": "two slates are still wet"}).want(http.StatusOK)
	require.Empty(t, w.instructor.get(to+"/gas-log").list("completions"))
}

// divers finds a participant in a gas log or watch.
func divers(a answer, participant string) body {
	a.t.Helper()
	for _, d := range a.list("items") {
		if d["participant_id"] == participant {
			return d
		}
	}
	require.Fail(a.t, "not there", "%s: %s", a.asked, a.text)
	return nil
}

// A student reads their own progress, history and dives, and nobody else's.
func TestAStudentSeesOnlyTheOwn(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(sunday.Add(2 * time.Hour))
	w.recorded(w.assistant.post("/v1/sessions/"+w.open+"/gas-checks",
		body{"items": []body{w.look(sunday, 187, 190), w.look(sunday.Add(2*time.Minute), 150, 150)}}))
	own := "/v1/people/" + w.student.person.String() + "/gas-history"
	a := w.student.get(own).want(http.StatusOK)
	require.Equal(t, []any{"Bay 1", "over_reported"}, pick(a, "items.0.title", "items.0.checks.0.verdict"))
	w.student.get("/v1/enrolments/" + w.sofia + "/progress").want(http.StatusOK)
	w.student.get("/v1/enrolments/" + w.sofia + "/record").want(http.StatusOK)
	w.program.get(own + "?limit=1").want(http.StatusOK)

	tiago := w.manager.get("/v1/enrolments/" + w.tiago).at("person_id").(string)
	w.instructor.get("/v1/people/" + tiago + "/gas-history").want(http.StatusOK)
	w.student.get("/v1/people/"+tiago+"/gas-history").refused(http.StatusNotFound, "not_found")
	w.student.get("/v1/enrolments/"+w.tiago+"/progress").refused(http.StatusNotFound, "not_found")
	w.student.get("/v1/enrolments/"+w.tiago+"/record").refused(http.StatusNotFound, "not_found")
	w.instructor.get(own+"?cursor=xx").refused(http.StatusBadRequest, "bad_cursor")
}

// How it was signalled is kept as it was seen; who shows the gauge itself leaves
// no report to judge.
func TestHowAReportWasSignalledIsKept(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(sunday.Add(time.Hour))
	to := "/v1/sessions/" + w.open + "/gas-checks"
	with := func(check body, how string) body {
		check["signalled_with"] = how
		return check
	}
	w.recorded(w.instructor.post(to,
		body{"items": []body{with(w.look(sunday, 187, 180), "one_hand"),
			with(w.look(sunday.Add(time.Minute), 175, 170), "two_hands"),
			with(w.look(sunday.Add(2*time.Minute), 165, 0), "gauge"), w.look(sunday.Add(3*time.Minute), 155,
				150)}}))
	var got []any
	for _, c := range w.instructor.get(to).want(http.StatusOK).list("items") {
		got = append(got, c["signalled_with"], c["verdict"])
	}
	require.Equal(t, []any{"one_hand", "right", "two_hands", "right", "gauge", "unverified", nil, "right"}, got)
	a := w.instructor.post(to, body{"items": []body{with(w.look(sunday, 0, 180), "gauge")}}).want(http.StatusOK)
	require.Equal(t, []any{"refused", "/items/0/reading"},
		[]any{a.at("items.0.status"), a.at("items.0.problem.findings.0.pointer")})
	w.instructor.post(to, body{"items": []body{with(w.look(sunday, 187, 180),
		"torch")}}).refused(http.StatusBadRequest, "invalid_request")
}
