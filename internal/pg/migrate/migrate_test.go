package migrate_test

import (
	"context"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
	"tankside/migrations"
)

func TestUpDownUpGivesTheSameSchema(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	empty := pgtest.Schema(t, db.OwnerURL)
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	first := pgtest.Schema(t, db.OwnerURL)
	require.Contains(t, first, "function app_centre()")
	requireVersion(t, db.AppURL, migrations.Latest(), false) // the application may ask

	require.NoError(t, migrate.Down(t.Context(), db.OwnerURL))
	version, dirty, err := migrate.Version(t.Context(), db.OwnerURL)
	require.NoError(t, err)
	require.False(t, dirty)
	require.Less(t, version, migrations.Latest())
	require.NoError(t, migrate.To(t.Context(), db.OwnerURL, 0))
	requireVersion(t, db.OwnerURL, 0, false)
	exec(t, db.OwnerURL, "DROP TABLE schema_migrations") // golang-migrate's own
	require.Equal(t, empty, pgtest.Schema(t, db.OwnerURL), "nothing is left behind")

	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	require.Equal(t, first, pgtest.Schema(t, db.OwnerURL))
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL), "nothing to do is fine")
	require.NoError(t, migrate.To(t.Context(), db.OwnerURL, 1))
	requireVersion(t, db.OwnerURL, 1, false)
}

func TestManyProcessesMayMigrateAtOnce(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	together(t, 8, func() error { return migrate.Up(t.Context(), db.OwnerURL) })
	requireVersion(t, db.AppURL, migrations.Latest(), false)
}

// A session that waits inside pg_advisory_lock deadlocks with CREATE INDEX
// CONCURRENTLY and leaves the version dirty; it happened with golang-migrate's
// own lock.
func TestManyProcessesAndAnIndexMadeConcurrently(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	files := fstest.MapFS{
		"000001_table.up.sql": {Data: []byte("CREATE TABLE probe AS SELECT n FROM generate_series(1, 20000) n")},
		"000002_index.up.sql": {Data: []byte("-- outside a transaction\nCREATE INDEX CONCURRENTLY probe_n ON probe (n)")},
	}
	together(t, 8, func() error { return migrate.UpFiles(t.Context(), db.OwnerURL, files) })
	requireVersion(t, db.OwnerURL, 2, false)
	require.NotContains(t, pgtest.Schema(t, db.OwnerURL), "(invalid)")
}

func together(t *testing.T, n int, do func() error) {
	var wait sync.WaitGroup
	for range n {
		wait.Go(func() {
			if err := do(); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
}

// A migration that fails leaves nothing behind, its version neither: it is mended
// and run again.
func TestAMigrationThatFailsLeavesNothing(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	files := fstest.MapFS{
		"000001_one.up.sql": {Data: []byte("CREATE TABLE one ()")},
		"000002_two.up.sql": {Data: []byte("CREATE TABLE two (); SELECT 1/0")},
	}
	err := migrate.UpFiles(t.Context(), db.OwnerURL, files)
	require.ErrorContains(t, err, "division by zero")
	require.ErrorContains(t, err, "version 2")
	requireVersion(t, db.OwnerURL, 1, false)
	require.NotContains(t, pgtest.Schema(t, db.OwnerURL), "relation two", "its statements roll back together")
	files["000002_two.up.sql"].Data = []byte("CREATE TABLE two ()")
	require.NoError(t, migrate.UpFiles(t.Context(), db.OwnerURL, files))
	requireVersion(t, db.OwnerURL, 2, false)
}

// Outside a transaction, as with an earlier release, a migration can leave the
// schema half-way, and a person says what it is now.
func TestASchemaLeftHalfWayIsPutRightWithForce(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	files := fstest.MapFS{
		"000001_one.up.sql": {Data: []byte("CREATE TABLE one ()")},
		"000002_two.up.sql": {Data: []byte("-- outside a transaction\nCREATE INDEX CONCURRENTLY wrong ON one (nothing)")},
	}
	require.ErrorContains(t, migrate.UpFiles(t.Context(), db.OwnerURL, files), "nothing")
	requireVersion(t, db.OwnerURL, 2, true)
	require.ErrorContains(t, migrate.UpFiles(t.Context(), db.OwnerURL, files), `run "tankside migrate force N"`)

	require.NoError(t, migrate.Force(t.Context(), db.OwnerURL, 1))
	requireVersion(t, db.OwnerURL, 1, false)
	files["000002_two.up.sql"].Data = []byte("CREATE TABLE two ()")
	require.NoError(t, migrate.UpFiles(t.Context(), db.OwnerURL, files))
	requireVersion(t, db.OwnerURL, 2, false)
	require.NoError(t, migrate.Force(t.Context(), db.OwnerURL, 0))
	requireVersion(t, db.OwnerURL, 0, false)
}

func TestWhoeverWaitsForTooLongGivesUp(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	busy, err := pgx.Connect(t.Context(), db.OwnerURL)
	require.NoError(t, err)
	defer busy.Close(context.Background())
	require.NoError(t, migrate.WaitForTurn(t.Context(), busy))
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	err = migrate.Up(ctx, db.OwnerURL)
	require.ErrorIs(t, err, context.DeadlineExceeded)
	require.ErrorContains(t, err, "another process that migrates")
	requireVersion(t, db.OwnerURL, 0, false)
}

func TestOnlyTheOwnerMigrates(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	require.ErrorContains(t, migrate.Up(t.Context(), db.SuperURL),
		"is a superuser; connect as the role that owns the database, tankside_owner")
	require.ErrorContains(t, migrate.Up(t.Context(), db.AppURL), "permission denied")
	require.Error(t, migrate.Up(t.Context(),
		"postgres://tankside_owner@127.0.0.1:1/tankside?connect_timeout=1"))
}

func requireVersion(t *testing.T, url string, want uint, wantDirty bool) {
	t.Helper()
	version, dirty, err := migrate.Version(t.Context(), url)
	require.NoError(t, err)
	require.Equal(t, want, version)
	require.Equal(t, wantDirty, dirty)
}

func exec(t *testing.T, url, sql string) {
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err)
}
