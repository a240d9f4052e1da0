package pg

import (
	"context"
	"errors"
	"io"
	"net"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// open is the pgx.Tx of a transaction that InTx or DryRun began. The one of pgx costs
// another round trip, because it sends BEGIN by itself. Statements of SendLater go ahead
// of the next one, in its round trip.
type open struct {
	conn  *pgx.Conn
	later []*pgx.QueuedQuery
	sent  int // how often later was sent
	parts int // how many savepoints were named
}

// Begin returns an error: a part that can fail alone is for Savepoint.
func (*open) Begin(context.Context) (pgx.Tx, error) { return nil, errNotYours }

func (*open) Commit(context.Context) error   { return errNotYours }
func (*open) Rollback(context.Context) error { return errNotYours }

func (o *open) CopyFrom(ctx context.Context, table pgx.Identifier, columns []string,
	rows pgx.CopyFromSource) (int64, error) {
	if err := o.flush(ctx); err != nil {
		return 0, err
	}
	return o.conn.CopyFrom(ctx, table, columns, rows)
}

// LargeObjects panics: policies do not cover large objects, so nothing may be
// kept in them.
func (*open) LargeObjects() pgx.LargeObjects {
	panic("pg: large objects are not bound to a centre")
}

func (o *open) Prepare(ctx context.Context, name, sql string) (*pgconn.StatementDescription, error) {
	return o.conn.Prepare(ctx, name, sql)
}

func (o *open) SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults {
	results, err := o.send(ctx, b.QueuedQueries...)
	if err != nil {
		return failedResults{results, err}
	}
	return results
}

func (o *open) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	if len(o.later) == 0 {
		return o.conn.Exec(ctx, sql, args...)
	}
	results, err := o.send(ctx, &pgx.QueuedQuery{SQL: sql, Arguments: args})
	if err != nil {
		return pgconn.CommandTag{}, err
	}
	tag, err := results.Exec()
	if ended := results.Close(); err == nil {
		err = ended
	}
	return tag, err
}

func (o *open) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	if len(o.later) == 0 {
		return o.conn.Query(ctx, sql, args...)
	}
	results, err := o.send(ctx, &pgx.QueuedQuery{SQL: sql, Arguments: args})
	if err != nil {
		return nil, err
	}
	rows, err := results.Query()
	if err != nil {
		_ = results.Close() // returns the same error
		return nil, err
	}
	return &lastRows{Rows: rows, results: results}, nil
}

func (o *open) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	rows, err := o.Query(ctx, sql, args...)
	return firstRow{rows, err}
}

func (o *open) Conn() *pgx.Conn { return o.conn }

// errUnreachable marks a connection that could not be made.
type errUnreachable struct{ error }

func (e errUnreachable) Unwrap() error { return e.error }

// unreachable reports whether err means that the server cannot serve now, and not that
// the request was wrong.
func unreachable(err error) bool {
	var no errUnreachable
	var e *pgconn.PgError
	switch {
	case errors.As(err, &no), errors.Is(err, ErrRetry), errors.Is(err, context.DeadlineExceeded),
		errors.Is(err, context.Canceled):
		return true
	case errors.As(err, &e):
		if refusedAtStart(err) { // a setting of the address that the pooler will never take
			return false
		}
		switch e.Code[:2] {
		case "08", "53", "57": // connection, resources, operator (and our time-outs)
			return true
		}
		// lock time-out, idle time-out, read-only
		return givenUp(err) && !idTaken(e) || e.Code == "55P03" || e.Code == "25P03" || e.Code == "25006"
	}
	var network net.Error
	return errors.As(err, &network) || errors.Is(err, io.ErrUnexpectedEOF) || pgconn.SafeToRetry(err)
}

// Unavailable reports whether an error of Open, or of a migration, means that the database
// cannot be used at this moment: it is not there, is starting, has no room, or others
// hold locks. It is false for errors that only a person can cure: a wrong password, a
// wrong role, a failing statement.
func Unavailable(err error) bool {
	var answered *pgconn.PgError
	var connecting *pgconn.ConnectError
	if !errors.As(err, &answered) && errors.As(err, &connecting) {
		return true
	}
	return unreachable(err)
}
