package pg_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

func TestScopeAndClock(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	centre := uuid.New()
	err := db.In(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
		got, err := pg.One[uuid.UUID](ctx, tx, "SELECT app_centre()", nil)
		require.NoError(t, err)
		require.Equal(t, centre, got)
		require.False(t, tx.Now.IsZero())
		return nil
	})
	require.NoError(t, err)
}
