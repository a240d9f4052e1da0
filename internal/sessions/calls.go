package sessions

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
)

// calling is a roll call as it is entered: the session, which is locked, with what
// the calls before have added, and what is to be written.
type calling struct {
	dayview.View
	enrolments map[uuid.UUID]enrolled
	before     map[uuid.UUID][]byte // digests of entries that were recorded before
	entries    []journal.Entry
	rows       []pgx.StrictNamedArgs // of roll_call
	unplanned  []pgx.StrictNamedArgs // of participant
	attending  []uuid.UUID           // participants of whom something was said
}

// EnterCalls is CallRoll in the caller's transaction, for package offline; so are
// the other methods that begin with Enter. It takes two round trips before the groups
// are judged, however many calls there are.
func (s *Service) EnterCalls(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	calls []NewRollCallEntry) (out []journal.Result, found finding.List, err error) {
	c, err := readCalling(ctx, by, tx, session, calls)
	if err != nil {
		return nil, nil, err
	}
	out = make([]journal.Result, len(calls))
	for i, x := range calls {
		if out[i], err = c.enter(tx, by, x, fmt.Sprintf("/items/%d", i)); err != nil {
			return nil, nil, err
		}
	}
	v, err := c.write(ctx, by, tx)
	if err != nil {
		return nil, nil, err
	}
	j, err := s.judgeAgain(ctx, by, tx, v, "roll_call", fact)
	if err != nil {
		return nil, nil, err
	}
	of := FoundOfCalls(v)
	for i := range out {
		out[i].Findings = append(out[i].Findings, of[out[i].ID]...)
	}
	return out, foundOfGroups(j.snapshot.Groups), nil
}

// readCalling locks the session, its groups and the people who come unexpected, and
// then reads all that the calls are held against.
func readCalling(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	calls []NewRollCallEntry) (*calling, error) {
	var ids, unexpected, enrolments []uuid.UUID
	also := []uuid.UUID{by.Person}
	for _, c := range calls {
		ids = append(ids, c.ID)
		if c.WitnessedBy != nil {
			also = append(also, *c.WitnessedBy)
		}
		if u := c.Unexpected; u != nil {
			unexpected = append(unexpected, u.PersonID)
			if u.EnrolmentID != nil {
				enrolments = append(enrolments, *u.EnrolmentID)
			}
		}
	}
	var b pgx.Batch
	var used []journal.Used
	var rows []enrolled
	b.Queue(lockSessionsSQL, pgx.StrictNamedArgs{"ids": []uuid.UUID{session}})
	b.Queue(lockGroupsSQL, pgx.StrictNamedArgs{"ids": []uuid.UUID{session}})
	if len(unexpected) > 0 { // who is added is judged by age: nobody corrects the birth date meanwhile
		b.Queue(lockPeopleSQL, pgx.StrictNamedArgs{"ids": unexpected})
		pg.QueueRows(&b, &rows, enrolmentsSQL, pgx.StrictNamedArgs{"ids": enrolments})
	}
	journal.QueueUsed(&b, &used, ids)
	view := dayview.Query{Sessions: []uuid.UUID{session}, Also: slices.Concat(also, unexpected),
		Want: dayview.People | dayview.Facts}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	v, err := view.View()
	c := &calling{View: v, enrolments: map[uuid.UUID]enrolled{}, before: journal.ByID(used)}
	for _, e := range rows {
		c.enrolments[e.ID] = e
	}
	return c, err
}

// enter judges one call alone and notes what is to be written of it. The error is
// one that ends the whole request.
func (c *calling) enter(tx *pg.Tx, by actor.Actor, x NewRollCallEntry, at string) (journal.Result, error) {
	digest := x.Digest(c.ID)
	if r, ok := journal.ReplayResult(c.before, x.ID, digest); ok {
		return r, nil
	}
	err := c.enterOne(tx, by, x, digest, at)
	if err == nil {
		c.before[x.ID] = digest // should the same call bring it again
		return journal.Result{ID: x.ID, Status: journal.Recorded}, nil
	}
	refusal, ok := itemFault(err)
	if !ok {
		return journal.Result{}, err
	}
	return journal.Result{ID: x.ID, Status: journal.NotRecorded, Refusal: refusal}, nil
}

func (c *calling) enterOne(tx *pg.Tx, by actor.Actor, x NewRollCallEntry, digest []byte, at string) error {
	witness, err := witnessIn(c.View, by, x.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return err
	}
	if err := journal.CheckTime(tx.Now, x.WitnessedAt, at+"/witnessed_at"); err != nil {
		return err
	}
	if x.Aboard != nil && !*x.Aboard && x.Attendance != Absent && x.Attendance != LeftEarly {
		return fault.Invalid(at+"/aboard", "Only a person who is absent or left early is not aboard.")
	}
	p, err := c.participantFor(x, at)
	if err != nil {
		return err
	}
	c.entries = append(c.entries,
		journal.Entry{ID: x.ID, Kind: journal.RollCall, Session: &c.Session.ID, Outing: c.OutingID,
			Participant: &p.ID,
			Enrolment:   p.EnrolmentID, WitnessedBy: witness, WitnessedAt: x.WitnessedAt, Digest: digest})
	row := pgx.StrictNamedArgs{"id": x.ID, "participant": p.ID, "attendance": x.Attendance, "note": x.Note,
		"aboard": x.Aboard,
		"role":   nil, "group": nil, "enrolment": nil}
	said := dayview.Call{ID: x.ID, ParticipantID: p.ID, Attendance: x.Attendance, At: x.WitnessedAt}
	if u := x.Unexpected; u != nil && p.ID == ParticipantID(c.ID, p.PersonID) {
		row["role"], row["group"], row["enrolment"] = u.Role, u.GroupID, u.EnrolmentID
		said.Role = &u.Role
	}
	c.rows, c.Calls = append(c.rows, row), append(c.Calls, said)
	if !slices.Contains(c.attending, p.ID) {
		c.attending = append(c.attending, p.ID)
	}
	return nil
}

// participantFor returns the participant named by a roll-call entry, and notes one
// whom nobody planned.
func (c *calling) participantFor(x NewRollCallEntry, at string) (Participant, error) {
	var have Participant
	var there bool
	if x.Unexpected == nil {
		if x.ParticipantID != nil {
			have, there = c.Participant(*x.ParticipantID)
		}
		if !there {
			return have, fault.UnknownReference("participant of this session", at+"/participant_id")
		}
		return have, nil
	}
	u := *x.Unexpected
	have, there = c.PartOf(u.PersonID)
	if there && have.ID != ParticipantID(c.ID, have.PersonID) {
		return have, nil // expected after all
	}
	if err := c.checkUnexpected(u, at+"/unexpected"); err != nil || there {
		return have, err
	}
	return c.add(u), nil
}

// checkUnexpected holds what is said of an unexpected person against what there is.
func (c *calling) checkUnexpected(u Unexpected, at string) error {
	if _, there := c.People[u.PersonID]; !there {
		return fault.UnknownReference("person", at+"/person_id")
	}
	if (u.Role == Student) != (u.EnrolmentID != nil) {
		return fault.Invalid(at+"/enrolment_id", "A student takes part by an enrolment, and nobody else does.")
	}
	if u.EnrolmentID != nil && c.enrolments[*u.EnrolmentID].PersonID != u.PersonID {
		return fault.UnknownReference("enrolment of this person", at+"/enrolment_id")
	}
	if u.GroupID != nil {
		if _, there := c.Group(*u.GroupID); !there {
			return fault.UnknownReference("group of this session", at+"/group_id")
		}
	}
	return nil
}

// add notes the part of an unexpected person, whom attendance places.
func (c *calling) add(u Unexpected) Participant {
	p := Participant{ID: ParticipantID(c.ID, u.PersonID), SessionID: c.ID, GroupID: u.GroupID,
		PersonID: u.PersonID, EnrolmentID: u.EnrolmentID,
		Role: u.Role, GaugeUnit: c.People[u.PersonID].GaugeUnit, PersonName: c.People[u.PersonID].Name}
	c.Participants = append(c.Participants, p)
	c.unplanned = append(c.unplanned,
		pgx.StrictNamedArgs{"id": p.ID, "session": c.ID, "group": u.GroupID, "person": u.PersonID,
			"enrolment": u.EnrolmentID, "role": u.Role, "gauge": p.GaugeUnit})
	return p
}

// write writes what the calls say, and reads the session as it is then, in one round
// trip.
func (c *calling) write(ctx context.Context, by actor.Actor, tx *pg.Tx) (dayview.View, error) {
	var b pgx.Batch
	for _, p := range c.unplanned {
		p["now"] = tx.Now
		b.Queue(`INSERT INTO participant (centre_id, id, session_id, group_id, person_id, enrolment_id, role, gauge_unit, booked, placed, during, body_digest,
				created_at, updated_at)
			SELECT app_centre(), @id, s.id, @group, @person, @enrolment, @role, @gauge, false, false,
				s.during, '', @now, @now
			FROM session s
			WHERE s.centre_id = app_centre() AND s.id = @session`, p)
	}
	if len(c.entries) > 0 {
		if err := journal.Queue(ctx, by, tx, &b, c.entries...); err != nil {
			return dayview.View{}, err
		}
	}
	for _, row := range c.rows {
		b.Queue(`INSERT INTO roll_call (centre_id, id, participant_id, attendance, note, aboard, role, group_id, enrolment_id)
			VALUES (app_centre(), @id, @participant, @attendance, @note, @aboard, @role, @group, @enrolment)`, row)
	}
	for _, id := range c.attending {
		b.Queue(attendSQL, pgx.StrictNamedArgs{"id": id, "now": tx.Now})
	}
	rows := dayview.Query{Sessions: []uuid.UUID{c.ID},
		Want: dayview.People | dayview.Facts | dayview.Told}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return dayview.View{}, err
	}
	return rows.View()
}

// witnessIn returns who witnessed a fact of a session: the caller unless said. Only
// crew of the session, or a manager, can have; where roll calls disagree on
// somebody's part, one that says crew is enough. The view was read with people, the
// witness among them, and facts.
func witnessIn(v dayview.View, by actor.Actor, said *uuid.UUID, pointer string) (uuid.UUID, error) {
	witness := by.Person
	if said != nil {
		witness = *said
	}
	p, takesPart := v.PartOf(witness)
	crew := takesPart && (p.Role != Student || !p.Placed &&
		slices.ContainsFunc(v.Calls, func(c dayview.Call) bool {
			return c.ParticipantID == p.ID && !c.Voided && c.Role != nil && *c.Role != Student
		}))
	if !crew && !v.People[witness].Is("manager") {
		return witness, fault.UnknownReference("crew of this session, nor a manager", pointer)
	}
	return witness, nil
}

// foundOfGroups returns what is to be said of groups after a fact.
func foundOfGroups(groups []Group) (found finding.List) {
	for _, g := range groups {
		found = append(found, FoundOf(g)...)
	}
	return found
}
