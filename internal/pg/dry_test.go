package pg_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

func TestADryRunLeavesNothing(t *testing.T) {
	db := pgtest.New(t)
	centre := uuid.New()
	insert := func(ctx context.Context, tx *pg.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books, crew_papers, student_papers, medical_months, created_at, updated_at)
			VALUES ($1, 'Dry', 'UTC', 'bar', 18, '{}', '{}', '{}', 12, now(), now())`, centre)
		return err
	}
	count := func() (n int) {
		require.NoError(t, db.InTx(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
			return tx.QueryRow(ctx, `SELECT count(*) FROM centre`).Scan(&n)
		}))
		return n
	}
	require.NoError(t, db.DryRun().InTx(t.Context(), centre, insert))
	require.Zero(t, count())
	require.NoError(t, db.InTx(t.Context(), centre, insert))
	require.Equal(t, 1, count())
}
