package bench

import "github.com/google/uuid"

// gasPlan returns the job that computes and stores the gas plan of all students of the
// first session.
func (s *testCentre) gasPlan() *job {
	session := numbered(sessionPrefix, 0)
	stays := []uuid.UUID{session}
	var divers []object
	for n := range students {
		id := numbered(participantPrefix, n)
		stays = append(stays, id)
		divers = append(divers, object{"participant_id": id, "start": object{"value": 200, "unit": "bar"},
			"cylinder": object{"water_volume": object{"value": 12, "unit": "L"},
				"working_pressure": object{"value": 232, "unit": "bar"}}})
	}
	return &job{name: "gas plan", times: 1, stays: stays, request: func(int) error {
		_, err := s.send(s.instructor, "POST", "/v1/sessions/"+session.String()+"/plans",
			object{"id": uuid.New(), "divers": divers,
				"dive": object{"depth": object{"value": 4, "unit": "m"},
					"planned_time": object{"value": 20, "unit": "min"}}})
		return err
	}}
}
