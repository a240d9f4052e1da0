package pgtest

import (
	"context"
	"crypto/rand"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/localpg"
	"tankside/internal/pg/migrate"
	"tankside/migrations"
)

func exec(t *testing.T, url, sql string) {
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err, sql)
}

func TestEachTestHasADatabaseOfItsOwn(t *testing.T) {
	t.Parallel()
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			db := New(t)
			exec(t, db.OwnerURL, "CREATE TABLE only_here ()")
			version, dirty, err := migrate.Version(t.Context(), db.AppURL)
			require.NoError(t, err)
			require.False(t, dirty)
			require.Equal(t, migrations.Latest(), version)
		})
	}
	wait.Wait()
}

func TestDatabaseIsGoneAfterItsTest(t *testing.T) {
	t.Parallel()
	var url string
	t.Run("a test", func(t *testing.T) { url = New(t).SuperURL })
	_, err := pgx.Connect(t.Context(), url)
	require.ErrorContains(t, err, "does not exist")
}

func TestEmptyHasNothingInIt(t *testing.T) {
	t.Parallel()
	db := Empty(t)
	require.Nil(t, db.DB)
	require.NotContains(t, Schema(t, db.OwnerURL), "relation ")
	version, _, err := migrate.Version(t.Context(), db.OwnerURL)
	require.NoError(t, err)
	require.Zero(t, version)
}

// another starts a server that stands for one whose address is given.
func another(t *testing.T) *localpg.Server {
	s, err := localpg.Start(t.Context(), localpg.Options{Ways: ways, Database: templateName()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Stop()) })
	for _, role := range []string{localpg.Owner, localpg.App, localpg.Worker} {
		exec(t, s.URL(localpg.Super, localpg.Super), "ALTER ROLE "+role+" PASSWORD '"+rolePassword+"'")
	}
	return s
}

// Several test programs meet on one server: each finds it by its address and
// needs the template.
func TestManyProgramsOnAGivenServerBuildOneTemplate(t *testing.T) {
	t.Parallel()
	address := another(t).URL(localpg.Super, localpg.Super)
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			s, err := given(t.Context(), address)
			if err != nil {
				t.Error(err)
				return
			}
			name, err := s.makeTemplate()
			if err != nil {
				t.Error(err)
				return
			}
			if err := s.exec(t.Context(), "CREATE DATABASE copy_"+strings.ToLower(rand.Text())+" TEMPLATE "+
				name); err != nil {
				t.Error(err)
				return
			}
			_ = s.admin.Close(context.Background())
		})
	}
	wait.Wait()
}

func TestATemplateLeftHalfBuiltIsBuiltAnew(t *testing.T) {
	t.Parallel()
	private := another(t)
	// What a program that was killed in the middle of a migration leaves.
	exec(t, private.URL(localpg.Super, templateName()),
		"CREATE TABLE schema_migrations (version bigint PRIMARY KEY, dirty boolean); INSERT INTO schema_migrations VALUES (1, true)")
	s, err := given(t.Context(), private.URL(localpg.Super, localpg.Super))
	require.NoError(t, err)
	_, err = s.makeTemplate()
	require.NoError(t, err)
}

func TestLeftDatabasesAreSweptAfterADay(t *testing.T) {
	t.Parallel()
	private := another(t)
	address := private.URL(localpg.Super, localpg.Super)
	today := time.Now().UTC().Format(dayFormat)
	exec(t, address, "CREATE DATABASE tankside_test_20200229_old")
	exec(t, address, "CREATE DATABASE tankside_test_"+today+"_new")
	exec(t, address, "CREATE DATABASE tankside_testimony")
	s, err := given(t.Context(), address)
	require.NoError(t, err)
	admin, err := pgx.Connect(t.Context(), s.super)
	require.NoError(t, err)
	defer admin.Close(context.Background())
	rows, err := admin.Query(t.Context(),
		"SELECT datname FROM pg_database WHERE datname LIKE 'tankside_test%' ORDER BY 1")
	require.NoError(t, err)
	left, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"tankside_test_" + today + "_new", "tankside_testimony"}, left)
}

func TestGivenAddressIsChecked(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, address, want string }{
		{"not an address", "localhost:5432", "must be an address like postgres://"},
		{"a database of another kind", "mysql://root@localhost/x", "must be an address like postgres://"},
		{"nobody there", "postgres://postgres@127.0.0.1:1/postgres", "must be the address of a superuser"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := given(t.Context(), c.address)
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Each thing that a schema can have shows in its description: what is made
// and taken back differs in between and not afterwards.
func TestSchemaSeesEveryChange(t *testing.T) {
	t.Parallel()
	db := New(t)
	exec(t, db.OwnerURL, `CREATE TABLE probe (id int PRIMARY KEY, name text, at timestamptz);
		CREATE FUNCTION probe_touch() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN new; END';
		CREATE VIEW probe_names AS SELECT name FROM probe`)
	for _, c := range []struct{ name, change, back string }{
		{"table", "CREATE TABLE t ()", "DROP TABLE t"},
		{"column", "ALTER TABLE probe ADD x int", "ALTER TABLE probe DROP x"},
		{"type of a column", "ALTER TABLE probe ALTER at TYPE date",
			"ALTER TABLE probe ALTER at TYPE timestamptz"},
		{"default", "ALTER TABLE probe ALTER name SET DEFAULT 'x'",
			"ALTER TABLE probe ALTER name DROP DEFAULT"},
		{"not null", "ALTER TABLE probe ALTER at SET NOT NULL", "ALTER TABLE probe ALTER at DROP NOT NULL"},
		{"check", "ALTER TABLE probe ADD CONSTRAINT c CHECK (id > 0)", "ALTER TABLE probe DROP CONSTRAINT c"},
		{"deferred", "ALTER TABLE probe ADD CONSTRAINT u UNIQUE (name) DEFERRABLE",
			"ALTER TABLE probe DROP CONSTRAINT u"},
		{"index", "CREATE INDEX i ON probe (at)", "DROP INDEX i"},
		{"policies on", "ALTER TABLE probe ENABLE ROW LEVEL SECURITY",
			"ALTER TABLE probe DISABLE ROW LEVEL SECURITY"},
		{"policies forced", "ALTER TABLE probe FORCE ROW LEVEL SECURITY",
			"ALTER TABLE probe NO FORCE ROW LEVEL SECURITY"},
		{"policy", "CREATE POLICY p ON probe USING (id = 1)", "DROP POLICY p ON probe"},
		{"function", "CREATE FUNCTION f() RETURNS int LANGUAGE sql RETURN 1", "DROP FUNCTION f()"},
		{"trigger", "CREATE TRIGGER g BEFORE INSERT ON probe FOR EACH ROW EXECUTE FUNCTION probe_touch()",
			"DROP TRIGGER g ON probe"},
		{"view that asks as its caller", "ALTER VIEW probe_names SET (security_invoker)",
			"ALTER VIEW probe_names RESET (security_invoker)"},
		{"view", "CREATE OR REPLACE VIEW probe_names AS SELECT name FROM probe WHERE id > 1",
			"CREATE OR REPLACE VIEW probe_names AS SELECT name FROM probe"},
		{"sequence", "CREATE SEQUENCE s", "DROP SEQUENCE s"},
		{"domain", "CREATE DOMAIN d AS int CHECK (value > 0)", "DROP DOMAIN d"},
		{"extension", "CREATE EXTENSION pgcrypto", "DROP EXTENSION pgcrypto"},
		{"comment", "COMMENT ON COLUMN probe.at IS 'when'", "COMMENT ON COLUMN probe.at IS NULL"},
		{"grant", "GRANT SELECT ON probe TO tankside_app", "REVOKE SELECT ON probe FROM tankside_app"},
		{"grant on a column", "GRANT UPDATE (name) ON probe TO tankside_app",
			"REVOKE UPDATE (name) ON probe FROM tankside_app"},
		{"no longer everybody's function", "REVOKE EXECUTE ON FUNCTION probe_touch FROM public",
			"GRANT EXECUTE ON FUNCTION probe_touch TO public"},
		{"default grant", "ALTER DEFAULT PRIVILEGES GRANT SELECT ON TABLES TO tankside_app",
			"ALTER DEFAULT PRIVILEGES REVOKE SELECT ON TABLES FROM tankside_app"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := Schema(t, db.OwnerURL)
			exec(t, db.OwnerURL, c.change)
			require.NotEqual(t, before, Schema(t, db.OwnerURL))
			exec(t, db.OwnerURL, c.back)
			require.Equal(t, before, Schema(t, db.OwnerURL))
		})
	}
}
