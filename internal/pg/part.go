package pg

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// savepointNames is how many names savepoints have by turns, more than are ever nested: so
// few that a connection keeps their statements prepared, and never the same for two that
// follow each other.
const savepointNames = 16

// Savepoint runs fn as a part of a transaction that can fail alone: an error rolls back
// what fn wrote, and the transaction goes on. A broken constraint is returned as the
// fault that MapConstraints registered. An error that repeats or ends the whole transaction is
// returned unchanged, for the caller to return. What fn leaves for later is sent before
// Savepoint returns; beginning and ending the part take no round trip of their own.
func (db *DB) Savepoint(ctx context.Context, tx *Tx, fn func(ctx context.Context, tx *Tx) error) error {
	o := tx.open
	p := part{open: o, name: fmt.Sprintf("part_%d", o.parts%savepointNames), at: len(o.later), sent: o.sent}
	o.parts++
	p.queue("SAVEPOINT ")
	err := fn(ctx, tx)
	if err == nil {
		err = p.release(ctx)
	}
	if err == nil || givenUp(err) || unreachable(err) {
		return err
	}
	if back := p.rollBack(ctx); back != nil {
		return back
	}
	return db.translate(err)
}

// part is a savepoint of an open transaction.
type part struct {
	*open
	name string
	at   int // where its beginning stands among the statements for later
	sent int // how often those had been sent before
}

func (p part) queue(command string) {
	p.later = append(p.later, &pgx.QueuedQuery{SQL: command + p.name})
}

// begun reports whether the beginning of the part was sent.
func (p part) begun() bool { return p.open.sent > p.sent }

// release ends the part: with what is left of it, or with the statement that comes next.
func (p part) release(ctx context.Context) error {
	if !p.begun() && len(p.later) == p.at+1 { // nothing was done in it
		p.later = p.later[:p.at]
		return nil
	}
	rest := !p.begun() || len(p.later) > 0
	p.queue("RELEASE SAVEPOINT ")
	if !rest {
		return nil
	}
	return p.flush(ctx)
}

// rollBack undoes the part.
func (p part) rollBack(ctx context.Context) error {
	if !p.begun() {
		p.later = p.later[:p.at]
		return nil
	}
	p.later = nil
	_, err := p.conn.Exec(ctx, "ROLLBACK TO SAVEPOINT "+p.name+"; RELEASE SAVEPOINT "+p.name)
	return err
}
