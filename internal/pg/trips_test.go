package pg_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

func TestBeginScopeAndClockAreOneRoundTrip(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := pgtest.NewWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.URL)
	require.NoError(t, err)
	defer db.Close()
	work := func(ctx context.Context, tx *pg.Tx) error {
		_, err := pg.Row[int](ctx, tx, "SELECT count(*) FROM bottle", nil)
		return err
	}
	require.NoError(t, db.InTx(t.Context(), b.here, work)) // statements are prepared now
	before := w.Sends.Load()
	require.NoError(t, db.InTx(t.Context(), b.here, work))
	require.EqualValues(t, 3, w.Sends.Load()-before, "to begin, to work and to commit")
}

func TestALookIsOneRoundTripInItsScopeAndCannotWrite(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := pgtest.NewWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.URL)
	require.NoError(t, err)
	defer db.Close()
	require.NoError(t, db.InTx(t.Context(), b.here, put(b.here, 1, "A", 12)))
	counted := func(centre uuid.UUID) int {
		var counts []int
		require.NoError(t, db.ReadBatch(t.Context(), centre, func(q *pgx.Batch) {
			pg.QueueRows(q, &counts, "SELECT count(*) FROM bottle", nil)
		}))
		require.Len(t, counts, 1)
		return counts[0]
	}
	require.Equal(t, 1, counted(b.here)) // statements are prepared now
	before := w.Sends.Load()
	require.Equal(t, 1, counted(b.here))
	require.EqualValues(t, 1, w.Sends.Load()-before)
	require.Zero(t, counted(uuid.New()), "another centre sees nothing")
	var none []int
	err = db.ReadBatch(t.Context(), b.here,
		func(q *pgx.Batch) { pg.QueueRows(q, &none, "DELETE FROM bottle RETURNING 1", nil) })
	require.ErrorContains(t, err, "read-only transaction")
	require.Equal(t, 1, counted(b.here), "the connection is in order after a failure")
}

func TestALostServerIsUnavailableAndComesBack(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := pgtest.NewWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.URL)
	require.NoError(t, err)
	defer db.Close()
	err = db.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		w.Cut()
		return put(b.here, 1, "A", 12)(ctx, tx)
	})
	require.Equal(t, fault.Unavailable, fault.KindOf(err), "%v", err)
	require.NoError(t, db.InTx(t.Context(), b.here, put(b.here, 1, "A", 12)),
		"the next one gets a new connection")
	require.Equal(t, 1, count(t, b, b.here))
}

func BenchmarkIn(b *testing.B) {
	db := pgtest.New(b)
	centre := uuid.New()
	for b.Loop() {
		if err := db.InTx(b.Context(), centre, func(context.Context, *pg.Tx) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}
