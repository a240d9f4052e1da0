package pg

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// shares limits how many of the pool's connections each centre holds at once, so that a
// centre with locked sessions leaves connections to the others.
type shares struct {
	each int

	mu    sync.Mutex
	taken map[uuid.UUID]*share // of the centres that hold or wait for a connection now
}

type share struct {
	slots chan struct{}
	users int // transactions that hold a slot or wait for one
}

// newShares returns shares of half of a pool, and at least of one connection.
func newShares(pool int32) *shares {
	return &shares{each: max(1, int(pool)/2), taken: map[uuid.UUID]*share{}}
}

// take waits for one of the centre's slots; back returns it.
func (s *shares) take(ctx context.Context, centre uuid.UUID) (back func(), err error) {
	s.mu.Lock()
	of := s.taken[centre]
	if of == nil {
		of = &share{slots: make(chan struct{}, s.each)}
		s.taken[centre] = of
	}
	of.users++
	s.mu.Unlock()
	select {
	case of.slots <- struct{}{}:
		return func() { <-of.slots; s.leave(centre, of) }, nil
	case <-ctx.Done():
		s.leave(centre, of)
		return nil, ctx.Err()
	}
}

func (s *shares) leave(centre uuid.UUID, of *share) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if of.users--; of.users == 0 {
		delete(s.taken, centre)
	}
}

// lent is a connection of the pool, counted to a centre.
type lent struct {
	*pgxpool.Conn
	back func()
}

// acquire waits for a connection of the centre's share.
func (db *DB) acquire(ctx context.Context, centre uuid.UUID) (lent, error) {
	back, err := db.shares.take(ctx, centre)
	if err != nil {
		return lent{}, errUnreachable{fmt.Errorf("wait for a connection of the centre's share: %w", err)}
	}
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		back()
		return lent{}, errUnreachable{fmt.Errorf("wait for a connection: %w", err)}
	}
	return lent{conn, back}, nil
}

// leave rolls back an unfinished transaction, after an error, a dry run or a panic, and
// returns the connection. It goes on when ctx is over, but only for a moment: the
// caller's time is up.
func leave(ctx context.Context, held lent) {
	defer held.back()
	defer held.Release()
	conn := held.Conn.Conn()
	if conn.IsClosed() || conn.PgConn().TxStatus() == 'I' {
		return
	}
	patience := 5 * time.Second
	if ctx.Err() != nil {
		patience = 500 * time.Millisecond
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	defer cancel()
	if _, err := conn.Exec(ctx, "ROLLBACK"); err != nil {
		_ = conn.Close(ctx) // the server rolls back when the connection is gone
	}
}

// Probe calls look with a connection of the pool, of no centre and outside a
// transaction, to read the state of the database as a whole.
func (db *DB) Probe(ctx context.Context, look func(ctx context.Context, conn *pgx.Conn) error) error {
	held, err := db.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("wait for a connection: %w", err)
	}
	defer held.Release()
	return look(ctx, held.Conn())
}

// times returns the server's time-outs for a transaction of ctx: the usual ones, or
// less where ctx ends earlier, so that the server reports the time-out before the
// connection has to be closed.
func times(ctx context.Context) (lock, statement string) {
	lock, statement = inMillis(lockTimeout), inMillis(statementTimeout)
	end, ends := ctx.Deadline()
	if !ends {
		return lock, statement
	}
	left := max(time.Until(end)-timeoutMargin, time.Millisecond)
	return inMillis(min(left, lockTimeout)), inMillis(min(left, statementTimeout))
}

func inMillis(d time.Duration) string { return fmt.Sprintf("%dms", max(1, d.Milliseconds())) }

// cutShort marks an error with the end of its context, where that is over: a driver
// whose connection was closed returns many different errors.
func cutShort(ctx context.Context, err error) error {
	if over := ctx.Err(); err != nil && over != nil && !errors.Is(err, over) {
		return errors.Join(over, err)
	}
	return err
}
