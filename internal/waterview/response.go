package waterview

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
)

// Response is a response as it was recorded.
type Response struct {
	journal.Head
	DiveID *uuid.UUID
	What   signal.Response
	Note   *string
}

const responsesFrom = `
	SELECT ` + journal.Columns + `, g.dive_id, g.what, g.note
	FROM gas_response g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id `

// responsesOfSession leaves out the enrolments, which the view of the session has.
const responsesOfSession = `
	SELECT ` + journal.BareColumns + `, g.dive_id, g.what, g.note` + ofSession + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM gas_response g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'gas_response' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`

// LogCompletion is a log completion as it was recorded.
type LogCompletion struct {
	journal.Head
	DiveID *uuid.UUID
}

// logCompletionsOfSession has no enrolments: the entries are of no participant.
const logCompletionsOfSession = `
	SELECT ` + journal.BareColumns + `, g.dive_id` + ofSession + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM log_completion g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'log_completion' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`

// QueueResponses reads the responses of a session that stand, by time, in a batch.
// Their enrolments are left out.
func QueueResponses(b *pgx.Batch, into *[]Response, session uuid.UUID) {
	pg.QueueRows(b, into, responsesOfSession, pgx.StrictNamedArgs{"session": session})
}

// QueueLogCompletions reads the log completions of a session that stand, by time, in a
// batch.
func QueueLogCompletions(b *pgx.Batch, into *[]LogCompletion, session uuid.UUID) {
	pg.QueueRows(b, into, logCompletionsOfSession, pgx.StrictNamedArgs{"session": session})
}
