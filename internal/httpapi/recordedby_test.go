package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Whoever reads what somebody witnessed sees whose token entered it: another's word
// that one assistant enters is not two people's word.
func TestWhoEnteredItStandsBesideWhoSawIt(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(2 * time.Hour))
	stream := s.boss.watch(s.station(t), w.live(w.confined))
	stream.until("snapshot")
	saw, entered := w.instructor.person.String(), w.assistant.person.String()
	on, sofia := "/v1/sessions/"+w.confined, w.part(w.confined, w.sofia)
	post := func(path string, item body) {
		t.Helper()
		item["id"], item["witnessed_by"], item["witnessed_at"] = newID(), saw, at(saturday.Add(time.Hour))
		w.recorded(w.assistant.post(path, body{"items": []body{item}}))
	}
	both := func(x body) {
		t.Helper()
		require.Equal(t, []any{saw, entered}, []any{x["witnessed_by"], x["recorded_by"]}, x)
	}

	post(on+"/roll-calls", body{"participant_id": sofia, "attendance": "present"})
	_, called := stream.until("roll_call")
	both(called.event(t)["data"].(body))

	dive := w.instructor.get(on + "/dives").want(http.StatusOK).ids()[0]
	w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": newID(), "participant_id": sofia, "in_at": at(saturday)}}}))
	post(on+"/responses", body{"participant_id": sofia, "what": "turned"})
	_, turned := stream.until("gas_response")
	both(turned.event(t)["data"].(body))
	post(on+"/log-completions", body{})
	log := w.instructor.get(on + "/gas-log").want(http.StatusOK)
	both(log.list("completions")[0])
	for _, d := range log.list("items") {
		if d["participant_id"] == sofia {
			both(d["dives"].([]any)[0].(body)["responses"].([]any)[0].(body))
		}
	}

	briefing := w.brief(w.confined, saturday)
	w.student.post("/v1/briefings/"+briefing+"/acknowledge", body{}).want(http.StatusOK)
	post("/v1/briefings/"+briefing+"/acknowledgements", body{"person_id": s.student.person, "how": "said_so"})
	for _, p := range w.instructor.get("/v1/briefings/" + briefing).want(http.StatusOK).list("people") {
		if p["person_id"] == s.student.person.String() {
			require.NotNil(t, p["acknowledgement"].(body)["recorded_by"])
		}
	}
}
