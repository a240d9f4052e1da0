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
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// NewGroup is a group to be opened with its instructor in charge.
type NewGroup struct {
	Key           once.Key
	SessionID     uuid.UUID
	Name          string
	InCharge      uuid.UUID // the instructor's person
	PlacesLowered *int
}

// OpenGroup plans a further group of a session. An instructor who takes part in
// the session already, say as an assistant, moves over to be in charge of it.
func (s *Service) OpenGroup(ctx context.Context, by actor.Actor, n NewGroup,
	accept []journal.Acceptance) (out Group, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		session, err := hold(ctx, tx, n.SessionID)
		if err != nil {
			return err
		}
		before, again, err := replayed(ctx, tx, groupDigest, n.Key, findGroup)
		if err != nil || again {
			out, created = before, false
			return err
		}
		if err := mayRearrange(session); err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `INSERT INTO session_group (centre_id, id, session_id, name, places_lowered, body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @session, @name, @lowered, @digest, @now, @now)`,
			pgx.StrictNamedArgs{"id": n.Key.ID, "session": n.SessionID, "name": n.Name,
				"lowered": n.PlacesLowered, "digest": n.Key.Digest, "now": tx.Now}); err != nil {
			return err
		}
		if found, err = s.putInCharge(ctx, by, tx, session, inCharge{n.Key.ID, n.InCharge, "instructor_id"},
			"create_group", accept); err != nil {
			return err
		}
		created = true
		out, err = findGroup(ctx, tx, n.Key.ID)
		return err
	})
	return out, found, created, err
}

// inCharge names who is to be in charge of a group, and the member of the body
// that says so.
type inCharge struct {
	group, who uuid.UUID
	named      string
}

// putInCharge makes a person the instructor in charge of a group that has none.
func (s *Service) putInCharge(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, in inCharge,
	kind string, accept []journal.Acceptance) (finding.List, error) {
	part, ok, err := pg.OptionalRow[Participant](ctx, tx, `SELECT `+dayview.ParticipantColumns+
		` FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id = @session AND p.person_id = @person`, pgx.StrictNamedArgs{"session": session.ID, "person": in.who})
	if err != nil {
		return nil, err
	}
	join := NewParticipant{Key: once.New(), SessionID: session.ID, GroupID: &in.group, PersonID: in.who,
		Role: InCharge, named: in.named}
	if !ok {
		return s.join(ctx, by, tx, session, []NewParticipant{join}, kind, accept)
	}
	also, err := s.judgeJoining(ctx, tx, session, []NewParticipant{join})
	if err != nil {
		return nil, err
	}
	if inTheWater(session) {
		v, err := read(ctx, tx, session.ID)
		if err != nil {
			return nil, err
		}
		missed, err := s.joinsUnready(ctx, tx, v, []Participant{part})
		if err != nil {
			return nil, err
		}
		also.found = append(also.found, missed...)
	}
	if _, err := tx.Do(ctx, `UPDATE participant SET group_id = @group, role = 'in_charge', placed = true, version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": part.ID, "group": in.group, "now": tx.Now}); err != nil {
		return nil, err
	}
	return s.conclude(ctx, by, tx, session, kind, also, accept)
}

// conclude judges the groups after a change that is in the rows already, and lets the
// whole stand or refuses it. also is what was judged of the session before.
func (s *Service) conclude(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, kind string,
	also judged, accept []journal.Acceptance) (finding.List, error) {
	j, err := s.rejudge(ctx, by, tx, session, kind, plan)
	if err != nil {
		return nil, err
	}
	found := append(also.found, j.binding...)
	on := j.judgedOn(stageOf(session), also.persons)
	on.Schedule = also.schedule
	if found, err = settle(ctx, by, tx, session.ID, kind, found, on, accept); err != nil {
		return nil, err
	}
	return append(found, j.standing.InSession(session.ID.String())...), nil
}

// Replacement names who takes over a group.
type Replacement struct {
	GroupID  uuid.UUID
	PersonID uuid.UUID // the new instructor in charge
	Stays    bool      // whether the one replaced stays in the group as a second instructor
	Version  *int64    // of the group; nil: whatever it is now
}

// ReplaceInstructor puts another instructor in charge of a group, in one
// operation that is judged on its result. Whoever fell ill stays on the list as
// absent; whoever merely leaves is taken off it, which is refused where a record
// of the session names them.
func (s *Service) ReplaceInstructor(ctx context.Context, by actor.Actor, r Replacement,
	accept []journal.Acceptance) (out Group, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		g, err := findGroup(ctx, tx, r.GroupID)
		if err != nil {
			return err
		}
		session, err := hold(ctx, tx, g.SessionID)
		if err != nil {
			return err
		}
		old, had, err := pg.OptionalRow[Participant](ctx, tx, `SELECT `+dayview.ParticipantColumns+
			` FROM participant p
			WHERE p.centre_id = app_centre() AND p.group_id = @group AND p.role = 'in_charge'`, pgx.StrictNamedArgs{"group": g.ID})
		if err != nil {
			return err
		}
		if g, err = findGroup(ctx, tx, g.ID); err != nil {
			return err
		}
		if had && old.PersonID == r.PersonID {
			out = g // replaced already
			return nil
		}
		if r.Version != nil && *r.Version != g.Version {
			return fault.Changed(g.Version)
		}
		if err := mayRearrange(session); err != nil {
			return err
		}
		if had {
			if err := stepDown(ctx, tx, session, old, r.Stays); err != nil {
				return err
			}
		}
		if _, err := tx.Do(ctx, `UPDATE session_group SET version = version + 1, updated_at = @now WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": g.ID, "now": tx.Now}); err != nil {
			return err
		}
		if found, err = s.putInCharge(ctx, by, tx, session, inCharge{g.ID, r.PersonID, "person_id"},
			"replace_instructor", accept); err != nil {
			return err
		}
		out, err = findGroup(ctx, tx, g.ID)
		return err
	})
	return out, found, err
}

// stepDown takes the charge off a participant. Whoever is marked as not fit that
// day stays on the list as absent.
func stepDown(ctx context.Context, tx *pg.Tx, session Session, old Participant, stays bool) error {
	ill, err := unfitOn(ctx, tx, old.PersonID, session)
	if err != nil {
		return err
	}
	if ill && old.Counted {
		_, err := tx.Do(ctx, `UPDATE participant SET role = 'instructor', attendance = 'absent', attendance_at = NULL, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": old.ID, "now": tx.Now})
		return err
	}
	if stays || !old.Counted {
		_, err := tx.Do(ctx, `UPDATE participant SET role = 'instructor', version = version + 1, updated_at = @now WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": old.ID, "now": tx.Now})
		return err
	}
	return deleteParticipant(ctx, tx, old)
}

// unfitOn reports whether somebody is marked as not fit on the day of a session.
func unfitOn(ctx context.Context, tx *pg.Tx, who uuid.UUID, session Session) (bool, error) {
	people, err := dayview.ReadPeople(ctx, tx, []uuid.UUID{who}, session.OnDay)
	return err == nil && len(roster.Fit(people[who].Person, roster.Day(session.Day()))) > 0, err
}

// Move is one participant's change of group.
type Move struct {
	ParticipantID uuid.UUID
	GroupID       *uuid.UUID // nil: out of any group
}

// Regroup moves any number of participants of a session between its groups, in
// one operation that is judged on its result: so two full groups can swap.
func (s *Service) Regroup(ctx context.Context, by actor.Actor, session uuid.UUID, moves []Move,
	accept []journal.Acceptance) (out []Participant, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		held, err := hold(ctx, tx, session)
		if err != nil {
			return err
		}
		if err := mayRearrange(held); err != nil {
			return err
		}
		joining, err := s.joinsBy(ctx, tx, held, moves)
		if err != nil {
			return err
		}
		if err := moveAll(ctx, tx, held, moves); err != nil {
			return err
		}
		if found, err = s.conclude(ctx, by, tx, held, "move_participants", joining, accept); err != nil {
			return err
		}
		out, err = participantsOf(ctx, tx, session)
		return err
	})
	return out, found, err
}

// joinsBy judges those whom moves bring into a group of a water session under way
// from none.
func (s *Service) joinsBy(ctx context.Context, tx *pg.Tx, session Session, moves []Move) (also judged,
	err error) {
	if !inTheWater(session) {
		return also, nil
	}
	parts, err := participantsOf(ctx, tx, session.ID)
	if err != nil {
		return also, err
	}
	to := map[uuid.UUID]*uuid.UUID{}
	for _, m := range moves {
		to[m.ParticipantID] = m.GroupID
	}
	var in []Participant
	var enrolments []uuid.UUID
	for _, p := range parts {
		if group := to[p.ID]; group != nil && p.GroupID == nil && p.Counted {
			p.GroupID = group
			in = append(in, p)
			if p.EnrolmentID != nil {
				enrolments = append(enrolments, *p.EnrolmentID)
			}
		}
	}
	if len(in) == 0 {
		return also, nil
	}
	if err := lockPeople(ctx, tx, personIDs(in)...); err != nil {
		return also, err
	}
	if err := lockEnrolments(ctx, tx, enrolments...); err != nil {
		return also, err
	}
	if also, err = judgeEverybody(ctx, tx, session, in); err != nil {
		return also, err
	}
	v, err := read(ctx, tx, session.ID)
	if err != nil {
		return also, err
	}
	missed, err := s.joinsUnready(ctx, tx, v, in)
	also.found = append(also.found, missed...)
	return also, err
}

func moveAll(ctx context.Context, tx *pg.Tx, session Session, moves []Move) error {
	parts, groups := make([]uuid.UUID, len(moves)), make([]*uuid.UUID, len(moves))
	for i, m := range moves {
		parts[i], groups[i] = m.ParticipantID, m.GroupID
	}
	n, err := tx.Do(ctx, `UPDATE participant p SET group_id = m.group_id, placed = true, version = p.version + 1, updated_at = @now
		FROM unnest(@parts::uuid[], @groups::uuid[]) AS m (part, group_id)
		WHERE p.centre_id = app_centre() AND p.session_id = @session AND p.id = m.part
			AND (m.group_id IS NULL OR EXISTS (SELECT FROM session_group g WHERE g.centre_id = p.centre_id AND g.session_id = p.session_id AND g.id = m.group_id))`,
		pgx.StrictNamedArgs{"parts": parts, "groups": groups, "session": session.ID, "now": tx.Now})
	if err == nil && int(n) != len(moves) {
		err = misdirected(ctx, tx, session, moves)
	}
	return err
}

// misdirected points to the first move that cannot be meant: of nobody here, to
// no group here, or of somebody who is moved already.
func misdirected(ctx context.Context, tx *pg.Tx, session Session, moves []Move) error {
	parts, err := participantsOf(ctx, tx, session.ID)
	if err != nil {
		return err
	}
	groups, err := groupsOf(ctx, tx, session.ID)
	if err != nil {
		return err
	}
	for i, m := range moves {
		at := fmt.Sprintf("/moves/%d/", i)
		switch {
		case !slices.ContainsFunc(parts, func(p Participant) bool { return p.ID == m.ParticipantID }):
			return fault.UnknownReference("participant of this session", at+"participant_id")
		case m.GroupID != nil && !slices.ContainsFunc(groups, func(g Group) bool { return g.ID == *m.GroupID }):
			return fault.UnknownReference("group of this session", at+"group_id")
		case slices.ContainsFunc(moves[:i],
			func(before Move) bool { return before.ParticipantID == m.ParticipantID }):
			return fault.Invalid(at+"participant_id",
				"This participant is moved twice: say once which group it is to be.")
		}
	}
	return pg.ErrRetry
}

// mayRearrange lets who is in which group of a session be planned, until it is over.
func mayRearrange(session Session) error {
	return untilOver(session, "Its groups change while it is planned or under way. "+
		"Who was there after all is recorded by roll call; for what is still to come, choose another session.")
}

// untilOver lets a session be changed while it is planned or under way; cure is
// what helps afterwards.
func untilOver(session Session, cure string) error {
	if session.State == Planned || session.State == UnderWay {
		return nil
	}
	return fault.WrongState("session", string(session.State), cure)
}
