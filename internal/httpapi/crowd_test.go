package httpapi_test

import (
	"net/http"

	"github.com/stretchr/testify/require"
)

// crowd makes the blue group in the bay as large as usual practice lets it be
// with two assistants, and gives the plan of all twelve.
func (w *season) crowd(depth, minutes float64) body {
	w.t.Helper()
	second := w.Crew("Bartholomew Featherstone", "assistant").String()
	w.parts[w.open+second] = w.manager.post("/v1/sessions/"+w.open+"/participants",
		body{"role": "assistant", "person_id": second, "group_id": w.openBlue}).made()
	w.manager.post("/v1/sessions/"+w.confined+"/participants",
		body{"role": "assistant", "person_id": w.Crew("Coralie Nightingale", "assistant"),
			"group_id": w.blue}).made()
	var enrolments []string
	for _, name := range []string{"Adalbert Kowalczyk", "Beatriz dos Santos Almeida", "Casimir Underhill",
		"Dorothea Zimmermann", "Emil Østergaard", "Felicity Abernathy", "Gwendolyn Price"} {
		enrolments = append(enrolments,
			w.manager.post("/v1/courses/"+w.course+"/enrolments",
				body{"person_id": w.Student(name, "1996-06-06")}).made())
	}
	w.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": enrolments, "group_name": "blue"}).want(http.StatusOK)
	for _, p := range w.manager.get("/v1/sessions/" + w.open +
		"/participants").want(http.StatusOK).list("items") {
		if p["enrolment_id"] != nil {
			w.parts[w.open+p["enrolment_id"].(string)] = p["id"].(string)
		}
	}
	ask := w.everybody(depth, minutes)
	for i, who := range append(enrolments, second) {
		d := body{"participant_id": w.part(w.open, who),
			"cylinder":       body{"water_volume": of(11.1, "L"), "working_pressure": of(207, "bar")},
			"start":          of(float64(180+3*i), "bar"),
			"breathing_rate": of(float64(14+i), "L/min")}
		if i%3 == 0 {
			d["gauge_unit"], d["cylinder"], d["start"] = "psi", body{"rated_capacity": of(80, "cu_ft"),
				"rated_pressure": of(3000, "psi")}, of(float64(2600+100*i), "psi")
		}
		ask["divers"] = append(ask["divers"].([]body), d)
	}
	require.Len(w.t, ask["divers"], 12)
	return ask
}
