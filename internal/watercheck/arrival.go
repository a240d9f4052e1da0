package watercheck

import (
	"slices"

	"github.com/google/uuid"

	"tankside/internal/dayview"
)

// arrival is what a roll call says of the part of somebody who came unexpected.
// Where roll calls disagree and nobody has decided, one that Stands is enough
// for an entry to be taken; what counts is found on reading.
type arrival struct {
	EnrolmentID *uuid.UUID
	Role        string
	Stands      bool
}

// arrivalsOf returns what the roll calls of a session, which was read with
// dayview.Called, say of a participant who came unexpected.
func arrivalsOf(v dayview.View, p dayview.Participant) (out []arrival) {
	for _, c := range v.Calls {
		if c.ParticipantID == p.ID && c.Role != nil {
			out = append(out, arrival{EnrolmentID: c.EnrolmentID, Role: string(*c.Role), Stands: !p.Placed &&
				!c.Voided})
		}
	}
	return out
}

// crew reports whether the participant is of the crew, or is said to be.
func (p Participant) crew() bool {
	return p.Role != "student" ||
		slices.ContainsFunc(p.Said, func(a arrival) bool { return a.Stands && a.Role != "student" })
}

// Student returns the enrolment by which the participant takes part, or is said
// to; nil for crew.
func (p Participant) Student() *uuid.UUID {
	for _, a := range p.Said {
		if p.EnrolmentID == nil && a.Stands && a.EnrolmentID != nil {
			return a.EnrolmentID
		}
	}
	return p.EnrolmentID
}
