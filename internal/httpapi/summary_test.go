package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/syllabus"
)

// Every kind of entry that the contract names says what it says, in one sentence
// and in the units as they were read.
func TestEveryKindOfEntryHasASummary(t *testing.T) {
	doc, err := libopenapi.NewDocument(api.Document)
	require.NoError(t, err)
	model, err := doc.BuildV3Model()
	require.NoError(t, err)
	var known []string
	kind, ok := model.Model.Components.Schemas.GetOrZero("Entry").Schema().Properties.Get("kind")
	require.True(t, ok)
	require.NoError(t, kind.Schema().Extensions.GetOrZero("x-known-values").Decode(&known))
	require.NotEmpty(t, known)

	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	p := phone{season: w, of: w.assistant, name: "phone 7"}
	sofia := w.part(w.confined, w.sofia)
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	outing := w.outingOf(w.confined)
	seen := saturday.Add(30 * time.Minute)
	when := p.at(seen)
	in := entry("time_in", dive,
		body{"participant_id": sofia, "in_at": when, "start_pressure": of(3000, "psi")})
	all := []body{
		entry("roll_call", w.confined,
			body{"participant_id": sofia, "attendance": "late", "witnessed_at": when}),
		entry("conditions", w.confined,
			body{"visibility": of(12, "m"), "water_temperature": of(61, "degF"), "witnessed_at": when}),
		entry("head_count", outing,
			body{"phase": "after_dive", "dive_number": 1, "figure": 12, "counted_at": when}),
		entry("incident", w.confined, body{"what": "A cut on the foot.", "witnessed_at": when}),
		in,
		entry("time_out", dive, body{"time_in_id": in["id"], "out_at": p.at(seen.Add(20 * time.Minute)),
			"depth": of(40, "ft"), "end_pressure": of(120, "bar")}),
		entry("gas_check", w.confined,
			body{"participant_id": sofia, "depth": of(12, "m"), "reading": of(150, "bar"),
				"witnessed_at": when}),
		entry("drill_attempt", w.confined, body{"participant_id": sofia, "skill": "swim", "met": true,
			"measures":     []body{{"name": "swim-without-aids", "value": 200, "unit": "m"}},
			"witnessed_at": when}),
		entry("gas_response", w.confined,
			body{"participant_id": sofia, "what": "turned", "witnessed_at": when}),
		entry("log_completion", w.confined, body{"witnessed_at": p.at(seen.Add(time.Hour))}),
	}
	a := p.send(saturday.Add(2*time.Hour), all...)
	ids := map[string]string{}
	for i, r := range a.list("items") {
		require.Equal(t, "recorded", r["status"], "%s: %v", all[i]["kind"], r["problem"])
		ids[all[i]["kind"].(string)] = all[i]["id"].(string)
	}
	theory := body{"id": newID(), "part": syllabus.BuiltIn().Theory[0].Code, "percent": 85,
		"session_id": w.confined, "witnessed_at": at(seen)}
	ids["theory_result"] = w.instructor.post("/v1/enrolments/"+w.sofia+"/theory-results", theory).made()
	listed := map[any]any{}
	for _, e := range w.instructor.get("/v1/sessions/" + w.confined +
		"/entries?limit=200").want(http.StatusOK).list("items") {
		listed[e["id"]] = e["summary"]
		if k := e["kind"].(string); k == "briefing" || k == "acknowledgement" {
			ids[k] = e["id"].(string)
		}
	}
	said := map[string]string{}
	for _, k := range known {
		require.Contains(t, ids, k, "record one of this kind here")
		words := w.instructor.get("/v1/entries/" + ids[k]).want(http.StatusOK).at("summary").(string)
		require.True(t, strings.HasSuffix(words, "."), "%s: %q", k, words)
		if k != "head_count" { // of the outing, not of the session
			require.Equal(t, words, listed[ids[k]], k)
		}
		said[k] = words
	}
	for k, words := range map[string]string{
		"roll_call":      "Roll call: Sofia Student late.",
		"conditions":     "Conditions: visibility 12 m, water 61 °F.",
		"incident":       "Incident: A cut on the foot.",
		"time_in":        "Sofia Student: in the water on dive 1 with 3000 psi.",
		"time_out":       "Sofia Student: out of the water after dive 1 with 120 bar, greatest depth 40 ft.",
		"gas_check":      "Sofia Student: 150 bar at 12 m.",
		"drill_attempt":  "Sofia Student: swim, met.",
		"gas_response":   "Sofia Student turned the dive.",
		"log_completion": "The log of the session is complete.",
	} {
		require.Equal(t, words, said[k])
	}
	require.Contains(t, said["head_count"], "Head count after dive 1: 12 counted, ")
	require.Contains(t, said["theory_result"], "85 % of the ")
	require.Contains(t, said["briefing"], "Briefing of ")
	require.Contains(t, said["acknowledgement"], "Briefing heard: ")

	voided := w.instructor.post("/v1/entries/"+ids["gas_check"]+"/void",
		body{"reason": "another diver"}).want(http.StatusOK)
	require.Equal(t, said["gas_check"], voided.at("summary"), "a void leaves what was said")
	report := w.assistant.post("/v1/sessions/"+w.confined+"/conditions",
		body{"current": of(0.3, "m/s"), "witnessed_at": at(seen)}).want(http.StatusCreated)
	require.Equal(t, "Conditions: current 0.3 m/s.", report.at("summary"))
}
