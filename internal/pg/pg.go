// Package pg owns the way to the database: the pool, transactions scoped to one
// centre, and the translation of a broken constraint into a fault.
//
// It must not know a table of any feature: features register their constraints with
// MapConstraints and write their own SQL.
package pg

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/pgxpool"
	pgxuuid "github.com/vgarvardt/pgx-google-uuid/v5"

	"tankside/internal/fault"
)

// OldestServer is the oldest supported major version of PostgreSQL: views that apply
// the caller's policies (security_invoker) came with it.
const OldestServer = 15

// PlanCacheMode is the server's plan_cache_mode for all our connections.
const PlanCacheMode = "force_generic_plan"

// connectTimeout is how long a new connection may take, our choice: a connection to a
// server that is gone must not fill a place of the pool for minutes.
const connectTimeout = 5 * time.Second

// DB is a pool of connections as the application role. Its methods may be
// called from any number of goroutines.
type DB struct {
	*connections
	dry bool // InTx rolls back
}

// connections are what all handles on a database share.
type connections struct {
	pool   *pgxpool.Pool
	shares *shares

	mu      sync.RWMutex
	explain map[string]func() *fault.Fault // by constraint name
}

// Open connects as the application role. It refuses a server older than OldestServer,
// and every role that row-level security would not bind: a superuser, one with
// BYPASSRLS, an owner of tables, and a member of such a role. The pool holds up to 16
// connections unless url has pool_max_conns, and one centre has at most half of them at
// once. A pooler is detected where the address does not ask for one: it does not pass
// on the settings of a connection.
func Open(ctx context.Context, url string) (*DB, error) { return OpenTraced(ctx, url, nil) }

// OpenTraced is Open with a tracer that sees every statement; nil for none.
func OpenTraced(ctx context.Context, url string, tracer pgx.QueryTracer) (*DB, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", unreadable(err))
	}
	if err := secure(&config.ConnConfig.Config, url); err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	if !strings.Contains(url, "pool_max_conns") {
		config.MaxConns = 16
	}
	if !strings.Contains(url, "connect_timeout") {
		config.ConnConfig.ConnectTimeout = connectTimeout
	}
	if config.ConnConfig.RuntimeParams["application_name"] == "" {
		config.ConnConfig.RuntimeParams["application_name"] = "tankside"
	}
	// Every statement begins with the centre, so one plan serves all centres;
	// planning each call would cost more than running it. A pooler takes no such
	// setting here: the role has it then (deploy/roles.sql).
	if !pooled(config.ConnConfig) {
		config.ConnConfig.RuntimeParams["plan_cache_mode"] = PlanCacheMode
		config.ConnConfig.RuntimeParams[direct] = "yes"
	}
	config.AfterConnect = learnTypes
	config.ConnConfig.Tracer = tracer
	pool, err := openPool(ctx, config)
	if refusedAtStart(err) {
		throughPooler(config.ConnConfig)
		pool, err = openPool(ctx, config)
	}
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	return &DB{connections: &connections{pool: pool, shares: newShares(config.MaxConns),
		explain: map[string]func() *fault.Fault{}}}, nil
}

// openPool opens a pool and checks where it leads.
func openPool(ctx context.Context, config *pgxpool.Config) (*pgxpool.Pool, error) {
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, err
	}
	if !pooled(config.ConnConfig) {
		err = checkDirect(ctx, pool)
	}
	if err == nil {
		err = checkServer(ctx, pool)
	}
	if err != nil {
		pool.Close()
		return nil, err
	}
	return pool, nil
}

// Pooled reports whether the address leads to a pooler, because the address asks for it
// or because Open detected one.
func (db *DB) Pooled() bool { return pooled(db.pool.Config().ConnConfig) }

// Close waits until every connection is returned, and closes them.
func (db *DB) Close() { db.pool.Close() }

// Ping returns an error where the database does not answer.
func (db *DB) Ping(ctx context.Context) error { return db.pool.Ping(ctx) }

// MapConstraints registers the faults of named constraints. A later fault of the same name
// replaces the earlier one.
func (db *DB) MapConstraints(faults map[string]func() *fault.Fault) {
	db.mu.Lock()
	defer db.mu.Unlock()
	maps.Copy(db.explain, faults)
}

// MappedConstraints returns the constraints with a registered fault, sorted, for a test that
// looks each of them up in the catalogue.
func (db *DB) MappedConstraints() []string {
	db.mu.RLock()
	defer db.mu.RUnlock()
	return slices.Sorted(maps.Keys(db.explain))
}

// learnTypes makes a connection read times as UTC, read and write readings, and ids as sixteen
// bytes; by default the driver would use their text.
func learnTypes(_ context.Context, conn *pgx.Conn) error {
	m := conn.TypeMap()
	pgxuuid.Register(m)
	learnReadings(m)
	instant := &pgtype.Type{Name: "timestamptz", OID: pgtype.TimestamptzOID,
		Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC}}
	span := &pgtype.Type{Name: "tstzrange", OID: pgtype.TstzrangeOID,
		Codec: &pgtype.RangeCodec{ElementType: instant}}
	m.RegisterType(instant)
	m.RegisterType(span)
	m.RegisterType(&pgtype.Type{Name: "_timestamptz", OID: pgtype.TimestamptzArrayOID,
		Codec: &pgtype.ArrayCodec{ElementType: instant}})
	m.RegisterType(&pgtype.Type{Name: "tstzmultirange", OID: pgtype.TstzmultirangeOID,
		Codec: &pgtype.MultirangeCodec{ElementType: span}})
	return nil
}

// checkServer returns an error for an unsupported server or role. A member of a role
// can become that role, so membership counts.
func checkServer(ctx context.Context, pool *pgxpool.Pool) error {
	var version int
	var role string
	var unbound, owner bool
	err := pool.QueryRow(ctx, `SELECT current_setting('server_version_num')::int / 10000, current_user,
		EXISTS (SELECT FROM pg_roles
		WHERE (rolsuper OR rolbypassrls) AND pg_has_role(current_user, oid, 'MEMBER')),
		EXISTS (SELECT FROM pg_class WHERE relkind IN ('r', 'p', 'v', 'm')
			AND relnamespace NOT IN ('pg_catalog'::regnamespace, 'information_schema'::regnamespace)
			AND pg_has_role(current_user, relowner, 'MEMBER'))`).Scan(&version, &role, &unbound, &owner)
	switch {
	case err != nil:
		return err
	case version < OldestServer:
		return fmt.Errorf("PostgreSQL %d is too old; %d or newer is needed", version, OldestServer)
	case unbound:
		return fmt.Errorf("role %s passes by row-level security (superuser, BYPASSRLS, "+
			"or a member of such a role); connect as tankside_app", role)
	case owner:
		return fmt.Errorf("role %s owns tables or belongs to a role that does, "+
			"and policies do not bind an owner; connect as tankside_app", role)
	}
	return nil
}

// errNotYours is the error of a Commit or Rollback inside InTx and DryRun.
var errNotYours = errors.New("pg: InTx and DryRun end their transaction themselves")
