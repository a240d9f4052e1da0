package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
)

// joins adds crew to the blue group of the pool session, and gives the person and
// the part.
func (w *season) joins(name, role string) (who uuid.UUID, part string) {
	w.t.Helper()
	who = w.Crew(name, role)
	return who, w.manager.post("/v1/sessions/"+w.confined+"/participants",
		body{"role": role, "person_id": who, "group_id": w.blue}).made()
}

// Whoever a record of the session names stays a part of it: otherwise nobody
// would know later that the witness was there.
func TestWhoIsNamedByARecordStaysInTheSession(t *testing.T) {
	w := newSeason(t, open(t))
	to := "/v1/sessions/" + w.confined
	sofia := w.part(w.confined, w.sofia)
	caller, calling := w.joins("Caro Caller", "assistant")
	looker, looking := w.joins("Lia Looker", "assistant")
	teller, telling := w.joins("Tom Teller", "assistant")
	counter, counting := w.joins("Cid Counter", "assistant")
	hurt, hurting := w.joins("Hal Hurt", "assistant")
	signer, signing := w.joins("Sam Signer", "instructor")
	_, idle := w.joins("Ida Idle", "assistant")
	w.Clock(saturday.Add(time.Hour))
	w.brief(w.confined, saturday)
	w.instructor.post(to+"/open", nil).want(http.StatusOK)
	w.recorded(w.as(caller).post(to+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": sofia, "attendance": "present",
			"witnessed_at": at(saturday)}}}))
	w.recorded(w.as(looker).post(to+"/gas-checks",
		body{"items": []body{{"id": newID(), "participant_id": sofia, "depth": body{"value": 2, "unit": "m"},
			"reading": body{"value": 150, "unit": "bar"}, "witnessed_at": at(saturday)}}}))
	w.as(teller).post(to+"/conditions",
		body{"visibility": body{"value": 10, "unit": "m"}, "witnessed_at": at(saturday)}).made()
	w.as(counter).post("/v1/outings/"+w.outingOf(w.confined)+"/head-counts",
		body{"phase": "departure", "figure": 11, "counted_at": at(saturday)}).made()
	w.assistant.post(to+"/incidents",
		body{"what": "A cut on the foot.", "witnessed_at": at(saturday),
			"people": []body{{"person_id": hurt, "part": "assistant"}}}).made()
	w.swum(saturday)
	w.recorded(w.as(signer).post(to+"/sign-offs",
		body{"items": []body{{"id": newID(), "enrolment_id": w.sofia, "skill": "swim"}}}))
	takeOff := func(part string) answer {
		return w.manager.delete("/v1/participants/"+part, "If-Match",
			w.manager.get("/v1/participants/"+part).header.Get("ETag"))
	}
	cases := []refusal{{"the instructor who saw an attempt", func() answer {
		return w.manager.post("/v1/groups/"+w.blue+"/replace-instructor", body{"person_id": signer})
	}, 409, "wrong_state", []string{"(drill attempt as its witness)", "record by roll call"}}}
	for part, record := range map[string]string{calling: "(roll call as its witness)",
		looking: "(gas check as its witness)", telling: "(conditions as its witness)",
		counting: "(head count as its witness)", hurting: "(incident)", signing: "(sign-off as its signer)"} {
		cases = append(cases, refusal{record, func() answer { return takeOff(part) }, 409, "wrong_state",
			[]string{"named by records of the session " + record, "absent, sat out or left early"}})
	}
	w.refuse(cases)
	takeOff(idle).want(http.StatusOK)
	w.recorded(w.assistant.post(to+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.instructor.person.String()),
			"attendance": "left_early", "witnessed_at": at(saturday.Add(time.Minute))}}}))
	w.manager.post("/v1/groups/"+w.blue+"/replace-instructor", body{"person_id": signer}).want(http.StatusOK)
}
