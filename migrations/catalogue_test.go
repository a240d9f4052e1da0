package migrations_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/pgtest"
)

// What must not be in the catalogue, each as a query for whatever breaks it.
var laws = []struct{ name, breaches string }{
	{"every key of a table leads with the centre, or a centre learns of another's ids", `
		SELECT format('%s of %s', x.indexrelid::regclass, x.indrelid::regclass) FROM pg_index x JOIN pg_class c ON c.oid = x.indrelid
		LEFT JOIN pg_attribute a ON a.attrelid = x.indrelid AND a.attnum = x.indkey[0]
		WHERE (x.indisunique OR x.indisexclusion) AND a.attname IS DISTINCT FROM 'centre_id' AND ` + ours},
	{"every reference leads with the centre on both ends, or a row refers to another centre's", `
		SELECT format('%s of %s', k.conname, k.conrelid::regclass) FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
		LEFT JOIN pg_attribute a ON a.attrelid = k.conrelid AND a.attnum = k.conkey[1]
		LEFT JOIN pg_attribute b ON b.attrelid = k.confrelid AND b.attnum = k.confkey[1]
		WHERE k.contype = 'f' AND (a.attname IS DISTINCT FROM 'centre_id' OR b.attname IS DISTINCT FROM 'centre_id') AND ` + ours},
	{"the centre of a row is a uuid and never null", `
		SELECT c.relname::text FROM pg_class c LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'centre_id'
		WHERE c.relkind IN ('r', 'p') AND (a.attnotnull AND a.atttypid = 'uuid'::regtype) IS NOT TRUE AND ` + ours},
	{"a view asks as whoever asks it, or it shows every centre", `
		SELECT c.relname::text FROM pg_class c WHERE c.relkind = 'v' AND ` + ours + `
		AND NOT coalesce(c.reloptions && '{security_invoker=true,security_invoker=on}', false)`},
	{"nothing holds copies that no policy bounds", `
		SELECT c.relname::text FROM pg_class c WHERE c.relkind IN ('m', 'f') AND ` + ours},
	{"no enum types: under a policy their comparison reaches no index", `
		SELECT t.typname::text FROM pg_type t WHERE t.typtype = 'e' AND t.typnamespace = 'public'::regnamespace`},
	{"no function runs as its owner, past every policy", `
		SELECT p.oid::regprocedure::text FROM pg_proc p WHERE p.prosecdef AND p.pronamespace = 'public'::regnamespace`},
	{"the service owns nothing and may not empty a table, hang triggers on it or refer to it", `
		SELECT format('%s on %s', g.privilege_type, c.oid::regclass) FROM pg_class c, aclexplode(coalesce(c.relacl, acldefault('r', c.relowner))) g
		WHERE g.grantee IN (0, 'tankside_app'::regrole) AND g.privilege_type NOT IN ('SELECT', 'INSERT', 'UPDATE', 'DELETE') AND ` + ours},
	{"what was witnessed, decided or signed is added to and never changed", `
		SELECT format('%s on %s', g.privilege_type, c.oid::regclass) FROM pg_class c, aclexplode(c.relacl) g
		WHERE g.grantee = 'tankside_app'::regrole AND g.privilege_type NOT IN ('SELECT', 'INSERT') AND c.relname IN (
			'paper', 'paper_void', 'unfit_mark', 'unfit_lift', 'ledger_entry', 'decision', 'syllabus_version', 'clearance', 'entry', 'entry_void',
			'roll_call', 'conditions_report', 'head_count', 'incident', 'incident_person', 'time_in', 'time_out', 'gas_check', 'drill_attempt',
			'theory_result', 'credit', 'credit_void', 'sign_off', 'sign_off_void', 'completion', 'completion_void',
			'briefing', 'briefing_person', 'acknowledgement')`},
}

// ours are the relations of the schema that belong to a centre.
const ours = `c.relnamespace = 'public'::regnamespace AND NOT c.relname = ANY ($1)`

// breaches asks a law, of the relations that belong to a centre.
func breaches(t *testing.T, conn *pgx.Conn, law string, free []string) []string {
	t.Helper()
	if !strings.Contains(law, "$1") {
		return many[string](t, conn, law)
	}
	return many[string](t, conn, law, free)
}

// free are the tables that belong to no centre.
func free(t *testing.T) []string { return slices.Sorted(maps.Keys(exempt(t))) }

// Each law is broken in a database of its own and must say by what: a query
// that finds nothing whatever it is shown would hold no law.
func TestEachLawSeesItsBreach(t *testing.T) {
	t.Parallel()
	conn := as(t, pgtest.New(t).SuperURL, uuid.Nil)
	_, err := conn.Exec(t.Context(), `CREATE TYPE mood AS ENUM ('low');
		CREATE TABLE probe (centre_id uuid, id uuid PRIMARY KEY, site uuid REFERENCES probe);
		CREATE VIEW probe_view AS SELECT * FROM probe;
		CREATE MATERIALIZED VIEW probe_copy AS SELECT * FROM probe;
		CREATE FUNCTION past() RETURNS int LANGUAGE sql SECURITY DEFINER RETURN 1;
		GRANT TRUNCATE ON probe TO tankside_app;
		GRANT UPDATE ON entry TO tankside_app`)
	require.NoError(t, err)
	for i, want := range [][]string{{"probe_pkey of probe"}, {"probe_site_fkey of probe"}, {"probe"},
		{"probe_view"}, {"probe_copy"}, {"mood"}, {"past()"},
		{"TRUNCATE on probe"}, {"UPDATE on entry"}} {
		require.Equal(t, want, breaches(t, conn, laws[i].breaches, free(t)), laws[i].name)
	}
}

func TestTheCatalogueKeepsTheLaws(t *testing.T) {
	t.Parallel()
	conn := as(t, pgtest.New(t).OwnerURL, uuid.Nil)
	for _, law := range laws {
		t.Run(law.name, func(t *testing.T) { require.Empty(t, breaches(t, conn, law.breaches, free(t))) })
	}
}
