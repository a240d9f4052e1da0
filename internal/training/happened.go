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
	const these = `WHERE e.centre_id = app_centre() AND e.id = ANY (@ids)`
	of := func(ids []uuid.UUID) pgx.StrictNamedArgs { return pgx.StrictNamedArgs{"ids": ids} }
	if ids := entries[journal.GasCheck]; len(ids) > 0 {
		pg.Queue(b, &h.Checks, gasChecksFrom+these, of(ids))
	}
	if ids := entries[journal.GasResponse]; len(ids) > 0 {
		pg.Queue(b, &h.Responses, responsesFrom+these, of(ids))
	}
	if ids := entries[journal.DrillAttempt]; len(ids) > 0 {
		pg.Queue(b, &h.Attempts, attemptsFrom+these, of(ids))
	}
	if starts, ends := entries[journal.DiveStart], entries[journal.DiveEnd]; len(starts)+len(ends) > 0 {
		pg.Queue(b, &h.Dives, loggedFrom+`AND b.id IN (SELECT unnest(@starts::uuid[])
			UNION SELECT x.dive_start_id FROM dive_end x WHERE x.centre_id = app_centre() AND x.id = ANY (@ends))`,
			pgx.StrictNamedArgs{"starts": starts, "ends": ends})
	}
	if len(signOffs) > 0 {
		pg.Queue(b, &h.SignOffs, `SELECT `+signedColumns+signedFrom+`WHERE o.centre_id = app_centre() AND o.id = ANY (@ids)`, of(signOffs))
	}
}
