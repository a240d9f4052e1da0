package migrate_test

import (
	"bytes"
	"log/slog"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
)

// A database that was filled or restored has no statistics, and its plans begin with
// whole tables. Moving to the newest version collects them, of tables with rows alone.
func TestUpCollectsTheStatisticsThatAreMissing(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	exec(t, db.OwnerURL, "CREATE TABLE filled AS SELECT n FROM generate_series(1, 2000) n; CREATE TABLE empty (n int)")
	exec(t, db.OwnerURL, "CREATE TABLE emptied (n int) WITH (autovacuum_enabled = false); INSERT INTO emptied VALUES (1)")
	exec(t, db.OwnerURL, "DELETE FROM emptied")
	require.EqualValues(t, -1, rowsKnown(t, db.OwnerURL, "filled"))

	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL), "nothing to migrate")
	require.EqualValues(t, 2000, rowsKnown(t, db.OwnerURL, "filled"))
	require.EqualValues(t, -1, rowsKnown(t, db.OwnerURL, "empty"), "a plan would take it for empty")
	require.EqualValues(t, -1, rowsKnown(t, db.OwnerURL, "emptied"), "its rows are dead")
}

// The schema is moved when statistics are collected: a start goes on without them.
func TestAnErrorOfTheStatisticsIsLoggedAlone(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	const fails = ` FUNCTION fails(n int) RETURNS int LANGUAGE plpgsql IMMUTABLE AS `
	exec(t, db.OwnerURL, `CREATE`+fails+`$$ BEGIN RETURN n; END $$;
		CREATE TABLE broken (n int);
		CREATE INDEX ON broken (fails(n));
		INSERT INTO broken VALUES (1)`)
	exec(t, db.OwnerURL, `CREATE OR REPLACE`+fails+`$$ BEGIN RAISE 'out of statistics'; END $$`)
	require.ErrorContains(t, migrate.Analyze(t.Context(), db.OwnerURL), "out of statistics")

	var told bytes.Buffer
	require.NoError(t, migrate.UpTold(t.Context(), db.OwnerURL, slog.New(slog.NewTextHandler(&told, nil))))
	require.Contains(t, told.String(), "out of statistics")
}

// rowsKnown returns how many rows the planner takes a table to have, -1 where it has
// never looked.
func rowsKnown(t *testing.T, url, table string) (n float64) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer func() { _ = conn.Close(t.Context()) }()
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT reltuples FROM pg_class WHERE relname = $1",
		table).Scan(&n))
	return n
}
