package pg

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Tx is one transaction, scoped to one centre. Row-level security shows it
// that centre's rows and no others.
type Tx struct {
	*open
	Centre uuid.UUID
	Now    time.Time // read once, when the transaction began; in UTC
}

// retries is how often a transaction is repeated after the server gave it up because of
// another one (serialization failure 40001, deadlock 40P01).
const retries = 3

// How long one use case may hold locks. They are our choice: longer than any request
// takes, shorter than a person waits. They are set with the scope and apply to the
// transaction, so they pass through a pooler too.
const (
	lockTimeout      = 10 * time.Second
	statementTimeout = 30 * time.Second
	idleTimeout      = "60s" // a use case that stopped between two statements

	// timeoutMargin is how long before a request's deadline the server gives up.
	timeoutMargin = 200 * time.Millisecond
)

const scope = `SELECT set_config('app.centre', $1, true),
	set_config('lock_timeout', $2, true),
	set_config('statement_timeout', $3, true),
	set_config('idle_in_transaction_session_timeout', '` + idleTimeout + `', true)`

// InTx runs fn in one transaction, scoped to the centre, and commits it when fn returns
// nil. When the server gives the transaction up because of another one, or another one
// takes an id that fn is about to take, fn runs again, up to three times more. So fn
// must change nothing outside the database; do that after InTx.
//
// A fault from fn is returned unchanged. A broken constraint, by a statement or at
// commit, is returned as the fault that MapConstraints registered; a server that is away or
// overloaded as fault.Unavailable; any other error as fault.Internal with the cause
// hidden.
func (db *DB) InTx(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error {
	return db.InTxWith(ctx, centre, nil, fn)
}

// InTxWith is InTx for a use case whose first statements are known beforehand: first adds
// them to the round trip that opens the transaction, each time that it runs.
func (db *DB) InTxWith(ctx context.Context, centre uuid.UUID, first func(*pgx.Batch),
	fn func(ctx context.Context, tx *Tx) error) error {
	last := commit
	if db.dry {
		last = rehearse
	}
	return db.withRetry(ctx, func() error {
		return db.attempt(ctx, opening{begin: "BEGIN", scope: scope, first: first}, centre, fn, last)
	})
}

// commit commits a transaction.
func commit(ctx context.Context, o *open) error {
	tag, err := o.Exec(ctx, "COMMIT")
	if err == nil && tag.String() == "ROLLBACK" {
		return fmt.Errorf("a failed statement was passed over: %w", pgx.ErrTxCommitRollback)
	}
	return err
}

// Browse is InTx for lists with filters: each statement is planned for its own filters.
// In a plan that serves all of them, a condition like "@ids IS NULL OR id = ANY (@ids)"
// could use no index.
func (db *DB) Browse(ctx context.Context, centre uuid.UUID,
	fn func(ctx context.Context, tx *Tx) error) error {
	return db.withRetry(ctx, func() error {
		return db.attempt(ctx, opening{begin: "BEGIN READ ONLY", scope: scope +
			`, set_config('plan_cache_mode', 'force_custom_plan', true)`}, centre, fn, commit)
	})
}

const snapshot = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"

// Snapshot is InTx for long readings: every statement of fn sees the database as of the
// first one, and none can write.
func (db *DB) Snapshot(ctx context.Context, centre uuid.UUID,
	fn func(ctx context.Context, tx *Tx) error) error {
	return db.withRetry(ctx, func() error {
		return db.attempt(ctx, opening{begin: snapshot, scope: scope}, centre, fn, commit)
	})
}

// ReadBatch is Snapshot for readings that are all known beforehand: queue adds them to a
// batch (see Queue). The transaction, its scope and the readings take one round trip.
func (db *DB) ReadBatch(ctx context.Context, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.runBatch(ctx, snapshot, centre, centre, queue)
}

// WriteBatch is InTx for statements that are all known beforehand: queue adds them to a
// batch. The transaction, its scope and the statements take one round trip.
func (db *DB) WriteBatch(ctx context.Context, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.runBatch(ctx, "BEGIN", centre, centre, queue)
}

// Recognise is ReadBatch for authentication, before a centre is known for certain. It counts
// to a share of its own, so that no caller waits for a locked centre to be
// authenticated.
func (db *DB) Recognise(ctx context.Context, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.runBatch(ctx, snapshot, unrecognised, centre, queue)
}

// unrecognised is the share of callers that are not authenticated yet.
var unrecognised = uuid.Max

func (db *DB) runBatch(ctx context.Context, begin string, share, centre uuid.UUID,
	queue func(*pgx.Batch)) error {
	return db.withRetry(ctx, func() error {
		held, err := db.acquire(ctx, share)
		if err != nil {
			return err
		}
		defer leave(ctx, held)
		lock, statement := times(ctx)
		var batch pgx.Batch
		batch.Queue(begin)
		batch.Queue(scope, centre.String(), lock, statement)
		queue(&batch)
		if db.dry {
			batch.Queue(checkAll)
		} else {
			batch.Queue("COMMIT")
		}
		return held.Conn.Conn().SendBatch(ctx, &batch).Close()
	})
}

// withRetry repeats run while the server gives it up because of another transaction, and
// translates the last error.
func (db *DB) withRetry(ctx context.Context, run func() error) error {
	if ctx.Value(inside{}) != nil {
		return db.translate(errNested)
	}
	for n := 0; ; n++ {
		err := run()
		if errors.Is(err, errCopied) {
			if _, failed := db.CheckEpoch(ctx); failed != nil {
				return failed
			}
		}
		if n == retries || !givenUp(err) {
			return db.translate(cutShort(ctx, err))
		}
		// A random pause, so that two transactions do not meet again.
		pause := time.Duration(rand.Int64N(int64(10*time.Millisecond) << n))
		select {
		case <-ctx.Done():
			return db.translate(ctx.Err())
		case <-time.After(pause):
		}
	}
}

// inside marks the context of fn. A second transaction within the first would not see
// what the first wrote, could wait for its locks for ever, and would remain when the
// first is rolled back.
type inside struct{}

var errNested = errors.New("pg: InTx within a transaction; hand the Tx on instead")

// ErrRetry is for fn to return when, under the last of its locks, it finds that
// another transaction made a row that it should have locked first. What fn wrote is
// rolled back, and fn runs again from the beginning. Callers of InTx never get it; after
// the last attempt it is fault.Unavailable.
var ErrRetry = errors.New("pg: overtaken by another transaction")

// givenUp reports whether to repeat a transaction: overtaken, an epoch of another
// cluster, a serialization failure, a deadlock, or an id that another transaction took
// at the same time. The next attempt sees the other's rows, so that a request sent
// twice at once is answered twice.
func givenUp(err error) bool {
	var e *pgconn.PgError
	return errors.Is(err, ErrRetry) || errors.Is(err, errCopied) || errors.As(err, &e) &&
		(e.Code == "40001" || e.Code == "40P01" || idTaken(e))
}

// idTaken reports whether a row with that primary key exists already.
func idTaken(e *pgconn.PgError) bool {
	return e.Code == "23505" && strings.HasSuffix(e.ConstraintName, "_pkey")
}

// opening is how a transaction begins: the statement, the scope of the transaction, and
// the first statements of the use case, nil for none.
type opening struct {
	begin, scope string
	first        func(*pgx.Batch)
}

// attempt runs fn in one transaction and ends it with last, or rolls it back.
func (db *DB) attempt(ctx context.Context, o opening, centre uuid.UUID, fn func(context.Context, *Tx) error,
	last func(context.Context, *open) error) error {
	held, err := db.acquire(ctx, centre)
	if err != nil {
		return err
	}
	defer leave(ctx, held)
	tx, err := begin(ctx, held.Conn.Conn(), o, centre)
	if err != nil {
		return err
	}
	if err := fn(context.WithValue(ctx, inside{}, true), tx); err != nil {
		return err
	}
	return last(ctx, tx.open)
}

// begin opens the transaction, sets its scope and reads the clock, in one round trip.
func begin(ctx context.Context, conn *pgx.Conn, o opening, centre uuid.UUID) (*Tx, error) {
	tx := &Tx{open: &open{conn: conn}, Centre: centre}
	lock, statement := times(ctx)
	var batch pgx.Batch
	batch.Queue(o.begin)
	batch.Queue(o.scope, centre.String(), lock, statement)
	// After the scope, since a demo centre's clock is read under its policy.
	batch.Queue("SELECT app_now()").QueryRow(func(row pgx.Row) error { return row.Scan(&tx.Now) })
	before, reads := ctx.Value(aheadKey{}).(ahead)
	if reads {
		before.queue(&batch)
	}
	if o.first != nil {
		o.first(&batch)
	}
	if err := conn.SendBatch(ctx, &batch).Close(); err != nil {
		return nil, fmt.Errorf("begin: %w", err)
	}
	if reads {
		return tx, before.goOn()
	}
	return tx, nil
}
