package sessions

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// Filter narrows a list of sessions; what is empty does not narrow.
type Filter struct {
	CourseIDs    []uuid.UUID
	SiteIDs      []uuid.UUID
	PersonIDs    []uuid.UUID // who take part
	States       []string
	StartsFrom   *time.Time
	StartsBefore *time.Time
	Since        *pg.Position // changed after that position
}

// Sessions lists sessions by their start. horizon is the Since that continues
// this reading.
func (s *Service) Sessions(ctx context.Context, by actor.Actor, f Filter, p page.Request) (out []Session,
	next *page.Place, horizon pg.Position, err error) {
	args := pgx.StrictNamedArgs{"courses": f.CourseIDs, "sites": f.SiteIDs, "people": f.PersonIDs,
		"states": f.States,
		"from":   f.StartsFrom, "before": f.StartsBefore}
	from, order, err := p.SQL(page.Column{Name: "starts_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, horizon, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if horizon, err = pg.Resume(ctx, tx, f.Since, args); err != nil {
			return err
		}
		rows, err := pg.Rows[Session](ctx, tx, `SELECT `+dayview.SessionColumns+
			` FROM session s WHERE s.centre_id = app_centre()
			AND (@courses::uuid[] IS NULL OR s.course_id = ANY (@courses))
				AND (@sites::uuid[] IS NULL OR s.site_id = ANY (@sites))
			AND (@states::text[] IS NULL OR s.state = ANY (@states))
				AND (@since::bigint IS NULL OR s.touched >= @since AND s.touched < @until)
			AND (@from::timestamptz IS NULL OR s.starts_at >= @from)
				AND (@before::timestamptz IS NULL OR s.starts_at < @before)
			AND (@people::uuid[] IS NULL OR EXISTS (SELECT FROM participant p WHERE p.centre_id = s.centre_id
				AND p.session_id = s.id AND p.person_id = ANY (@people)))
			AND `+from+` `+order, args)
		if err != nil {
			return fmt.Errorf("list sessions: %w", err)
		}
		out, next = page.Cut(p, rows, func(r Session) page.Place { return page.At(r.StartsAt, r.ID) })
		return nil
	})
	return out, next, horizon, err
}

// Session reads one session.
func (s *Service) Session(ctx context.Context, by actor.Actor, id uuid.UUID) (out Session, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findSession(ctx, tx, id)
		return err
	})
	return out, err
}

// requireAssigned returns the fault missing_role where the caller reaches only the sessions that they
// take part in, and this is none of them.
func requireAssigned(ctx context.Context, by actor.Actor, tx *pg.Tx, operation string,
	session uuid.UUID) error {
	if permission.Of(operation, by) == permission.All {
		return nil
	}
	takesPart, err := pg.Row[bool](ctx, tx, `
		SELECT EXISTS (
			SELECT FROM participant
			WHERE centre_id = app_centre() AND session_id = @session AND person_id = @self)`,
		pgx.StrictNamedArgs{"session": session, "self": by.Person})
	if err == nil && !takesPart {
		err = permission.Refusal(operation, by)
	}
	return err
}

// Groups lists the groups of a session, in the order in which they were opened.
func (s *Service) Groups(ctx context.Context, by actor.Actor, session uuid.UUID) (out []Group, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findSession(ctx, tx, session); err != nil {
			return err
		}
		if err := requireAssigned(ctx, by, tx, "listGroups", session); err != nil {
			return err
		}
		out, err = groupsOf(ctx, tx, session)
		return err
	})
	return out, err
}

// Group reads one group.
func (s *Service) Group(ctx context.Context, by actor.Actor, id uuid.UUID) (out Group, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findGroup(ctx, tx, id); err != nil {
			return err
		}
		return requireAssigned(ctx, by, tx, "getGroup", out.SessionID)
	})
	return out, err
}

// Participants lists everybody of a session: who is in charge first, then the
// crew, then the students by name.
func (s *Service) Participants(ctx context.Context, by actor.Actor, session uuid.UUID) (out []Participant,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findSession(ctx, tx, session); err != nil {
			return err
		}
		if err := requireAssigned(ctx, by, tx, "listParticipants", session); err != nil {
			return err
		}
		out, err = participantsOf(ctx, tx, session)
		return err
	})
	return out, err
}

// Participant reads one participant.
func (s *Service) Participant(ctx context.Context, by actor.Actor, id uuid.UUID) (out Participant, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findParticipant(ctx, tx, id); err != nil {
			return err
		}
		return requireAssigned(ctx, by, tx, "getParticipant", out.SessionID)
	})
	return out, err
}

// SessionFields are what may be edited of a session without moving it.
type SessionFields struct {
	Title         string
	PlacesLowered *int
	OutingID      *uuid.UUID // of a water session, always
}

// ChangeSession edits a session's title, its outing, or the instructor's own
// lower limit, which is judged like every plan, until the session is over.
func (s *Service) ChangeSession(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(*SessionFields), accept []journal.Acceptance) (out Session, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, err := hold(ctx, tx, id)
		if err != nil {
			return err
		}
		if row.Version != version {
			return fault.Changed(row.Version)
		}
		if err := mayEdit(row); err != nil {
			return err
		}
		f := SessionFields{row.Title, row.PlacesLowered, row.OutingID}
		edit(&f)
		if row.InWater() && f.OutingID == nil {
			return fault.Invalid("/outing_id",
				"A session in water always belongs to an outing; name another one.")
		}
		if err := mayGoWith(ctx, tx, row, f.OutingID); err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `UPDATE session SET title = @title, places_lowered = @lowered, outing_id = @outing, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": id, "title": f.Title, "lowered": f.PlacesLowered, "outing": f.OutingID,
				"now": tx.Now}); err != nil {
			return err
		}
		if out, err = findSession(ctx, tx, id); err != nil {
			return err
		}
		found, err = s.conclude(ctx, by, tx, out, "change_session", judged{}, accept)
		return err
	})
	return out, found, err
}

// GroupFields are what may be edited of a group.
type GroupFields struct {
	Name          string
	PlacesLowered *int
}

// mayEdit lets a session be edited until it is over.
func mayEdit(session Session) error {
	return untilOver(session, "Its title, outing and limits change while it is planned or under way. "+
		"What happened in it is recorded as facts; for what is still to come, plan another session.")
}

// ChangeGroup edits a group's name, or the instructor's own lower limit for it,
// which is judged like every plan, until its session is over.
func (s *Service) ChangeGroup(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(*GroupFields), accept []journal.Acceptance) (out Group, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		session, g, err := holdGroup(ctx, tx, id, version)
		if err != nil {
			return err
		}
		if err := mayRearrange(session); err != nil {
			return err
		}
		f := GroupFields{g.Name, g.PlacesLowered}
		edit(&f)
		if _, err := tx.Do(ctx, `UPDATE session_group SET name = @name, places_lowered = @lowered, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": id, "name": f.Name, "lowered": f.PlacesLowered, "now": tx.Now}); err != nil {
			return err
		}
		if found, err = s.conclude(ctx, by, tx, session, "change_group", judged{}, accept); err != nil {
			return err
		}
		out, err = findGroup(ctx, tx, id)
		return err
	})
	return out, found, err
}

// holdGroup locks the session of a group and reads the group in the version
// that is meant.
func holdGroup(ctx context.Context, tx *pg.Tx, id uuid.UUID, version int64) (Session, Group, error) {
	g, err := findGroup(ctx, tx, id)
	if err != nil {
		return Session{}, g, err
	}
	session, err := hold(ctx, tx, g.SessionID)
	if err != nil {
		return session, g, err
	}
	if g, err = findGroup(ctx, tx, id); err == nil && g.Version != version {
		err = fault.Changed(g.Version)
	}
	return session, g, err
}

// DeleteGroup takes a group away in which nobody is and that nothing witnessed
// names, until its session is over.
func (s *Service) DeleteGroup(ctx context.Context, by actor.Actor, id uuid.UUID, version int64) error {
	return s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		session, g, err := holdGroup(ctx, tx, id, version)
		if err != nil {
			return err
		}
		if err := mayRearrange(session); err != nil {
			return err
		}
		gone, err := tx.Do(ctx, `DELETE FROM session_group g WHERE g.centre_id = app_centre() AND g.id = @id
				AND NOT EXISTS (SELECT FROM participant p WHERE p.centre_id = g.centre_id AND p.group_id = g.id)
				AND NOT EXISTS (SELECT FROM roll_call r WHERE r.centre_id = g.centre_id AND r.group_id = g.id)
				AND NOT EXISTS (SELECT FROM clearance c WHERE c.centre_id = g.centre_id AND c.group_id = g.id)`, pgx.StrictNamedArgs{"id": g.ID})
		if err == nil && gone == 0 {
			err = fault.WrongState("group", "not empty, or has a history of its clearance or in a roll call",
				"Move everybody to another group first; a group that lost its clearance once, or that a roll call names, stays for the record.")
		}
		return err
	})
}
