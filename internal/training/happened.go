package training

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Each id is looked up by itself. A plan for all of them at once, made while the
// tables were small, would go through a table that has grown for each id.
const (
	eachOf    = `SELECT x.* FROM unnest(@ids::uuid[]) w (id) CROSS JOIN LATERAL (`
	thatEntry = `WHERE e.centre_id = app_centre() AND e.id = w.id LIMIT 1) x`
)

// QueueGasChecks reads gas checks by their ids, in a batch; so do the other functions
// that begin with Queue read what they are called after. An id that is not there has
// no row.
func QueueGasChecks(b *pgx.Batch, into *[]GasCheckLogged, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+gasChecksFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueResponses reads responses by their ids.
func QueueResponses(b *pgx.Batch, into *[]ResponseLogged, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+responsesFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueAttempts reads drill attempts by their ids.
func QueueAttempts(b *pgx.Batch, into *[]AttemptLogged, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+attemptsFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueTimesIn reads dives by the ids of their times in. One whose time in was voided
// has no row.
func QueueTimesIn(b *pgx.Batch, into *[]LoggedDive, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+loggedFrom+`AND b.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}

// QueueTimesOut reads dives by the ids of their times out.
func QueueTimesOut(b *pgx.Batch, into *[]LoggedDive, ids []uuid.UUID) {
	pg.QueueRows(b, into, `SELECT x.*
		FROM (
			SELECT (SELECT z.dive_start_id FROM dive_end z WHERE z.centre_id = app_centre() AND z.id = y.id LIMIT 1) AS id
			FROM unnest(@ids::uuid[]) y (id)) w
		CROSS JOIN LATERAL (`+loggedFrom+`AND b.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}

// QueueSignOffs reads sign-offs by their ids.
func QueueSignOffs(b *pgx.Batch, into *[]SignedOff, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+`SELECT `+signedColumns+signedFrom+
		`WHERE o.centre_id = app_centre() AND o.id = w.id LIMIT 1) x`,
		pgx.StrictNamedArgs{"ids": ids})
}
