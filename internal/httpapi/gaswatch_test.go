package httpapi_test

import (
	"net/http"
	"testing"
	"time"
)

// look is a gas check of Sofia in the open-water session.
func (w *season) look(when time.Time, read, said float64) body {
	c := body{"id": newID(), "participant_id": w.part(w.open, w.sofia), "depth": body{"value": 9, "unit": "m"}, "witnessed_at": at(when)}
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
