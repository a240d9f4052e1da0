// Package migrate moves a database from one version of the schema to another,
// with golang-migrate, as the role that owns the tables.
//
// It must not know what the migrations contain, and it never makes roles or
// databases: the operator or internal/pg/localpg does.
package migrate

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"time"

	"github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tankside/internal/pg"
	"tankside/migrations"
)

// turn is the key of the advisory lock that lets one process migrate a database at a
// time; the number has no meaning.
const turn = 7_203_511_884_016

// poll is the interval at which a process asks for its turn.
const poll = 100 * time.Millisecond

// Up brings the database to the newest version. Any number of processes may call it at
// once: one migrates, the others wait and find nothing left to do. The connection must
// be a direct one, because the lock of a session does not work through a pooler that
// lends sessions by transaction; Up refuses an address that leads to one. It ends with
// Analyze, whose errors it logs: the schema fits without statistics.
func Up(ctx context.Context, ownerURL string) error { return at(ownerURL).up(ctx) }

// UpTold is Up with a log of what it does and which sessions it waits for.
func UpTold(ctx context.Context, ownerURL string, log *slog.Logger) error {
	g := at(ownerURL)
	g.log = log
	return g.up(ctx)
}

func (g migrator) up(ctx context.Context) error {
	if err := g.move(ctx, func(m *migrate.Migrate) error { return m.Up() }); err != nil {
		return err
	}
	if err := Analyze(ctx, g.url); err != nil {
		g.log.LogAttrs(ctx, slog.LevelWarn, "statistics of tables not collected",
			slog.String("error", err.Error()))
	}
	return nil
}

// Down takes the newest migration back, one step.
func Down(ctx context.Context, ownerURL string) error {
	return at(ownerURL).move(ctx, func(m *migrate.Migrate) error { return m.Steps(-1) })
}

// To brings the database to a version, up or down; version 0 takes everything
// back.
func To(ctx context.Context, ownerURL string, version uint) error {
	return at(ownerURL).move(ctx, func(m *migrate.Migrate) error {
		if version == 0 {
			return m.Down()
		}
		return m.Migrate(version)
	})
}

// Force writes a version without running anything, after a person has repaired by hand
// what a migration that failed half-way left behind.
func Force(ctx context.Context, ownerURL string, version uint) error {
	return at(ownerURL).move(ctx, func(m *migrate.Migrate) error {
		if version == 0 {
			return m.Force(-1) // golang-migrate's word for "none"
		}
		return m.Force(int(version))
	})
}

// Version returns the version of the database, 0 for none, and whether a migration to it
// failed half-way. It changes nothing, and the application role may call it too.
func Version(ctx context.Context, url string) (version uint, dirty bool, err error) {
	conn, err := pg.Connect(ctx, url)
	if err != nil {
		return 0, false, fmt.Errorf("read schema version: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return VersionOn(ctx, conn)
}

// VersionOn is Version on an existing connection.
func VersionOn(ctx context.Context, conn *pgx.Conn) (version uint, dirty bool, err error) {
	var v int64
	err = conn.QueryRow(ctx, "SELECT version, dirty FROM schema_migrations").Scan(&v, &dirty)
	var missing *pgconn.PgError
	switch {
	case errors.Is(err, pgx.ErrNoRows), errors.As(err, &missing) && missing.Code == "42P01":
		return 0, false, nil
	case err != nil:
		return 0, false, fmt.Errorf("read schema version: %w", err)
	}
	return uint(max(v, 0)), dirty, nil
}

// migrator is one database and the migrations.
type migrator struct {
	url      string
	files    fs.FS
	log      *slog.Logger
	patience time.Duration // for others that hold locks
}

func at(ownerURL string) migrator {
	return migrator{url: ownerURL, files: migrations.Files, log: slog.New(slog.DiscardHandler),
		patience: patience}
}

// move waits for its turn, then runs step. It polls for the turn: a session that waits
// inside pg_advisory_lock holds a snapshot, and CREATE INDEX CONCURRENTLY in another
// session waits for that snapshot, which is a deadlock between the two.
func (g migrator) move(ctx context.Context, step func(*migrate.Migrate) error) error {
	turn, err := pg.ConnectDirect(ctx, g.url)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	defer turn.Close(context.WithoutCancel(ctx)) // releases the turn as well
	if err := refuseWrongRole(ctx, turn); err != nil {
		return err
	}
	if err := waitForTurn(ctx, turn, g.log); err != nil {
		return err
	}
	conn, err := pg.ConnectDirect(ctx, g.url)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx)) // else the database stays in use and cannot be a template
	return g.run(ctx, &onDatabase{ctx: ctx, conn: conn, turn: turn, log: g.log, patience: g.patience}, step)
}

func (g migrator) run(ctx context.Context, d *onDatabase, step func(*migrate.Migrate) error) error {
	if err := d.ready(); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	source, err := iofs.New(g.files, ".")
	if err != nil {
		return fmt.Errorf("migrate: read the migrations: %w", err)
	}
	m, err := migrate.NewWithInstance("embedded", source, "postgres", d)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	defer m.Close()
	stop := context.AfterFunc(ctx, func() { m.GracefulStop <- true })
	defer stop()
	err = step(m)
	var dirty migrate.ErrDirty
	switch {
	case errors.Is(err, migrate.ErrNoChange):
		return ctx.Err()
	case errors.As(err, &dirty):
		return fmt.Errorf("migrate: migration %d was broken off half-way earlier; "+
			"put right by hand what it left, then run \"tankside migrate force N\" with the "+
			"version that the schema now has: %w", dirty.Version, err)
	case err != nil:
		return fmt.Errorf("migrate: %w", err)
	}
	return ctx.Err()
}

// refuseWrongRole returns an error for a role that must not own the tables.
func refuseWrongRole(ctx context.Context, conn *pgx.Conn) error {
	var role string
	var super, app, worker bool
	err := conn.QueryRow(ctx, `SELECT current_user, rolsuper,
			EXISTS (SELECT FROM pg_roles WHERE rolname = 'tankside_app'),
			EXISTS (SELECT FROM pg_roles WHERE rolname = 'tankside_worker')
		FROM pg_roles WHERE rolname = current_user`).Scan(&role, &super, &app, &worker)
	switch {
	case err != nil:
		return fmt.Errorf("migrate: %w", err)
	case super:
		return fmt.Errorf("migrate: %s is a superuser; connect as the role that owns the database, "+
			"tankside_owner", role)
	case !app:
		return errors.New("migrate: there is no role tankside_app to grant to; make it first: " +
			"CREATE ROLE tankside_app LOGIN NOSUPERUSER NOBYPASSRLS")
	case !worker:
		return errors.New("migrate: there is no role tankside_worker, as which background work connects; " +
			"make it first: CREATE ROLE tankside_worker LOGIN NOSUPERUSER NOBYPASSRLS; " +
			"GRANT tankside_app TO tankside_worker")
	}
	return nil
}

func waitForTurn(ctx context.Context, conn *pgx.Conn, log *slog.Logger) error {
	for told := false; ; told = true {
		var mine bool
		if err := conn.QueryRow(ctx, "SELECT pg_try_advisory_lock($1)", turn).Scan(&mine); err != nil {
			return fmt.Errorf("migrate: wait for another process that migrates: %w", err)
		}
		if mine {
			return nil
		}
		if !told {
			log.Info("another process migrates; this one waits for it")
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("migrate: wait for another process that migrates: %w", ctx.Err())
		case <-time.After(poll):
		}
	}
}
