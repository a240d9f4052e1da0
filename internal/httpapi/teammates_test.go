package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Nobody planned: whom somebody shares gas with is whom they went in with. (Nobody
// dives without a buddy: common practice.)
func TestATeamMateWhoDoesNotDiveIsPointedOutWithoutAPlan(t *testing.T) {
	const rule = "training.team_mate_away"
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(2 * time.Hour))
	to := "/v1/sessions/" + w.confined
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post(to+"/open", nil).want(http.StatusOK)
	sofia, tiago := w.part(w.confined, w.sofia), w.part(w.confined, w.tiago)
	helper := w.part(w.confined, w.assistant.person.String())
	dive := w.instructor.get(to + "/dives").want(http.StatusOK).at("items.0.id").(string)
	in := func(who string, team any, when time.Time) body {
		return body{"id": newID(), "participant_id": who, "in_at": at(when), "start_pressure": of(200, "bar"),
			"team": team}
	}
	hers, his := in(sofia, "A", saturday.Add(time.Minute)), in(tiago, "A", saturday.Add(time.Minute))
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{hers, his, in(helper, "B", saturday.Add(time.Minute))}}))
	second := 120
	call := func(who, attendance string) answer {
		second++
		return w.recorded(w.instructor.post(to+"/roll-calls", body{"items": []body{
			{"id": newID(), "participant_id": who, "attendance": attendance,
				"witnessed_at": at(saturday.Add(time.Duration(second) * time.Second))}}}))
	}
	watched := func() (out []any) {
		for _, d := range w.instructor.get(to + "/watch").want(http.StatusOK).list("items") {
			for _, f := range d["findings"].([]any) {
				if f.(body)["rule"] == rule {
					out = append(out, d["participant_id"])
				}
			}
		}
		return out
	}
	require.Empty(t, watched())
	for attendance, words := range map[string]string{"sat_out": "sits out", "absent": "is absent",
		"left_early": "left early"} {
		a := call(tiago, attendance)
		require.Contains(t, a.rules("items.0.findings"), rule)
		require.Equal(t, []any{sofia}, watched(), "Sofia, and nobody of team B")
		for _, d := range w.instructor.get(to + "/watch").list("items") {
			for _, f := range d["findings"].([]any) {
				if f.(body)["rule"] == rule {
					require.Equal(t, "Tiago Student "+words+
						`, and Sofia Student went in with them as team "A" on dive 1.`, f.(body)["message"])
				}
			}
		}
	}
	call(tiago, "present")
	require.Empty(t, watched())
	w.assistant.post("/v1/people/"+w.manager.get("/v1/participants/"+tiago).at("person_id").(string)+
		"/unfit-marks", body{"unfit_on": "2026-06-06"}).made()
	require.Equal(t, []any{sofia}, watched())

	// Whoever goes in with somebody else has another buddy.
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": hers["id"],
			"out_at":       at(saturday.Add(20 * time.Minute)),
			"end_pressure": of(150, "bar")}}}))
	require.Equal(t, []any{sofia}, watched(), "who is out goes in again")
	again := in(sofia, "B", saturday.Add(30*time.Minute))
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in", body{"items": []body{again}}))
	require.Empty(t, watched())
	w.instructor.post("/v1/entries/"+again["id"].(string)+"/void",
		body{"reason": "another diver"}).want(http.StatusOK)
	require.Equal(t, []any{sofia}, watched())

	// A team mate's time in that was voided makes no team.
	w.instructor.post("/v1/entries/"+his["id"].(string)+"/void",
		body{"reason": "never went in"}).want(http.StatusOK)
	require.Empty(t, watched())
}
