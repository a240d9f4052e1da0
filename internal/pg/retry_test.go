package pg_test

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
)

func code(sqlstate string) error { return &pgconn.PgError{Code: sqlstate} }

func TestGivenUpTransactionsAreRepeated(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		err   error
		fails int // the first so many runs fail
		runs  int
		kind  fault.Kind
		ok    bool
	}{
		{"none", nil, 0, 1, 0, true},
		{"serialization failure, once", code("40001"), 1, 2, 0, true},
		{"deadlock, three times", code("40P01"), 3, 4, 0, true},
		{"deadlock without end", code("40P01"), 100, 4, fault.Unavailable, false},
		{"a lock that takes too long is not repeated", code("55P03"), 100, 1, fault.Unavailable, false},
		{"overtaken, once", pg.ErrRetry, 1, 2, 0, true},
		{"overtaken without end", pg.ErrRetry, 100, 4, fault.Unavailable, false},
		{"a defect is not repeated", code("42P01"), 100, 1, fault.Internal, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			b := setUp(t)
			runs := 0
			err := b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
				runs++
				require.NoError(t, put(b.here, 1, "A", 12)(ctx, tx), "nothing is left of the run before")
				if runs <= c.fails {
					return fmt.Errorf("fill: %w", c.err)
				}
				return nil
			})
			require.Equal(t, c.runs, runs)
			if c.ok {
				require.NoError(t, err)
				require.Equal(t, 1, count(t, b, b.here))
				return
			}
			require.Equal(t, c.kind, fault.KindOf(err))
			require.Zero(t, count(t, b, b.here))
		})
	}
}

// Two who lock the same two rows in opposite order: the server gives one of
// them up, and InTx runs it again.
func TestARealDeadlockEndsWellForBoth(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	require.NoError(t, b.InTx(t.Context(), b.here, put(b.here, 1, "A", 10)))
	require.NoError(t, b.InTx(t.Context(), b.here, put(b.here, 2, "B", 10)))
	var runs atomic.Int32
	both := make(chan struct{}) // closed when each holds its first row
	var first sync.WaitGroup
	first.Add(2)
	go func() { first.Wait(); close(both) }()
	var wait sync.WaitGroup
	for _, order := range [][2]int{{1, 2}, {2, 1}} {
		wait.Go(func() {
			var once sync.Once
			err := b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
				runs.Add(1)
				for _, id := range order {
					if _, err := tx.Do(ctx, "UPDATE bottle SET litres = litres + 1 WHERE id = @id",
						pgx.StrictNamedArgs{"id": id}); err != nil {
						return err
					}
					once.Do(first.Done)
					<-both
				}
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
	require.EqualValues(t, 3, runs.Load(), "one of the two ran twice")
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		litres, err := pg.Rows[int](ctx, tx, "SELECT litres FROM bottle", nil)
		require.Equal(t, []int{12, 12}, litres)
		return err
	}))
}
