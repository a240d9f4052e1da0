package pg_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

func TestASnapshotStandsStillAndCannotWrite(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	centre := uuid.New()
	add := func(ctx context.Context, tx *pg.Tx) error {
		_, err := tx.Do(ctx, `INSERT INTO ledger_head VALUES (@centre, 'group', @id, 0, 'x')`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "id": uuid.New()})
		return err
	}
	require.NoError(t, db.InTx(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books,
				crew_papers, student_papers, medical_months, created_at, updated_at)
			VALUES ($1, 'Harbour wall', 'UTC', 'bar', 18, '{}', '{}', '{}', 12, $2, $2)`, centre, tx.Now)
		if err != nil {
			return err
		}
		return add(ctx, tx)
	}))
	count := func(ctx context.Context, tx *pg.Tx) int {
		n, err := pg.Row[int](ctx, tx, `SELECT count(*) FROM ledger_head`, nil)
		require.NoError(t, err)
		return n
	}
	require.NoError(t, db.Snapshot(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
		require.Equal(t, 1, count(ctx, tx))
		require.NoError(t, db.InTx(t.Context(), centre, add))
		require.Equal(t, 1, count(ctx, tx), "what was committed meanwhile is not seen")
		return nil
	}))
	require.ErrorContains(t, db.Snapshot(t.Context(), centre, add), "read-only transaction")
	require.NoError(t, db.Snapshot(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
		require.Equal(t, 2, count(ctx, tx))
		return nil
	}))
}
