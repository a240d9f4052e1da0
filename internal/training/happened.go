package training

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
)

// Happened is what happened, for who is told of it by ids alone: each list has
// those of the ids that are there. Times in and out that were voided are not.
type Happened struct {
	Checks    []GasCheckLogged
	Responses []ResponseLogged
	Attempts  []AttemptLogged
	Dives     []Logged // by the ids of their times in, or of their times out
	SignOffs  []SignedOff
}

// Queue reads what happened in a batch: the entries of each kind, and the
// sign-offs, by their ids. What has no ids costs nothing.
func (h *Happened) Queue(b *pgx.Batch, entries map[journal.Kind][]uuid.UUID, signOffs []uuid.UUID) {
	of := func(ids []uuid.UUID) pgx.StrictNamedArgs { return pgx.StrictNamedArgs{"ids": ids} }
	if ids := entries[journal.GasCheck]; len(ids) > 0 {
		pg.Queue(b, &h.Checks, eachOf+gasChecksFrom+thatEntry, of(ids))
	}
	if ids := entries[journal.GasResponse]; len(ids) > 0 {
		pg.Queue(b, &h.Responses, eachOf+responsesFrom+thatEntry, of(ids))
	}
	if ids := entries[journal.DrillAttempt]; len(ids) > 0 {
		pg.Queue(b, &h.Attempts, eachOf+attemptsFrom+thatEntry, of(ids))
	}
	if starts, ends := entries[journal.DiveStart], entries[journal.DiveEnd]; len(starts)+len(ends) > 0 {
		pg.Queue(b, &h.Dives, `SELECT x.* FROM (SELECT unnest(@starts::uuid[]) AS id UNION
				SELECT (SELECT z.dive_start_id FROM dive_end z WHERE z.centre_id = app_centre() AND z.id = y.id LIMIT 1) FROM unnest(@ends::uuid[]) y (id)) w
			CROSS JOIN LATERAL (`+loggedFrom+`AND b.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"starts": starts, "ends": ends})
	}
	if len(signOffs) > 0 {
		pg.Queue(b, &h.SignOffs, eachOf+`SELECT `+signedColumns+signedFrom+`WHERE o.centre_id = app_centre() AND o.id = w.id LIMIT 1) x`, of(signOffs))
	}
}

// Each id is looked up by itself. A plan for all of them at once, made while the
// tables were small, would go through a table that has grown for each id.
const (
	eachOf    = `SELECT x.* FROM unnest(@ids::uuid[]) w (id) CROSS JOIN LATERAL (`
	thatEntry = `WHERE e.centre_id = app_centre() AND e.id = w.id LIMIT 1) x`
)
