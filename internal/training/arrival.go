package training

import (
	"slices"

	"github.com/google/uuid"
)

// arrival is what a roll call says of the part of somebody who came unexpected.
// Where roll calls disagree and nobody has decided, one that Stands is enough
// for an entry to be taken; what counts is found on reading.
type arrival struct {
	ParticipantID uuid.UUID
	EnrolmentID   *uuid.UUID
	Role          string
	Stands        bool
}

const arrivalsSQL = `SELECT participant_id, enrolment_id, role, stands FROM sessions_arrival
	WHERE centre_id = app_centre() AND session_id = @session ORDER BY witnessed_at, id`

// crew tells whether the participant is of the crew, or is said to be.
func (p part) crew() bool {
	return p.Role != "student" || slices.ContainsFunc(p.Said, func(a arrival) bool { return a.Stands && a.Role != "student" })
}

// student gives the enrolment by which the participant takes part, or is said
// to; nil for crew.
func (p part) student() *uuid.UUID {
	for _, a := range p.Said {
		if p.EnrolmentID == nil && a.Stands && a.EnrolmentID != nil {
			return a.EnrolmentID
		}
	}
	return p.EnrolmentID
}
