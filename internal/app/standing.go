package app

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"

	"tankside/internal/pg/migrate"
	"tankside/migrations"
)

// standing is what is known of the schema: whether this release runs on it.
type standing struct {
	fit atomic.Bool

	mu    sync.Mutex // guards the fields below; one query at a time
	why   error
	asked time.Time
}

// The intervals between checks of a schema that does not fit, our choice.
const (
	askAgain    = time.Second
	askPatience = 2 * time.Second
)

// fits returns why requests cannot be served on the schema, nil where they can. Once
// the schema fits it is not checked again here; ready, which checks each time, notices
// a migration that was taken back.
func (a *App) fits(ctx context.Context) error {
	if a.schema.fit.Load() {
		return nil
	}
	a.schema.mu.Lock()
	defer a.schema.mu.Unlock()
	if a.schema.fit.Load() {
		return nil
	}
	if time.Since(a.schema.asked) < askAgain {
		return a.schema.why
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), askPatience)
	defer cancel()
	err := a.ready(ctx)
	a.schema.asked = time.Now()
	if a.schema.fit.Load() {
		return nil
	}
	a.schema.why = err
	return err
}

// errReadOnly is the error of a database that takes no writes: it follows another
// server, or an operator made it read-only.
var errReadOnly = errors.New("the database takes no writes: it follows another server, " +
	"or is protected against them")

// ready returns nil where the database answers, takes writes, and has a schema that
// fits: that of this release, or of the next one, which is made so that this one runs
// on it. It uses a connection of the pool: an instance that has none free cannot serve.
func (a *App) ready(ctx context.Context) error {
	var version uint
	var dirty, readOnly bool
	err := a.db.Probe(ctx, func(ctx context.Context, conn *pgx.Conn) (err error) {
		if version, dirty, err = migrate.VersionOn(ctx, conn); err != nil {
			return err
		}
		return conn.QueryRow(ctx, "SELECT pg_is_in_recovery() OR "+
			"current_setting('transaction_read_only')::bool").Scan(&readOnly)
	})
	if err != nil {
		return err
	}
	if err := schemaError(version, dirty); err != nil {
		a.schema.fit.Store(false)
		return err
	}
	if readOnly {
		a.schema.fit.Store(true)
		return errReadOnly
	}
	if !a.schema.fit.Load() {
		// Readings settle it themselves; here it is for the log.
		switch renewed, err := a.db.CheckEpoch(ctx); {
		case err != nil:
			return err
		case renewed:
			a.log.Warn("the database is another one than before: positions that were handed " +
				"out are refused from now on, and callers read anew")
		}
		a.schema.fit.Store(true)
	}
	return nil
}

func schemaError(version uint, dirty bool) error {
	switch {
	case dirty:
		return fmt.Errorf("a migration to version %d of the schema was broken off half-way", version)
	case version < migrations.Latest():
		return fmt.Errorf("the schema is at version %d and this release needs %d: run \"tankside migrate "+
			"up\"", version, migrations.Latest())
	}
	return nil
}
