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
	pgx.Tx
	Centre uuid.UUID
	Now    time.Time // read once, when the transaction began; in UTC
}

// retries is how often a transaction is begun anew after the server gave it up
// for another one's sake (serialization failure 40001, deadlock 40P01).
const retries = 3

// How long one use case may hold things up. They are our choice: longer than
// any request takes, shorter than a person waits. They are said with the scope
// and hold for the transaction, so they pass through a pooler too.
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

// In runs fn in one transaction, scoped to the centre, and commits it when fn
// gives nil. When the server gives the transaction up for another one's sake,
// or another one takes an id that fn is about to take, fn runs again, up to three times more; so whatever fn does outside the
// database it must do only after In.
//
// A fault from fn comes back as it is. A broken constraint, by a statement or
// at commit, comes back as the fault that Explain named; a server that is
// away or overloaded as fault.Unavailable; anything else as fault.Internal
// with the cause hidden.
func (db *DB) In(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error {
	if isDry(ctx) {
		return db.Try(ctx, centre, fn)
	}
	return db.again(ctx, func() error {
		return db.once(ctx, opening{"BEGIN", scope}, centre, fn, commit)
	})
}

// commit ends a transaction for good.
func commit(ctx context.Context, conn *pgx.Conn) error {
	tag, err := conn.Exec(ctx, "COMMIT")
	if err == nil && tag.String() == "ROLLBACK" {
		return fmt.Errorf("a failed statement was passed over: %w", pgx.ErrTxCommitRollback)
	}
	return err
}

// Browse is In for lists with filters: each statement is planned for the
// filters that it is given. In the plan that serves for all, a condition like
// "@ids IS NULL OR id = ANY (@ids)" could use no index.
func (db *DB) Browse(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error {
	return db.again(ctx, func() error {
		return db.once(ctx, opening{"BEGIN READ ONLY", scope + `, set_config('plan_cache_mode', 'force_custom_plan', true)`}, centre, fn, commit)
	})
}

// Try is In for dry runs: after fn every deferred constraint is checked, then
// everything is rolled back. Its answer is the one that In would give.
func (db *DB) Try(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error {
	return db.again(ctx, func() error {
		return db.once(ctx, opening{"BEGIN", scope}, centre, fn, func(ctx context.Context, conn *pgx.Conn) error {
			_, err := conn.Exec(ctx, "SET CONSTRAINTS ALL IMMEDIATE")
			return err
		})
	})
}

const snapshot = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"

// Snapshot is In for long readings: every statement of fn sees the database as
// it was at the first, and none can write.
func (db *DB) Snapshot(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error {
	return db.again(ctx, func() error {
		return db.once(ctx, opening{snapshot, scope}, centre, fn, commit)
	})
}

// Look is Snapshot for readings that are all known beforehand: queue adds them
// to a batch (see Queue), and beginning, scope, readings and end are one round
// trip.
func (db *DB) Look(ctx context.Context, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.look(ctx, centre, centre, queue)
}

// Recognise is Look for finding out who calls, before a centre is known for
// certain: it is counted to a share of its own, so that nobody's calls wait for
// a centre that is locked to be recognised.
func (db *DB) Recognise(ctx context.Context, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.look(ctx, strangers, centre, queue)
}

// strangers is the share of those who are not recognised yet.
var strangers = uuid.Max

func (db *DB) look(ctx context.Context, share, centre uuid.UUID, queue func(*pgx.Batch)) error {
	return db.again(ctx, func() error {
		held, err := db.acquire(ctx, share)
		if err != nil {
			return err
		}
		defer leave(ctx, held)
		lock, statement := times(ctx)
		var batch pgx.Batch
		batch.Queue(snapshot)
		batch.Queue(scope, centre.String(), lock, statement)
		queue(&batch)
		batch.Queue("COMMIT")
		return held.Conn.Conn().SendBatch(ctx, &batch).Close()
	})
}

// again repeats once while the server gives it up for another's sake, and
// translates what is left of the error.
func (db *DB) again(ctx context.Context, once func() error) error {
	if ctx.Value(inside{}) != nil {
		return db.translate(errNested)
	}
	for n := 0; ; n++ {
		err := once()
		if errors.Is(err, errCopied) {
			if _, failed := db.Settle(ctx); failed != nil {
				return failed
			}
		}
		if n == retries || !givenUp(err) {
			return db.translate(cutShort(ctx, err))
		}
		// A random pause, so that two who met do not meet again.
		pause := time.Duration(rand.Int64N(int64(10*time.Millisecond) << n))
		select {
		case <-ctx.Done():
			return db.translate(ctx.Err())
		case <-time.After(pause):
		}
	}
}

// inside marks the context of fn. A second transaction within the first would
// not see what the first wrote, could wait for its locks for ever, and would
// stay when the first is rolled back.
type inside struct{}

var errNested = errors.New("pg: In or Try within a transaction; hand the Tx on instead")

// ErrOvertaken is for fn to give when, under the last of its locks, it finds
// that another transaction meanwhile made what it should have locked first: fn
// runs again from the beginning, and what it wrote is rolled back. A caller of
// In never meets it; should it happen again and again, that is
// fault.Unavailable.
var ErrOvertaken = errors.New("pg: overtaken by another transaction")

// givenUp reports whether to begin anew: overtaken, an epoch of another cluster, a
// serialization failure, a deadlock, or an id that another transaction took while this one was looking. What was
// created meanwhile is seen the second time, so that a request which was sent
// twice at once is answered twice.
func givenUp(err error) bool {
	var e *pgconn.PgError
	return errors.Is(err, ErrOvertaken) || errors.Is(err, errCopied) || errors.As(err, &e) && (e.Code == "40001" || e.Code == "40P01" || idTaken(e))
}

// idTaken tells whether a row with that primary key is there already.
func idTaken(e *pgconn.PgError) bool {
	return e.Code == "23505" && strings.HasSuffix(e.ConstraintName, "_pkey")
}

// opening is how a transaction begins: the statement, and the scope that holds
// for it.
type opening struct{ begin, scope string }

// once runs fn in one transaction and ends it with last, or rolls it back.
func (db *DB) once(ctx context.Context, o opening, centre uuid.UUID, fn func(context.Context, *Tx) error,
	last func(context.Context, *pgx.Conn) error) error {
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
	return last(ctx, held.Conn.Conn())
}

// begin opens the transaction, sets its scope and reads the clock, all in one
// round trip.
func begin(ctx context.Context, conn *pgx.Conn, o opening, centre uuid.UUID) (*Tx, error) {
	tx := &Tx{Tx: open{conn}, Centre: centre}
	lock, statement := times(ctx)
	var batch pgx.Batch
	batch.Queue(o.begin)
	batch.Queue(o.scope, centre.String(), lock, statement)
	// Only now, since a demo centre's clock is read behind its policy.
	batch.Queue("SELECT app_now()").QueryRow(func(row pgx.Row) error { return row.Scan(&tx.Now) })
	before, reads := ctx.Value(aheadKey{}).(ahead)
	if reads {
		before.queue(&batch)
	}
	if err := conn.SendBatch(ctx, &batch).Close(); err != nil {
		return nil, fmt.Errorf("begin: %w", err)
	}
	if reads {
		return tx, before.goOn()
	}
	return tx, nil
}
