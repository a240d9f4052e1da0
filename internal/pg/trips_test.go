package pg_test

import (
	"context"
	"errors"
	"strconv"
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

// What is sent later, the beginning and the end of a part that can fail alone, and what
// is known beforehand, take no round trip of their own.
func TestWhatIsSentLaterTakesNoRoundTripOfItsOwn(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := pgtest.NewWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.URL)
	require.NoError(t, err)
	defer db.Close()
	n := 0
	fill := func(tx *pg.Tx) {
		n++
		tx.DoLater(insert, pgx.StrictNamedArgs{"centre": b.here, "id": n, "label": strconv.Itoa(n), "litres": 12})
	}
	var before []int
	work := func() error {
		return db.InTxWith(t.Context(), b.here, func(q *pgx.Batch) {
			pg.QueueRows(q, &before, "SELECT count(*) FROM bottle", nil)
		}, func(ctx context.Context, tx *pg.Tx) error {
			fill(tx)
			now, err := pg.Row[int](ctx, tx, "SELECT count(*) FROM bottle", nil) // with the bottle
			require.NoError(t, err)
			require.Equal(t, before[0]+1, now)
			for range 2 {
				require.NoError(t, db.Savepoint(ctx, tx, func(_ context.Context, tx *pg.Tx) error {
					fill(tx) // with both ends of the part
					return nil
				}))
			}
			fill(tx)
			return nil // with the COMMIT
		})
	}
	require.NoError(t, work()) // statements are prepared now
	sent := w.Sends.Load()
	require.NoError(t, work())
	require.EqualValues(t, 5, w.Sends.Load()-sent)
	require.Equal(t, []int{4}, before)
	require.Equal(t, 8, count(t, b, b.here))
}

// An error of what is sent later ends the part, or the transaction, that it belongs to.
func TestAnErrorOfWhatIsSentLater(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	n := 0
	fill := func(label string, litres int) func(context.Context, *pg.Tx) error {
		return func(_ context.Context, tx *pg.Tx) error {
			n++
			tx.DoLater(insert, pgx.StrictNamedArgs{"centre": b.here, "id": n, "label": label, "litres": litres})
			return nil
		}
	}
	asked := errors.New("given up by the use case")
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.NoError(t, b.Savepoint(ctx, tx, fill("A", 12)))
		require.Error(t, b.Savepoint(ctx, tx, fill("B", 0)), "of a constraint")
		require.Error(t, b.Savepoint(ctx, tx, func(ctx context.Context, tx *pg.Tx) error {
			_ = fill("C", 12)(ctx, tx)
			return asked
		}), "nothing of it was sent")
		require.Error(t, b.Savepoint(ctx, tx, func(ctx context.Context, tx *pg.Tx) error {
			_ = fill("D", 12)(ctx, tx)
			_, err := pg.Row[int](ctx, tx, "SELECT count(*) FROM bottle", nil)
			require.NoError(t, err)
			_ = fill("E", 12)(ctx, tx)
			return asked
		}), "a part of it was sent")
		return b.Savepoint(ctx, tx, fill("F", 12))
	}))
	require.Equal(t, 2, count(t, b, b.here), "A and F")
	for name, next := range map[string]func(context.Context, *pg.Tx) error{
		"COMMIT": func(context.Context, *pg.Tx) error { return nil },
		"a row":  func(ctx context.Context, tx *pg.Tx) error { return tx.QueryRow(ctx, "SELECT 1").Scan(new(int)) },
		"a statement": func(ctx context.Context, tx *pg.Tx) error {
			_, err := tx.Do(ctx, "SELECT 1", nil)
			return err
		},
		"a batch": func(ctx context.Context, tx *pg.Tx) error {
			var q pgx.Batch
			q.Queue("SELECT 1")
			return tx.Send(ctx, &q)
		},
		"rows": func(ctx context.Context, tx *pg.Tx) error {
			_, err := pg.Rows[int](ctx, tx, "SELECT 1", nil)
			return err
		},
	} {
		err := b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
			_ = fill("G", 0)(ctx, tx)
			return next(ctx, tx)
		})
		require.Error(t, err, name)
		require.Equal(t, fault.Refused, fault.KindOf(err), "of the constraint, at %s", name)
	}
	require.Equal(t, 2, count(t, b, b.here))
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
