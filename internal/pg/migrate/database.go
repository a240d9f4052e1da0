package migrate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"regexp"
	"strings"
	"time"

	"github.com/golang-migrate/migrate/v4/database"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// How a migration waits for locks that others hold, all our choice. Later transactions
// on a table wait behind a migration that waits for it, so it gives way soon, and
// retries until its patience ends.
const (
	lockTimeout = 2 * time.Second
	firstPause  = time.Second
	lastPause   = 15 * time.Second
	patience    = 10 * time.Minute
)

// outside marks a migration that has to run outside a transaction, such as CREATE
// INDEX CONCURRENTLY, alone in its file. Killed half-way it leaves the schema
// dirty, as a transaction never does.
var outside = regexp.MustCompile(`(?m)^-- outside a transaction\b`)

// onDatabase is golang-migrate's driver for a database. It keeps a migration's
// statements until golang-migrate sets the version, and then runs both in one
// transaction: a process killed in between leaves nothing behind.
type onDatabase struct {
	ctx      context.Context
	conn     *pgx.Conn // runs the migrations
	turn     *pgx.Conn // holds the turn, and reads which sessions block
	log      *slog.Logger
	patience time.Duration

	statements string
}

// ready creates the table of the version where it is missing.
func (d *onDatabase) ready() error {
	_, err := d.conn.Exec(d.ctx, "CREATE TABLE IF NOT EXISTS schema_migrations (version bigint NOT NULL "+
		"PRIMARY KEY, dirty boolean NOT NULL)")
	return err
}

// Open returns an error: golang-migrate is given no address here.
func (*onDatabase) Open(string) (database.Driver, error) {
	return nil, errors.New("migrate: the database is opened by internal/pg/migrate")
}

// Close does nothing: the caller closes the connections.
func (*onDatabase) Close() error { return nil }

// Lock does nothing: the turn is held already.
func (*onDatabase) Lock() error { return nil }

// Unlock does nothing: the turn ends with its connection.
func (*onDatabase) Unlock() error { return nil }

// Drop returns an error: nothing here drops a database.
func (*onDatabase) Drop() error { return errors.New("migrate: nothing here drops a database") }

// Version returns the version, and whether an earlier release, or a migration outside a
// transaction, was killed on the way to it.
func (d *onDatabase) Version() (version int, dirty bool, err error) {
	err = d.conn.QueryRow(d.ctx, "SELECT version, dirty FROM schema_migrations").Scan(&version, &dirty)
	if errors.Is(err, pgx.ErrNoRows) {
		return database.NilVersion, false, nil
	}
	return version, dirty, err
}

// Run keeps the statements of a migration for SetVersion.
func (d *onDatabase) Run(statements io.Reader) error {
	text, err := io.ReadAll(statements)
	d.statements = string(text)
	return err
}

// SetVersion is called twice for each migration: dirty before its statements come, and
// clean afterwards, which is when they are run.
func (d *onDatabase) SetVersion(version int, dirty bool) error {
	if dirty {
		d.statements = ""
		return nil
	}
	began := time.Now()
	d.log.Info("migrating", "to", max(version, 0))
	var err error
	if outside.MatchString(d.statements) {
		err = d.outside(version)
	} else {
		err = d.patiently(version)
	}
	if err != nil {
		return fmt.Errorf("on the way to version %d: %w", max(version, 0), err)
	}
	d.log.Info("migrated", "to", max(version, 0), "seconds", time.Since(began).Seconds())
	return nil
}

// note returns the statement that writes a version, -1 for none.
func note(version int, dirty bool) string {
	if version < 0 {
		return "DELETE FROM schema_migrations"
	}
	return fmt.Sprintf(`DELETE FROM schema_migrations; INSERT INTO schema_migrations (version, dirty)
		VALUES (%d, %t)`, version, dirty)
}

// exec runs statements without arguments, several at once.
func (d *onDatabase) exec(sql string) error {
	_, err := d.conn.PgConn().Exec(d.ctx, sql).ReadAll()
	return err
}

func (d *onDatabase) outside(version int) error {
	if err := d.exec(note(version, true)); err != nil {
		return err
	}
	if err := d.exec(d.statements); err != nil {
		return err
	}
	return d.exec(note(version, false))
}

// patiently runs a migration, and gives way and retries while others hold locks that it
// needs.
func (d *onDatabase) patiently(version int) error {
	began, pause := time.Now(), firstPause
	for {
		who, err := d.attempt(version)
		var refused *pgconn.PgError
		if !errors.As(err, &refused) || refused.Code != "55P03" { // lock time-out
			return err
		}
		waited := time.Since(began)
		d.log.Warn("the migration waits for a lock, lets others pass and asks again", "to", version,
			"blocked_by", who, "waited_seconds", waited.Seconds())
		if waited+pause > d.patience {
			return fmt.Errorf("others still hold locks that it needs, after %s: %s. Nothing was changed. "+
				"Let them end, or end them with SELECT pg_terminate_backend(PID), and migrate again: %w",
				waited.Round(time.Second), who, err)
		}
		select {
		case <-d.ctx.Done():
			return d.ctx.Err()
		case <-time.After(pause):
		}
		pause = min(2*pause, lastPause)
	}
}

// attempt runs the statements of a migration and writes its version, in one transaction.
// Where it had to wait, who has the sessions that it waited for.
func (d *onDatabase) attempt(version int) (who string, err error) {
	stop := d.watch(&who)
	err = d.exec(fmt.Sprintf("BEGIN; SET LOCAL lock_timeout = %d", lockTimeout.Milliseconds()))
	for _, sql := range []string{d.statements, note(version, false), "COMMIT"} {
		if err == nil && strings.TrimSpace(sql) != "" {
			err = d.exec(sql)
		}
	}
	stop()
	if err != nil && !d.conn.IsClosed() {
		_, _ = d.conn.Exec(context.WithoutCancel(d.ctx), "ROLLBACK") // err is returned
	}
	return who, err
}

// watch notes in who which sessions block the migration, until stop is called.
func (d *onDatabase) watch(who *string) (stop func()) {
	ctx, cancel := context.WithCancel(d.ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-ctx.Done():
				return
			case <-time.After(lockTimeout / 5):
			}
			if now := blockers(context.WithoutCancel(ctx), d.turn, d.conn.PgConn().PID()); now != "" {
				*who = now
			}
		}
	}()
	return func() {
		cancel()
		<-done
	}
}

// blockers returns the sessions that another one waits for, "" where there are none or
// the query fails. It does not read their statements, which may hold people's data.
func blockers(ctx context.Context, conn *pgx.Conn, pid uint32) string {
	rows, err := conn.Query(ctx, `SELECT format('process %s (role %s, %s, in its transaction for %s)', a.pid,
		coalesce(a.usename, 'unknown'),
			coalesce(nullif(a.application_name, ''), 'no name'),
			coalesce(extract(epoch FROM clock_timestamp() - a.xact_start)::int || ' s', 'an unknown time'))
		FROM pg_stat_activity a WHERE a.pid = ANY (pg_blocking_pids($1)) ORDER BY a.pid`, pid)
	if err != nil {
		return ""
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return ""
	}
	return strings.Join(names, ", ")
}
