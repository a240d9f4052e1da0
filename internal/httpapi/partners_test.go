package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A plan gives the others enough gas for themselves and Tiago, who then does not
// dive. (Gas for two divers to the surface: common
// practice.)
func TestAPlanThatRestsOnSomebodyWhoDoesNotDiveIsPointedOut(t *testing.T) {
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	ask := w.everybody(10, 20)
	ask["divers"].([]body)[3]["breathing_rate"] = of(27, "L/min") // gas is shared with whoever breathes most
	plan := w.planGas(ask)
	accepting(w.instructor, "/v1/plans/"+plan.id()+"/confirm").want(http.StatusOK)
	w.Clock(sunday)
	w.brief(w.open, sunday)
	keys := map[any]string{} // participants by their keys in the plan
	for _, p := range plan.list("plan.input.divers") {
		keys[p["key"]] = p["participant_id"].(string)
	}
	var rests []string // on Tiago
	tiago := w.part(w.open, w.tiago)
	for _, p := range plan.list("plan.people") {
		if keys[p["shares_with"]] == tiago {
			rests = append(rests, keys[p["key"]])
		}
	}
	require.NotEmpty(t, rests)
	opening := func() answer {
		return w.instructor.post("/v1/sessions/"+w.open+"/open?dry_run=true", nil).want(http.StatusOK)
	}
	require.NotContains(t, opening().rules("findings"), "planning.partner_away")
	second := 0
	call := func(attendance string) answer {
		second++
		return w.recorded(w.instructor.post("/v1/sessions/"+w.open+"/roll-calls", body{"items": []body{
			{"id": newID(), "participant_id": tiago, "attendance": attendance,
				"witnessed_at": at(sunday.Add(time.Duration(second) * time.Second))}}}))
	}
	for attendance, words := range map[string]string{"sat_out": "Tiago Student sits out, and ",
		"absent": "Tiago Student is absent, and ", "left_early": "Tiago Student left early, and "} {
		a := call(attendance)
		require.Contains(t, a.rules("items.0.findings"), "planning.partner_away")
		f := opening().by("planning.partner_away")
		require.Contains(t, f["message"], words)
		require.Contains(t, f["message"], "share gas with them. It still rests on that.")
		require.Equal(t, tiago, f["subjects"].([]any)[1].(body)["id"])
	}
	watched := func() (out []any) {
		for _, d := range w.instructor.get("/v1/sessions/" + w.open +
			"/watch").want(http.StatusOK).list("items") {
			for _, f := range d["findings"].([]any) {
				if f.(body)["rule"] == "planning.partner_away" {
					out = append(out, d["participant_id"])
				}
			}
		}
		return out
	}
	require.ElementsMatch(t, anys(rests), watched())
	call("present")
	require.Empty(t, watched())
	w.assistant.post("/v1/people/"+w.manager.get("/v1/participants/"+tiago).at("person_id").(string)+
		"/unfit-marks", body{"unfit_on": "2026-06-07"}).made()
	require.ElementsMatch(t, anys(rests), watched())
}
