package pg_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// locked holds a row of a centre in a session of its own, as somebody with psql
// might, until the test ends.
func locked(t *testing.T, b bundle, centre uuid.UUID) {
	require.NoError(t, b.InTx(t.Context(), centre, put(centre, 1, "A", 12)))
	conn, err := pgx.Connect(t.Context(), b.SuperURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	tx, err := conn.Begin(t.Context())
	require.NoError(t, err)
	_, err = tx.Exec(t.Context(), "SELECT FROM bottle WHERE centre_id = $1 FOR UPDATE", centre)
	require.NoError(t, err)
}

func change(ctx context.Context, tx *pg.Tx) error {
	_, err := tx.Do(ctx, "UPDATE bottle SET litres = litres + 1 WHERE centre_id = app_centre() AND id = 1", nil)
	return err
}

// Forty clients wait for a locked row of one centre, on a pool of ten: another
// centre still finds a connection at once, and the waiting end with their time.
func TestACentreThatWaitsLeavesConnectionsToOthers(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	locked(t, b, b.here)
	ctx, cancel := context.WithTimeout(t.Context(), 12*time.Second)
	defer cancel()
	var waiting sync.WaitGroup
	errs := make(chan error, 40)
	for range cap(errs) {
		waiting.Go(func() { errs <- b.InTx(ctx, b.here, change) })
	}
	require.Eventually(t, func() bool { return b.Waiting(b.here) == cap(errs) }, 6*time.Second,
		time.Millisecond)
	for range 20 {
		began := time.Now()
		require.Zero(t, count(t, b, b.there))
		require.Less(t, time.Since(began), 3*time.Second, "our choice: far below what the others wait")
	}
	require.NoError(t, b.Probe(t.Context(),
		func(ctx context.Context, conn *pgx.Conn) error { return conn.Ping(ctx) }))
	require.NoError(t, ctx.Err(), "the others were still waiting")
	waiting.Wait()
	for range cap(errs) {
		require.Equal(t, fault.Unavailable, fault.KindOf(<-errs))
	}
	require.Zero(t, b.Waiting(b.here), "nothing is left of a centre that asks for nothing")
}

// The server gives up just before the caller's time is over, so the connection
// stays in order.
func TestAWaitForALockEndsWithTheCallersTime(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	locked(t, b, b.here)
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	began := time.Now()
	err := b.InTx(ctx, b.here, change)
	require.Equal(t, fault.Unavailable, fault.KindOf(err))
	require.NoError(t, ctx.Err(), "%v", err)
	require.Less(t, time.Since(began), time.Second)
}

// A server that answers nothing any more: whoever asks is told so in time,
// whether it stops before a transaction or within one.
func TestAServerThatAnswersNothingIsUnavailableInTime(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := pgtest.NewWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.URL)
	require.NoError(t, err)
	defer db.Close()
	for name, fn := range map[string]func(context.Context, *pg.Tx) error{
		"before": put(b.here, 1, "A", 12),
		"within": func(ctx context.Context, tx *pg.Tx) error {
			w.Frozen.Store(true)
			return put(b.here, 1, "A", 12)(ctx, tx)
		},
		"between two statements": func(ctx context.Context, tx *pg.Tx) error {
			w.Frozen.Store(true)
			<-ctx.Done()
			return ctx.Err()
		},
	} {
		w.Frozen.Store(name == "before")
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		began := time.Now()
		err := db.InTx(ctx, b.here, fn)
		cancel()
		require.Equal(t, fault.Unavailable, fault.KindOf(err), "%s: %v", name, err)
		require.Less(t, time.Since(began), 2*time.Second, name)
		w.Frozen.Store(false)
		require.NoError(t, db.Ping(t.Context()), name)
	}
}
