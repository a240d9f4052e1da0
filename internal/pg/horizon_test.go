package pg_test

import (
	"context"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// resume reads how far things are, going on from a position.
func resume(t *testing.T, db *pg.DB, since *pg.Position) (at pg.Position, err error) {
	t.Helper()
	err = db.Browse(t.Context(), uuid.New(), func(ctx context.Context, tx *pg.Tx) error {
		at, err = pg.Resume(ctx, tx, since, pgx.StrictNamedArgs{})
		return err
	})
	return at, err
}

func super(t *testing.T, db *pgtest.DB, sql string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.SuperURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err)
}

func TestAPositionHoldsWithinItsEpoch(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	at, err := resume(t, db.DB, nil)
	require.NoError(t, err)
	require.NotEmpty(t, at.Epoch)
	again, err := resume(t, db.DB, &at)
	require.NoError(t, err)
	require.Equal(t, at.Epoch, again.Epoch)
	_, err = resume(t, db.DB, &pg.Position{Number: at.Number})
	require.ErrorIs(t, err, fault.Gone.Err(), "a position of a release that knew no epoch")

	require.NoError(t, db.RenewEpoch(t.Context()))
	_, err = resume(t, db.DB, &at)
	require.ErrorIs(t, err, fault.Gone.Err(), "the operator has renewed the epoch")
}

// Another cluster is noticed by the first reading, however many ask at once, and
// one new epoch begins.
func TestAnotherClusterBeginsOneNewEpoch(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	before, err := resume(t, db.DB, nil)
	require.NoError(t, err)
	// Identifier, timeline, oid: each alone makes it another cluster.
	for _, other := range []string{`'1' || substr(cluster, 2)`, `regexp_replace(cluster, '/.*/', '/0000000F/')`,
		`regexp_replace(cluster, '\d+$', '1')`} {
		super(t, db, `UPDATE position_epoch SET cluster = `+other)
		var wait sync.WaitGroup
		epochs := make([]string, 6)
		for i := range epochs {
			wait.Go(func() {
				at, err := resume(t, db.DB, nil)
				if err != nil {
					t.Error(err)
				}
				epochs[i] = at.Epoch
			})
		}
		wait.Wait()
		for _, e := range epochs {
			require.Equal(t, epochs[0], e)
			require.NotEqual(t, before.Epoch, e, other)
		}
		_, err = resume(t, db.DB, &before)
		require.ErrorIs(t, err, fault.Gone.Err())
		before.Epoch = epochs[0]
	}
	renewed, err := db.CheckEpoch(t.Context())
	require.NoError(t, err)
	require.False(t, renewed, "there is nothing left to settle")
}
