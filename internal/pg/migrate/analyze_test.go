package migrate_test

import (
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
	require.EqualValues(t, -1, rowsKnown(t, db.OwnerURL, "filled"))

	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL), "nothing to migrate")
	require.EqualValues(t, 2000, rowsKnown(t, db.OwnerURL, "filled"))
	require.EqualValues(t, -1, rowsKnown(t, db.OwnerURL, "empty"), "a plan would take it for empty")
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
