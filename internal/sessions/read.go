package sessions

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// The locks, in the order in which they are taken, of @ids: sessions, all groups of
// sessions, people and enrolments, each in the order of their ids.
const (
	lockSessionsSQL   = `SELECT id FROM session WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`
	lockGroupsSQL     = `SELECT id FROM session_group WHERE centre_id = app_centre() AND session_id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`
	lockPeopleSQL     = `SELECT id FROM people_lock WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`
	lockEnrolmentsSQL = `SELECT id FROM courses_enrolment WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`
)

// lockSessions locks the sessions of those ids, in their order, for the rest of
// the transaction.
func lockSessions(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, lockSessionsSQL, ids)
}

// lockGroupsOf locks all groups of the sessions.
func lockGroupsOf(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) error {
	return lock(ctx, tx, lockGroupsSQL, sessions)
}

// lockPeople locks people, so that nobody else books them meanwhile.
func lockPeople(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, lockPeopleSQL, ids)
}

// lockEnrolments locks enrolments, so that none ends while a place is given by
// it. It comes after lockPeople.
func lockEnrolments(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, lockEnrolmentsSQL, ids)
}

func lock(ctx context.Context, tx *pg.Tx, sql string, ids []uuid.UUID) error {
	_, err := tx.Exec(ctx, sql, pgx.StrictNamedArgs{"ids": ids})
	return err
}

// hold locks a session with its groups and reads it.
func hold(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Session, error) {
	var b pgx.Batch
	var rows []Session
	args := pgx.StrictNamedArgs{"ids": []uuid.UUID{id}}
	b.Queue(lockSessionsSQL, args)
	b.Queue(lockGroupsSQL, args)
	pg.QueueRows(&b, &rows, findSessionSQL, pgx.StrictNamedArgs{"id": id})
	if err := tx.Send(ctx, &b); err != nil {
		return Session{}, err
	}
	if len(rows) == 0 {
		return Session{}, fault.NoSuch("session")
	}
	return rows[0], nil
}

const findSessionSQL = `SELECT ` + dayview.SessionColumns + `
	FROM session s
	WHERE s.centre_id = app_centre() AND s.id BETWEEN @id AND @id
	ORDER BY s.id`

func findSession(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Session, error) {
	s, found, err := pg.OptionalRow[Session](ctx, tx, findSessionSQL, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("session")
	}
	return s, err
}

func findGroup(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Group, error) {
	g, found, err := pg.OptionalRow[Group](ctx, tx, `SELECT `+dayview.GroupColumns+
		` FROM session_group g WHERE g.centre_id = app_centre() AND g.id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("group")
	}
	return g, err
}

func groupsOf(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]Group, error) {
	return pg.Rows[Group](ctx, tx, `SELECT `+dayview.GroupColumns+`
		FROM session_group g
		WHERE g.centre_id = app_centre() AND g.session_id BETWEEN @id AND @id
		ORDER BY g.session_id, g.created_at, g.id`, pgx.StrictNamedArgs{"id": session})
}

func findParticipant(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Participant, error) {
	p, found, err := pg.OptionalRow[Participant](ctx, tx, `SELECT `+dayview.ParticipantColumns+
		` FROM participant p
		WHERE p.centre_id = app_centre() AND p.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("participant")
	}
	return p, err
}

// participantsOf reads the participants of a session: who is in charge first, then
// the crew, then the students by name.
func participantsOf(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]Participant, error) {
	v, err := dayview.Read(ctx, tx, dayview.Query{Sessions: []uuid.UUID{session}})
	if err != nil || len(v) == 0 {
		return nil, err
	}
	return v[0].Participants, nil
}

// centre and person are what the rules ask about a centre and about a person, on one
// day.
type (
	centre = dayview.Centre
	person = dayview.Person
)
