package waterview

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

// QueueGasChecksByID reads gas checks by their ids, in a batch; so do the other functions
// that begin with Queue read what they are called after. An id that is not there has
// no row.
func QueueGasChecksByID(b *pgx.Batch, into *[]GasCheck, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+gasChecksFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueResponsesByID reads responses by their ids.
func QueueResponsesByID(b *pgx.Batch, into *[]Response, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+responsesFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueAttemptsByID reads drill attempts by their ids.
func QueueAttemptsByID(b *pgx.Batch, into *[]Attempt, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+attemptsFrom+thatEntry, pgx.StrictNamedArgs{"ids": ids})
}

// QueueDivesByStart reads dives by the ids of their times in. One whose time in was voided
// has no row.
func QueueDivesByStart(b *pgx.Batch, into *[]Dive, ids []uuid.UUID) {
	pg.QueueRows(b, into, eachOf+loggedFrom+`AND b.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}

// QueueDivesByEnd reads dives by the ids of their times out.
func QueueDivesByEnd(b *pgx.Batch, into *[]Dive, ids []uuid.UUID) {
	pg.QueueRows(b, into, `SELECT x.*
		FROM (
			SELECT (SELECT z.time_in_id
				FROM time_out z
				WHERE z.centre_id = app_centre() AND z.id = y.id
				LIMIT 1) AS id
			FROM unnest(@ids::uuid[]) y (id)) w
		CROSS JOIN LATERAL (`+loggedFrom+`AND b.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}
