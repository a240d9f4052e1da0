package sessions

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/readiness"
)

// NewRollCallEntry is what roll call says of one person.
type NewRollCallEntry struct {
	ID            uuid.UUID   `json:"ID"`
	ParticipantID *uuid.UUID  `json:"ParticipantID"`
	Unexpected    *Unexpected `json:"Unexpected"`  // instead of a participant: somebody whom no plan expected
	Attendance    Attendance  `json:"Attendance"`  // not Expected
	WitnessedBy   *uuid.UUID  `json:"WitnessedBy"` // the caller unless said
	WitnessedAt   time.Time   `json:"WitnessedAt"`
	Note          *string     `json:"Note"`
	Aboard        *bool       `json:"Aboard,omitempty"` // of somebody absent or gone: false, no longer to be looked for; nil: not said
}

// Times implements journal.Item.
func (c *NewRollCallEntry) Times() []*time.Time { return []*time.Time{&c.WitnessedAt} }

// Digest implements journal.Item. A call that names no participant says it of the
// session too: the same words of another session are another entry.
func (c NewRollCallEntry) Digest(session uuid.UUID) []byte {
	if c.Unexpected == nil {
		return journal.DigestOf(c)
	}
	return journal.DigestOf(struct {
		Session uuid.UUID        `json:"Session"`
		Call    NewRollCallEntry `json:"Call"`
	}{session, c})
}

// Names implements journal.Item.
func (c NewRollCallEntry) Names() []journal.Ref {
	out := slices.Concat(journal.Named(journal.AParticipant, c.ParticipantID),
		journal.Named(journal.APerson, c.WitnessedBy))
	if u := c.Unexpected; u != nil {
		out = slices.Concat(out, journal.Named(journal.APerson, &u.PersonID),
			journal.Named(journal.AnEnrolment, u.EnrolmentID),
			journal.Named(journal.AGroup, u.GroupID))
	}
	return out
}

// Unexpected is somebody who is there without a plan. Being there is a fact and
// does not book the person.
type Unexpected struct {
	PersonID    uuid.UUID  `json:"PersonID"`
	EnrolmentID *uuid.UUID `json:"EnrolmentID"` // of a student
	GroupID     *uuid.UUID `json:"GroupID"`
	Role        Role       `json:"Role"`
}

// CallRoll records attendance. Nothing is refused because of a rule: a group
// that is over its ratio by what is reported loses its clearance, and the
// findings say so, and who is there and must not get into the water.
func (s *Service) CallRoll(ctx context.Context, by actor.Actor, session uuid.UUID,
	calls []NewRollCallEntry) (out []journal.Result, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, found, err = s.EnterCalls(ctx, by, tx, session, calls)
		return err
	})
	return out, found, err
}

// FoundOfCalls returns, by roll call that stands, what is found of it beside other
// facts. The view was read with everything.
//
// It finds who is called otherwise than in the roll call that counts, what speaks
// against somebody who is there getting into the water, and of both that the plan of
// one rests on the other, who does not dive.
func FoundOfCalls(v dayview.View) map[uuid.UUID]finding.List {
	out := otherwise(v)
	if !v.InWater() {
		return out
	}
	away, against := readiness.PartnersAway(v), Unready(v)
	for _, p := range v.Participants {
		if p.Role == Student {
			against[p.ID] = append(against[p.ID], ungrouped(p)...)
		}
	}
	for _, c := range standingCalls(v.Calls) {
		out[c.ID] = append(out[c.ID], concerning(away, c.ParticipantID)...)
		if c.Attendance == Present || c.Attendance == Late {
			out[c.ID] = append(out[c.ID], against[c.ParticipantID]...)
		}
	}
	return out
}

// concerning picks the findings that are about a participant, in the order of their
// words, which is the same whoever reads them.
func concerning(found map[uuid.UUID]finding.List, participant uuid.UUID) (out finding.List) {
	for _, l := range found {
		for _, f := range l {
			if slices.ContainsFunc(f.Subjects,
				func(x finding.Subject) bool { return x.ID == participant.String() }) {
				out = append(out, f)
			}
		}
	}
	slices.SortFunc(out, func(a, b finding.Finding) int { return strings.Compare(a.Message, b.Message) })
	return out
}

// itemFault returns the fault of an error, and reports whether it concerns one item
// alone and does not end the whole request.
func itemFault(err error) (*fault.Fault, bool) {
	f, ok := fault.Of(err)
	if !ok {
		return nil, false
	}
	switch f.Kind {
	case fault.Malformed, fault.Refused, fault.NotFound, fault.Conflict:
		return f, true
	}
	return nil, false
}
