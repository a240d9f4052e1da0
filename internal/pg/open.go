package pg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// open is the pgx.Tx of a transaction that InTx or DryRun began. The one of pgx costs
// another round trip, because it sends BEGIN by itself.
type open struct{ conn *pgx.Conn }

// Begin opens a savepoint.
func (o open) Begin(ctx context.Context) (pgx.Tx, error) {
	name := pgx.Identifier{"s" + uuid.NewString()}.Sanitize()
	if _, err := o.conn.Exec(ctx, "SAVEPOINT "+name); err != nil {
		return nil, fmt.Errorf("savepoint: %w", err)
	}
	return &savepoint{open: o, name: name}, nil
}

func (open) Commit(context.Context) error   { return errNotYours }
func (open) Rollback(context.Context) error { return errNotYours }

func (o open) CopyFrom(ctx context.Context, table pgx.Identifier, columns []string,
	rows pgx.CopyFromSource) (int64, error) {
	return o.conn.CopyFrom(ctx, table, columns, rows)
}

func (o open) SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults {
	return o.conn.SendBatch(ctx, b)
}

// LargeObjects panics: policies do not cover large objects, so nothing may be
// kept in them.
func (open) LargeObjects() pgx.LargeObjects {
	panic("pg: large objects are not bound to a centre")
}

func (o open) Prepare(ctx context.Context, name, sql string) (*pgconn.StatementDescription, error) {
	return o.conn.Prepare(ctx, name, sql)
}

func (o open) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	return o.conn.Exec(ctx, sql, args...)
}

func (o open) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	return o.conn.Query(ctx, sql, args...)
}

func (o open) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	return o.conn.QueryRow(ctx, sql, args...)
}

func (o open) Conn() *pgx.Conn { return o.conn }

// savepoint is a part of a transaction that can be rolled back alone.
type savepoint struct {
	open
	name string
	done bool
}

func (s *savepoint) Commit(ctx context.Context) error {
	return s.end(ctx, "RELEASE SAVEPOINT "+s.name)
}

func (s *savepoint) Rollback(ctx context.Context) error {
	return s.end(ctx, "ROLLBACK TO SAVEPOINT "+s.name)
}

func (s *savepoint) end(ctx context.Context, sql string) error {
	if s.done {
		return pgx.ErrTxClosed
	}
	s.done = true
	_, err := s.conn.Exec(ctx, sql)
	return err
}

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
