package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// cautions returns the cautions of an answer.
func cautions(list []body) (out []body) {
	for _, f := range list {
		if f["severity"] == "caution" {
			out = append(out, f)
		}
	}
	return out
}

// taking returns the acceptance of a caution.
func taking(f body, reason string) body {
	return body{"rule": f["rule"], "subject_id": f["subjects"].([]any)[0].(body)["id"], "reason": reason}
}

// Of a plan with several cautions of which one is accepted, a client can tell which are open, and of a
// confirmed plan who accepted each of them, when and why.
func TestACautionNeedsAnAcceptanceOrSaysWhoAcceptedIt(t *testing.T) {
	w := newSeason(t, open(t))
	first := w.planGas(w.everybody(10, 20))
	plan := w.instructor.post("/v1/plans/"+first.id()+"/replan", body{"reason": "the assistant stays ashore",
		"leave_out": []string{w.part(w.open, w.assistant.person.String())},
		"settings":  body{"stop_time": of(2, "min")}}).want(http.StatusCreated)
	for _, f := range plan.list("findings") {
		require.Equal(t, f["severity"] == "caution", f["needs_acceptance"], f["message"])
		require.Nil(t, f["accepted"])
	}
	to := "/v1/plans/" + plan.id() + "/confirm"
	open := cautions(w.instructor.post(to, nil).refused(http.StatusUnprocessableEntity,
		"cautions_open").list("findings"))
	require.Greater(t, len(open), 1)

	one := body{"accept": []body{taking(open[0], "seen in the pool")}}
	half := cautions(w.instructor.post(to, one).refused(http.StatusUnprocessableEntity,
		"cautions_open").list("findings"))
	require.Len(t, half, len(open))
	require.Equal(t, false, half[0]["needs_acceptance"])
	half[0]["accepted"].(body)["at"] = "now"
	by := body{"by": w.instructor.person.String(), "by_name": "Ines Instructor", "at": "now",
		"reason": "seen in the pool"}
	require.Equal(t, by, half[0]["accepted"])
	for _, f := range half[1:] {
		require.Equal(t, []any{true, nil}, []any{f["needs_acceptance"], f["accepted"]}, f["message"])
	}

	all := []body{}
	for _, f := range open {
		all = append(all, taking(f, "seen in the pool"))
	}
	by["at"] = w.instructor.post(to, body{"accept": all}).want(http.StatusOK).at("confirmed.at")
	for _, list := range []string{"findings", "confirmed.findings"} {
		for _, f := range cautions(w.assistant.get("/v1/plans/" + plan.id()).want(http.StatusOK).list(list)) {
			require.Equal(t, []any{false, by}, []any{f["needs_acceptance"], f["accepted"]}, f["message"])
		}
	}
}

// The day shows what the opening will ask to accept, and after it who accepted it.
func TestADaySaysWhatItsOpeningNeedsAccepted(t *testing.T) {
	const rule = "ratio.leader_not_diving"
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	w.Clock(sunday)
	w.brief(w.open, sunday)
	w.instructor.patch("/v1/participants/"+w.part(w.open, w.instructor.person.String()),
		body{"not_diving": true}).want(http.StatusOK)
	to, day := "/v1/sessions/"+w.open+"/open", "/v1/people/"+w.instructor.person.String()+"/days/2026-06-07"
	onDay := func() body {
		for _, f := range w.instructor.get(day).want(http.StatusOK).list("sessions.0.findings") {
			if f["rule"] == rule {
				return f
			}
		}
		return nil
	}
	f := onDay()
	require.Equal(t, []any{true, nil}, []any{f["needs_acceptance"], f["accepted"]})
	accept := taking(f, "the assistant leads in the water")
	bySession := body{"rule": rule, "subject_id": w.open, "reason": "all of them"}
	w.instructor.post(to, body{"accept": []body{bySession}}).refused(http.StatusUnprocessableEntity,
		"cautions_open")

	opened := w.instructor.post(to, body{"accept": []body{accept}}).want(http.StatusOK).by(rule)
	require.Equal(t, false, opened["needs_acceptance"])
	require.Equal(t, "Ines Instructor", opened["accepted"].(body)["by_name"])
	f = onDay()
	require.Equal(t, []any{false, opened["accepted"]}, []any{f["needs_acceptance"], f["accepted"]})
}
