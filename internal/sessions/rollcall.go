package sessions

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/readiness"
)

// Call is what roll call says of one person.
type Call struct {
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
func (c *Call) Times() []*time.Time { return []*time.Time{&c.WitnessedAt} }

// Digest implements journal.Item. A call that names no participant says it of the
// session too: the same words of another session are another entry.
func (c Call) Digest(session uuid.UUID) []byte {
	if c.Unexpected == nil {
		return journal.DigestOf(c)
	}
	return journal.DigestOf(struct {
		Session uuid.UUID `json:"Session"`
		Call    Call      `json:"Call"`
	}{session, c})
}

// Names implements journal.Item.
func (c Call) Names() []journal.Ref {
	out := slices.Concat(journal.Named(journal.AParticipant, c.ParticipantID), journal.Named(journal.APerson, c.WitnessedBy))
	if u := c.Unexpected; u != nil {
		out = slices.Concat(out, journal.Named(journal.APerson, &u.PersonID), journal.Named(journal.AnEnrolment, u.EnrolmentID),
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
func (s *Service) CallRoll(ctx context.Context, session uuid.UUID, calls []Call) (out []journal.Result, found finding.List, err error) {
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, found, err = s.EnterCalls(ctx, tx, session, calls)
		return err
	})
	return out, found, err
}

// EnterCalls is CallRoll in the caller's transaction, for package desk; so are
// the other methods that begin with Enter.
func (s *Service) EnterCalls(ctx context.Context, tx *pg.Tx, session uuid.UUID, calls []Call) (out []journal.Result, found finding.List, err error) {
	if err := actor.From(ctx).RequireWitness(); err != nil {
		return nil, nil, err
	}
	row, err := hold(ctx, tx, session)
	if err != nil {
		return nil, nil, err
	}
	if out, err = s.callEach(ctx, tx, row, calls); err != nil {
		return nil, nil, err
	}
	j, err := s.rejudge(ctx, tx, row, "roll_call", fact)
	if err != nil {
		return nil, nil, err
	}
	of := FoundOfCalls(j.bench.View)
	for i := range out {
		out[i].Findings = append(out[i].Findings, of[out[i].ID]...)
	}
	found, err = afterFact(ctx, tx, row)
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
	for _, c := range standing(v.Calls) {
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
			if slices.ContainsFunc(f.Subjects, func(x finding.Subject) bool { return x.ID == participant.String() }) {
				out = append(out, f)
			}
		}
	}
	slices.SortFunc(out, func(a, b finding.Finding) int { return strings.Compare(a.Message, b.Message) })
	return out
}

// afterFact gives what is to be said of the groups after a fact.
func afterFact(ctx context.Context, tx *pg.Tx, row Session) (finding.List, error) {
	groups, err := groupsOf(ctx, tx, row.ID)
	if err != nil {
		return nil, err
	}
	var found finding.List
	for _, g := range groups {
		found = append(found, FoundOf(g)...)
	}
	return found, nil
}

func (s *Service) callEach(ctx context.Context, tx *pg.Tx, row Session, calls []Call) ([]journal.Result, error) {
	ids := make([]uuid.UUID, len(calls))
	var unexpected []uuid.UUID
	for i, c := range calls {
		ids[i] = c.ID
		if c.Unexpected != nil {
			unexpected = append(unexpected, c.Unexpected.PersonID)
		}
	}
	// Whoever is added is judged by age: nobody corrects the birth date meanwhile.
	if err := lockPeople(ctx, tx, unexpected...); err != nil {
		return nil, err
	}
	before, err := journal.Digests(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	parts, err := participantsOf(ctx, tx, row.ID)
	if err != nil {
		return nil, err
	}
	out := make([]journal.Result, len(calls))
	for i, c := range calls {
		digest := c.Digest(row.ID)
		if r, ok := journal.Before(before, c.ID, digest); ok {
			out[i] = r
			continue
		}
		out[i] = journal.Result{ID: c.ID, Status: journal.Recorded}
		if parts, err = callOne(ctx, tx, row, parts, c, digest, fmt.Sprintf("/items/%d", i)); err != nil {
			refusal, ok := itemFault(err)
			if !ok {
				return nil, err
			}
			out[i].Status, out[i].Refusal = journal.NotRecorded, refusal
			continue
		}
		before[c.ID] = digest // should the same call bring it again
	}
	return out, nil
}

// itemFault tells a fault that concerns one item alone from one that ends the
// whole request.
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

// callOne records one call. Every fault comes before the first row is written.
func callOne(ctx context.Context, tx *pg.Tx, row Session, parts []Participant, c Call, digest []byte, at string) ([]Participant, error) {
	witness, err := witnessOf(ctx, tx, row, parts, c.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return parts, err
	}
	if err := journal.CheckTime(tx.Now, c.WitnessedAt, at+"/witnessed_at"); err != nil {
		return parts, err
	}
	if c.Aboard != nil && !*c.Aboard && c.Attendance != Absent && c.Attendance != LeftEarly {
		return parts, fault.Invalid(at+"/aboard", "Only somebody who is absent or left early is not aboard.")
	}
	who, parts, err := called(ctx, tx, row, parts, c, at)
	if err != nil {
		return parts, err
	}
	if err := journal.Record(ctx, tx, journal.Entry{ID: c.ID, Kind: journal.RollCall, Session: &row.ID, Outing: row.OutingID, Participant: &who.ID,
		Enrolment: who.EnrolmentID, WitnessedBy: witness, WitnessedAt: c.WitnessedAt, Digest: digest}); err != nil {
		return parts, err
	}
	args := pgx.StrictNamedArgs{"id": c.ID, "participant": who.ID, "attendance": c.Attendance, "note": c.Note, "aboard": c.Aboard, "role": nil, "group": nil, "enrolment": nil}
	if u := c.Unexpected; u != nil && who.ID == Arrived(row.ID, who.PersonID) {
		args["role"], args["group"], args["enrolment"] = u.Role, u.GroupID, u.EnrolmentID
	}
	if _, err := tx.Do(ctx, `INSERT INTO roll_call (centre_id, id, participant_id, attendance, note, aboard, role, group_id, enrolment_id)
		VALUES (app_centre(), @id, @participant, @attendance, @note, @aboard, @role, @group, @enrolment)`, args); err != nil {
		return parts, err
	}
	return parts, attend(ctx, tx, who.ID)
}

// witnessOf gives who witnessed a fact of a session: the caller unless said.
// Only crew of the session, or a manager, can have.
func witnessOf(ctx context.Context, tx *pg.Tx, row Session, parts []Participant, said *uuid.UUID, pointer string) (uuid.UUID, error) {
	who := actor.From(ctx)
	witness := who.Person
	if said != nil {
		witness = *said
	}
	for _, p := range parts {
		if p.PersonID == witness && p.Role != Student {
			return witness, nil
		}
	}
	// Where roll calls disagree on somebody's part, one that says crew is enough.
	crew, err := pg.One[bool](ctx, tx, `SELECT EXISTS (SELECT FROM sessions_arrival WHERE centre_id = app_centre() AND session_id = @session
		AND person_id = @person AND role <> 'student' AND stands)`, pgx.StrictNamedArgs{"session": row.ID, "person": witness})
	if err != nil || crew {
		return witness, err
	}
	people, err := dayview.ReadPeople(ctx, tx, []uuid.UUID{witness}, row.OnDay)
	if err == nil && !people[witness].Is("manager") {
		err = fault.UnknownReference("crew of this session, nor a manager", pointer)
	}
	return witness, err
}
