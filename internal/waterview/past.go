package waterview

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// PastSession is a session in which a person's gas was looked at, or in which they dived.
type PastSession struct {
	ID, CourseID    uuid.UUID
	Title, Kind     string
	OnDay, StartsAt time.Time
}

const historySQL = `
	SELECT *
	FROM (
		SELECT s.id, s.course_id, s.title, s.kind, s.on_day, s.starts_at
		FROM sessions_session s
		WHERE s.centre_id = app_centre() AND EXISTS (
			SELECT FROM sessions_participant p
			WHERE p.centre_id = s.centre_id AND p.session_id = s.id AND p.person_id = @person AND (
				EXISTS (
					SELECT FROM gas_check g
					JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
					WHERE g.centre_id = p.centre_id AND g.participant_id = p.id AND e.voided_at IS NULL)
				OR EXISTS (
					SELECT FROM time_in b
					JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
					WHERE b.centre_id = p.centre_id AND b.participant_id = p.id AND e.voided_at IS NULL)))) s
	WHERE `

// QueuePastSessions reads, in a batch, the sessions s of the person @person that hold a
// condition, which an order may follow.
func QueuePastSessions(b *pgx.Batch, into *[]PastSession, condition string, args pgx.StrictNamedArgs) {
	pg.QueueRows(b, into, historySQL+condition, args)
}

// SessionDive is a dive with its session.
type SessionDive struct {
	Dive
	SessionID uuid.UUID
}

// QueueGasOf reads the gas checks and dives of a person in some sessions, by time, in a
// batch.
func QueueGasOf(b *pgx.Batch, checks *[]GasCheck, dives *[]SessionDive, person uuid.UUID,
	sessions []uuid.UUID) {
	args := pgx.StrictNamedArgs{"sessions": sessions, "person": person}
	const own = `AND e.participant_id IN (
			SELECT id FROM sessions_participant WHERE centre_id = app_centre() AND person_id = @person)`
	pg.QueueRows(b, checks, gasChecksFrom+`
		WHERE e.centre_id = app_centre() AND e.session_id = ANY (@sessions) AND e.voided_at IS NULL `+own+`
		ORDER BY e.witnessed_at, e.id`, args)
	pg.QueueRows(b, dives, `
		SELECT x.*, e.session_id
		FROM (`+loggedFrom+`AND e.session_id = ANY (@sessions) `+own+`) x
		JOIN journal_entry e ON e.centre_id = app_centre() AND e.id = x.start_id
		ORDER BY x.in_at, x.start_id`, args)
}
