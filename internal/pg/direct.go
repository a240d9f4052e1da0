package pg

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// direct is a setting of ours that a connection asks for at its start. PostgreSQL
// takes it; a pooler refuses or drops it, since its connections to the server are older
// than ours to it. So it shows where an address leads.
const direct = "tankside.direct"

// errPooled is the error of connections that lead to a pooler.
var errPooled = errors.New("the address leads to a pooler, not to the server itself")

// pooled reports whether statements are sent as through a pooler that lends a
// server's session for one transaction at a time. It refuses settings at the start
// of a connection, and a statement that one session has prepared is unknown to the
// next. An address may ask for that itself, by any way of sending statements but
// the driver's default.
func pooled(c *pgx.ConnConfig) bool {
	return c.DefaultQueryExecMode != pgx.QueryExecModeCacheStatement
}

// throughPooler makes connections ask for no setting at their start, and send
// statements unnamed.
func throughPooler(c *pgx.ConnConfig) {
	c.DefaultQueryExecMode = pgx.QueryExecModeCacheDescribe
	delete(c.RuntimeParams, "plan_cache_mode")
	delete(c.RuntimeParams, direct)
}

// refusedAtStart reports whether a setting at the start of a connection was refused
// that PostgreSQL itself takes: poolers return 08P01 and "unsupported startup
// parameter".
func refusedAtStart(err error) bool {
	var e *pgconn.PgError
	return errors.Is(err, errPooled) ||
		errors.As(err, &e) && e.Code == "08P01" && strings.Contains(e.Message, "startup parameter")
}

// checkDirect returns errPooled where the setting that the connection asked for at
// its start did not arrive.
func checkDirect(ctx context.Context, row interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}) error {
	var arrived bool
	err := row.QueryRow(ctx, "SELECT current_setting('"+direct+"', true) IS NOT DISTINCT FROM 'yes'",
		pgx.QueryExecModeExec).Scan(&arrived)
	switch {
	case err != nil:
		return err
	case !arrived:
		return errPooled
	}
	return nil
}

// ConnectDirect is Connect for work that needs a session of its own, such as a
// migration, which locks it: it refuses an address that leads to a pooler.
func ConnectDirect(ctx context.Context, address string) (*pgx.Conn, error) {
	config, err := Parse(address)
	if err != nil {
		return nil, err
	}
	config.RuntimeParams[direct] = "yes"
	conn, err := pgx.ConnectConfig(ctx, config)
	if err == nil {
		if err = checkDirect(ctx, conn); err == nil {
			return conn, nil
		}
		err = errors.Join(err, conn.Close(context.WithoutCancel(ctx)))
	}
	if refusedAtStart(err) {
		return nil, fmt.Errorf("this needs a session of its own: want the address of the server itself, "+
			"past any pooler: %w", err)
	}
	return nil, err
}
