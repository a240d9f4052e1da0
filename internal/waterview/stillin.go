package waterview

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// StillIn is somebody who was in the water when a session ended, and when they
// came out, nil while it is not logged.
type StillIn struct {
	ParticipantID uuid.UUID
	OutAt         *time.Time
}

const stillInSQL = `
	SELECT b.participant_id, z.out_at
	FROM (
		SELECT s.ended_at
		FROM sessions_session s
		WHERE s.centre_id = app_centre() AND s.id BETWEEN @session AND @session
		ORDER BY s.id) s
	CROSS JOIN LATERAL (
		SELECT e.id
		FROM journal_entry e
		WHERE e.centre_id = app_centre()
			AND e.session_id BETWEEN @session AND @session
			AND e.kind = 'time_in'
			AND e.voided_at IS NULL
			AND e.witnessed_at <= s.ended_at
		ORDER BY e.session_id) e
	CROSS JOIN LATERAL (
		SELECT b.centre_id, b.id, b.participant_id
		FROM time_in b
		WHERE b.centre_id = app_centre() AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b
	LEFT JOIN LATERAL (` + outOf + `) z ON true
	WHERE s.ended_at IS NOT NULL AND (z.out_at IS NULL OR z.out_at > s.ended_at)`

// QueueStillIn reads who was in the water when a session ended, in a batch.
func QueueStillIn(b *pgx.Batch, into *[]StillIn, session uuid.UUID) {
	pg.QueueRows(b, into, stillInSQL, pgx.StrictNamedArgs{"session": session})
}
