package waterview

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// listEntries reads a page of one kind of entries of a session in the order in which
// they were witnessed, voided ones included; participants narrows it. from is the SELECT
// with its FROM, the header called e.
func listEntries[T any](ctx context.Context, tx *pg.Tx, session uuid.UUID, participants []uuid.UUID,
	p page.Request, from string, head func(*T) *journal.Head) (out []T, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"session": session, "participants": participants}
	cond, order, err := p.SQL(page.Column{Name: "witnessed_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	rows, err := pg.Rows[T](ctx, tx, `SELECT * FROM (`+from+
		` WHERE e.centre_id = app_centre() AND e.session_id = @session
		AND (@participants::uuid[] IS NULL OR e.participant_id = ANY (@participants))) e WHERE `+cond+` `+order, args)
	out, next = page.Cut(p, rows,
		func(t T) page.Place { return page.At(head(&t).WitnessedAt, head(&t).ID) })
	return out, next, err
}

// ListGasChecks reads a page of the gas checks of a session in the order in which they
// were witnessed, voided ones included; participants narrows it.
func ListGasChecks(ctx context.Context, tx *pg.Tx, session uuid.UUID, participants []uuid.UUID,
	p page.Request) ([]GasCheck, *page.Place, error) {
	return listEntries(ctx, tx, session, participants, p, gasChecksFrom,
		func(g *GasCheck) *journal.Head { return &g.Head })
}

// ListAttempts is ListGasChecks for drill attempts.
func ListAttempts(ctx context.Context, tx *pg.Tx, session uuid.UUID, participants []uuid.UUID,
	p page.Request) ([]Attempt, *page.Place, error) {
	return listEntries(ctx, tx, session, participants, p, attemptsFrom,
		func(a *Attempt) *journal.Head { return &a.Head })
}
