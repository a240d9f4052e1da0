package httpapi_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// twins are, for each kind, two entries that say different things.
func (w *season) twins(seen time.Time) map[string][2]body {
	sofia, tiago := w.part(w.confined, w.sofia), w.part(w.confined, w.tiago)
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	outing := w.instructor.get("/v1/sessions/" + w.confined).want(http.StatusOK).at("outing_id").(string)
	start := newID()
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": start, "participant_id": sofia, "in_at": at(seen)}}}))
	of := func(kind, about string, one, other body) [2]body {
		return [2]body{entry(kind, about, one), entry(kind, about, other)}
	}
	when, later := at(seen), at(seen.Add(time.Minute))
	swim := []body{{"name": "swim-without-aids", "value": 200, "unit": "m"}}
	out := map[string][2]body{
		"roll_call": of("roll_call", w.confined,
			body{"participant_id": sofia, "attendance": "present", "witnessed_at": when},
			body{"participant_id": tiago, "attendance": "present", "witnessed_at": when}),
		"conditions": of("conditions", w.confined,
			body{"visibility": body{"value": 12, "unit": "m"}, "witnessed_at": when},
			body{"visibility": body{"value": 9, "unit": "m"}, "witnessed_at": later}),
		"head_count": of("head_count", outing, body{"phase": "departure", "figure": 4, "counted_at": when},
			body{"phase": "departure", "figure": 5, "counted_at": later}),
		"incident": of("incident", w.confined, body{"what": "A cut on the foot.", "witnessed_at": when},
			body{"what": "A cut on the hand.", "witnessed_at": when}),
		"time_in": of("time_in", dive, body{"participant_id": sofia, "in_at": later},
			body{"participant_id": tiago, "in_at": when}),
		"time_out": of("time_out", dive, body{"time_in_id": start, "out_at": at(seen.Add(time.Hour))},
			body{"time_in_id": start, "out_at": at(seen.Add(2 * time.Hour))}),
		"gas_check": of("gas_check", w.confined,
			body{"participant_id": sofia, "no_answer": true, "witnessed_at": when},
			body{"participant_id": tiago, "no_answer": true, "witnessed_at": when}),
		"gas_response": of("gas_response", w.confined,
			body{"participant_id": sofia, "what": "turned", "witnessed_at": when},
			body{"participant_id": sofia, "what": "ascent_begun", "witnessed_at": when}),
		"drill_attempt": of("drill_attempt", w.confined,
			body{"participant_id": sofia, "skill": "swim", "met": true, "measures": swim, "witnessed_at": when},
			body{"participant_id": tiago, "skill": "swim", "met": true, "measures": swim,
				"witnessed_at": when}),
		"log_completion": of("log_completion", w.confined, body{"witnessed_at": when},
			body{"witnessed_at": later}),
		"sign_off": of("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": "kit-check"},
			body{"enrolment_id": w.tiago, "skill": "kit-check"}),
	}
	for _, e := range out["sign_off"] {
		e["signed_at"] = later
	}
	return out
}

// aPhone gives the instructor's phone on a Saturday at the pool, and when it comes
// back into coverage.
func aPhone(t *testing.T) (w *season, p phone, now time.Time) {
	t.Helper()
	w = newSeason(t, open(t))
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	return w, phone{season: w, of: w.instructor, off: 3 * time.Minute, name: "hers"},
		saturday.Add(5 * time.Hour)
}

// refusedAs gives the entry of that id which is listed as refused.
func (w *season) refusedAs(id any) body {
	w.t.Helper()
	list := w.assistant.get("/v1/held-entries?state=refused&limit=200").want(http.StatusOK).list("items")
	i := slices.IndexFunc(list, func(h body) bool { return h["entry_id"] == id })
	require.GreaterOrEqual(w.t, i, 0)
	return list[i]
}

// ends writes down what the day at the pool left, without the ids.
func (w *season) ends() (out []string) {
	w.t.Helper()
	who := map[any]string{nil: "", w.part(w.confined, w.sofia): "sofia", w.part(w.confined, w.tiago): "tiago",
		w.sofia: "sofia", w.tiago: "tiago"}
	rules := func(found any) (out []string) {
		for _, f := range found.([]any) {
			out = append(out, f.(body)["rule"].(string))
		}
		slices.Sort(out)
		return out
	}
	outing := w.instructor.get("/v1/sessions/" + w.confined).at("outing_id").(string)
	for _, e := range w.instructor.get("/v1/sessions/" + w.confined +
		"/entries?limit=200").want(http.StatusOK).list("items") {
		out = append(out, fmt.Sprint(e["kind"], e["witnessed_at"], who[e["participant_id"]],
			rules(e["findings"])))
	}
	for _, c := range w.instructor.get("/v1/outings/" + outing +
		"/head-counts").want(http.StatusOK).list("items") {
		out = append(out, fmt.Sprint(c["figure"], c["counted_at"], c["on_list"]))
	}
	for _, o := range w.instructor.get("/v1/sessions/" + w.confined +
		"/sign-offs").want(http.StatusOK).list("items") {
		out = append(out, fmt.Sprint(o["skill"], o["signed_at"], who[o["enrolment_id"]], o["supports"]))
	}
	slices.Sort(out)
	return out
}

// A device promises one id for one entry. Should it break its word, nothing is
// lost: the second to arrive is kept whole, refused and listed, and stands under
// an id of its own, whichever of the two came first.
func TestTheSecondEntryUnderAnIDIsKeptAndStandsUnderItsOwn(t *testing.T) {
	var ends [2][]string
	for order := range 2 {
		w, p, now := aPhone(t)
		for kind, twins := range w.twins(saturday) {
			twins[0], twins[1] = twins[order], twins[1-order]
			twins[1]["id"] = twins[0]["id"]
			require.Equal(t, []any{"recorded"}, statuses(p.send(now, twins[0])), kind)
			for range 2 { // again and in one batch it is no other
				a := p.send(now, twins[1], twins[0])
				require.Equal(t, []any{"refused", "already_recorded"}, statuses(a), kind)
				require.Equal(t, "id_reused", a.at("items.0.problem.code"), kind)
				require.Contains(t, a.at("items.0.problem.detail"), "Send it under an id of its own.")
			}
			kept := w.refusedAs(twins[1]["id"])
			require.Equal(t, []any{kind, "id_reused"}, []any{kept["kind"], kept["problem"].(body)["code"]})
			said, err := json.Marshal(twins[1]["body"])
			require.NoError(t, err)
			here, err := json.Marshal(kept["body"])
			require.NoError(t, err)
			require.JSONEq(t, string(said), string(here), "%s: kept whole", kind)
			twins[1]["id"] = newID()
			require.Equal(t, []any{"recorded"}, statuses(p.send(now, twins[1])), kind)
		}
		ends[order] = w.ends()
	}
	require.Equal(t, ends[0], ends[1])
}

// The same words about another session are another entry.
func TestTheSameArrivalInAnotherSessionIsAnotherEntry(t *testing.T) {
	w, p, now := aPhone(t)
	came := entry("roll_call", w.confined,
		body{"unexpected": body{"person_id": w.Crew("Ana Assistant", "assistant"), "role": "assistant"},
			"attendance": "present", "witnessed_at": p.at(saturday)})
	require.Equal(t, []any{"recorded"}, statuses(p.send(now, came)))
	there := maps.Clone(came)
	there["session_id"] = w.open
	a := p.send(now, there, came)
	require.Equal(t, []any{"refused", "already_recorded"}, statuses(a))
	require.Equal(t, "id_reused", a.at("items.0.problem.code"))
	there["id"] = newID()
	require.Equal(t, []any{"recorded"}, statuses(p.send(now, there)))
}

// A sign-off is a decision and no entry of the journal: it shares no ids with
// facts, so both stand.
func TestASignOffAndAFactOfOneIDBothStand(t *testing.T) {
	w, p, now := aPhone(t)
	twins := w.twins(saturday)
	sign, check := twins["sign_off"][0], twins["gas_check"][0]
	check["id"] = sign["id"]
	require.Equal(t, []any{"recorded", "recorded"}, statuses(p.send(now, sign, check)))
	require.Equal(t, []any{"already_recorded", "already_recorded"}, statuses(p.send(now, check, sign)))
}
