package migrations_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
	"tankside/migrations"
)

// lived gives a database that grew up by version, and at each version took a
// row into every table that the version had made, for two centres: what a
// later migration meets at a centre that is at work. It also gives the
// schemas on the way, none at first.
func lived(t *testing.T) (db *pgtest.DB, centres []uuid.UUID, schemas []string) {
	t.Helper()
	db, centres, schemas = pgtest.Empty(t), []uuid.UUID{uuid.New(), uuid.New()}, []string{""}
	for _, v := range versions(t) {
		require.NoError(t, migrate.To(t.Context(), db.OwnerURL, v),
			"up to version %d, with rows in every table", v)
		schemas = append(schemas, pgtest.Schema(t, db.OwnerURL))
		rows := rowsOf(t, v)
		for _, centre := range centres {
			conn := as(t, db.AppURL, centre) // as the service, so that its grants and policies let it
			_, err := conn.Exec(t.Context(), rows)
			require.NoError(t, err, "testdata of version %d", v)
		}
	}
	return db, centres, schemas
}

// rowsOf gives the rows for the tables of one version, "" where it made none.
func rowsOf(t *testing.T, version uint) string {
	t.Helper()
	ups, err := fs.Glob(migrations.Files, fmt.Sprintf("%06d_*.up.sql", version))
	require.NoError(t, err)
	require.Len(t, ups, 1)
	text, err := os.ReadFile(filepath.Join("testdata", strings.Replace(ups[0], ".up.sql", ".sql", 1)))
	if !errors.Is(err, fs.ErrNotExist) {
		require.NoError(t, err)
	}
	return string(text)
}

// as connects, scoped to a centre, uuid.Nil for none.
func as(t *testing.T, url string, centre uuid.UUID) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	if centre != uuid.Nil {
		_, err = conn.Exec(t.Context(), "SELECT set_config('app.centre', $1, false)", centre.String())
		require.NoError(t, err)
	}
	return conn
}

// many reads rows of one column, or of several into the fields of a struct.
func many[T any](t *testing.T, conn *pgx.Conn, sql string, args ...any) []T {
	t.Helper()
	rows, err := conn.Query(t.Context(), sql, args...)
	require.NoError(t, err, sql)
	to := pgx.RowTo[T]
	if len(rows.FieldDescriptions()) > 1 {
		to = pgx.RowToStructByPos[T]
	}
	out, err := pgx.CollectRows(rows, to)
	require.NoError(t, err, sql)
	return out
}

// relations gives the tables ("r") or views ("v") of the schema.
func relations(t *testing.T, conn *pgx.Conn, kinds ...string) []string {
	t.Helper()
	out := many[string](t, conn, `SELECT relname::text FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind::text = ANY ($1) ORDER BY 1`, kinds)
	require.NotEmpty(t, out)
	return out
}

// Each version is taken back and made again with rows in every table, and
// gives the schema that it gave on the way up.
func TestVersionsComeAndGoWithRowsInEveryTable(t *testing.T) {
	t.Parallel()
	db, _, schemas := lived(t)
	super := as(t, db.SuperURL, uuid.Nil)
	for _, table := range relations(t, super, "r", "p") {
		require.NotEmpty(t, many[int](t, super, "SELECT 1 FROM "+pgx.Identifier{table}.Sanitize()+" LIMIT 1"),
			"table %s is empty; give it a row in migrations/testdata, in the file of the version that made it", table)
	}
	require.NoError(t, super.Close(t.Context()))

	for i := len(schemas) - 2; i > 0; i-- {
		require.NoError(t, migrate.Down(t.Context(), db.OwnerURL),
			"down from version %d, with rows in every table", versions(t)[i])
		require.Equal(t, schemas[i], pgtest.Schema(t, db.OwnerURL), "the schema of version %d, on the way down",
			versions(t)[i-1])
	}
	require.NoError(t, migrate.Down(t.Context(), db.OwnerURL))
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	require.Equal(t, schemas[len(schemas)-1], pgtest.Schema(t, db.OwnerURL), "down and up again")
}
