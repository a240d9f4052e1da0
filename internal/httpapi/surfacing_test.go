package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A session is broken off for a thunderstorm while two are in the water. What is
// seen of them afterwards is taken as it is; who goes in anew is pointed out, and
// so is what comes hours later. (Our choice.)
func TestWhoSurfacesAfterTheEndIsRecordedWithoutMore(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	pool := "/v1/sessions/" + w.confined
	w.instructor.post(pool+"/open", nil).want(http.StatusOK)
	dive := w.manager.get(pool + "/dives").want(http.StatusOK).list("items")[0]["id"].(string)
	in := func(who string, minute int) (string, answer) {
		id := newID()
		return id, w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
			body{"items": []body{{"id": id, "participant_id": w.part(w.confined, who),
				"in_at": at(saturday.Add(time.Duration(minute) * time.Minute))}}}))
	}
	w.Clock(saturday.Add(30 * time.Minute))
	sofia, _ := in(w.sofia, 10)
	tiago, _ := in(w.tiago, 10)
	w.assistant.post(pool+"/abandon", body{"reason": "thunderstorm"}).want(http.StatusOK)
	w.Clock(saturday.Add(5 * time.Hour))
	out := func(start string, minute int) (string, answer) {
		id := newID()
		return id, w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-out",
			body{"items": []body{{"id": id, "time_in_id": start,
				"out_at": at(saturday.Add(time.Duration(minute) * time.Minute))}}}))
	}
	check := w.recorded(w.instructor.post(pool+"/gas-checks",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"reading": of(120, "bar"), "witnessed_at": at(saturday.Add(32 * time.Minute))}}}))
	require.NotContains(t, check.rules("items.0.findings"), "training.session_not_under_way")
	id, a := out(sofia, 34)
	require.NotContains(t, a.rules("items.0.findings"), "training.session_not_under_way")
	require.Equal(t, "Sofia Student was still in the water when the session was abandoned; this was 4 min later. It is recorded, and nothing else is to be done.",
		a.list("items.0.findings")[0]["message"])
	read := w.manager.get("/v1/entries/" + id).want(http.StatusOK)
	require.Contains(t, read.rules("findings"), "training.out_after_end")
	require.NotContains(t, read.rules("findings"), "training.session_not_under_way")
	_, a = in(w.sofia, 40)
	require.Contains(t, a.rules("items.0.findings"), "training.session_not_under_way",
		"a time in after the end")
	_, a = out(tiago, 200)
	require.Contains(t, a.rules("items.0.findings"), "training.session_not_under_way", "hours later")
}
