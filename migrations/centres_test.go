package migrations_test

import (
	"encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/pgtest"
)

// exempt gives the tables that belong to no centre, and what the service may
// do with each; testdata/without_centre.csv says why.
func exempt(t *testing.T) map[string]string {
	t.Helper()
	file, err := os.Open("testdata/without_centre.csv")
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	out := map[string]string{}
	for _, l := range lines[1:] {
		require.NotEmpty(t, l[2], "why %s has no centre", l[0])
		out[l[0]] = l[1]
	}
	return out
}

// bounded gives the relations of some kinds that belong to a centre.
func bounded(t *testing.T, conn *pgx.Conn, kinds ...string) []string {
	t.Helper()
	not := exempt(t)
	return slices.DeleteFunc(relations(t, conn, kinds...),
		func(name string) bool { _, ok := not[name]; return ok })
}

// Two centres have rows with the same ids in every table. The service asks
// with no filter of its own and sees one of them, or none outside a scope.
func TestTheServiceSeesOneCentreInEveryTableAndView(t *testing.T) {
	t.Parallel()
	db, centres, _ := lived(t)
	owner, unscoped := as(t, db.OwnerURL, uuid.Nil), as(t, db.AppURL, uuid.Nil)
	scoped := map[uuid.UUID]*pgx.Conn{}
	for _, centre := range centres {
		scoped[centre] = as(t, db.AppURL, centre)
	}
	kinds := []string{"r", "p", "v", "m"}
	for _, name := range bounded(t, owner, kinds...) {
		table := pgx.Identifier{name}.Sanitize()
		seen := "SELECT DISTINCT centre_id FROM " + table
		require.ElementsMatch(t, centres, many[uuid.UUID](t, owner, seen),
			"%s holds rows of both; add to migrations/testdata what it shows", name)
		for _, centre := range centres {
			require.Equal(t, []uuid.UUID{centre}, many[uuid.UUID](t, scoped[centre], seen), name)
		}
		require.Empty(t, many[uuid.UUID](t, unscoped, seen), "%s without a scope", name)
	}
}

// Nor can the service hand a row to another centre: where it may update at
// all, the policy forbids what would come out.
func TestNoRowIsHandedToAnotherCentre(t *testing.T) {
	t.Parallel()
	db, centres, _ := lived(t)
	app := as(t, db.AppURL, centres[0])
	byPolicy := 0
	for _, name := range bounded(t, app, "r", "p", "v") {
		_, err := app.Exec(t.Context(), "UPDATE "+pgx.Identifier{name}.Sanitize()+" SET centre_id = $1",
			centres[1])
		var refused *pgconn.PgError
		require.ErrorAs(t, err, &refused, name)
		require.Contains(t, []string{"42501", "55000"}, refused.Code, "%s: %v", name, err) // no right to, or a view that cannot be written
		if strings.Contains(refused.Message, "row-level security") {
			byPolicy++
		}
	}
	require.Greater(t, byPolicy, 10, "policies that were asked")
}

type table struct {
	Name, Grants string
	On, Forced   bool
	Policies     []string
}

// furtherPolicies are what the background may read outside the scope of a centre, by
// table: which centres have something due, and nothing else of them.
var furtherPolicies = map[string][]string{
	"water_due": {"PERMISSIVE SELECT {tankside_worker} USING (app_centre() IS NULL) CHECK "},
}

const policy = "PERMISSIVE ALL {public} USING (centre_id = app_centre()) CHECK (centre_id = app_centre())"

// One policy bounds every table in what is read and in what is written. It is
// not forced on the owner, who migrates and backs up. A table without it is
// listed with the reason, and with all that the service may do there.
func TestEveryTableIsBehindThePolicyOrListed(t *testing.T) {
	t.Parallel()
	conn := as(t, pgtest.New(t).OwnerURL, uuid.Nil)
	found := many[table](t, conn, `SELECT relname::text,
			(SELECT coalesce(string_agg(privilege_type, ' ' ORDER BY privilege_type), '') FROM aclexplode(relacl) WHERE grantee = 'tankside_app'::regrole),
			relrowsecurity, relforcerowsecurity,
			ARRAY(SELECT format('%s %s %s USING %s CHECK %s', permissive, cmd, roles, qual, with_check) FROM pg_policies WHERE schemaname = 'public' AND tablename = relname)
		FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') ORDER BY 1`)
	listed := exempt(t)
	for _, x := range found {
		require.False(t, x.Forced, "%s binds its owner", x.Name)
		granted, free := listed[x.Name]
		delete(listed, x.Name)
		if free {
			require.Equal(t, table{Name: x.Name, Grants: granted, Policies: []string{}}, x)
			continue
		}
		require.True(t, x.On, "%s: its policy is not switched on; CALL bind_to_centre in its migration", x.Name)
		require.Equal(t, append([]string{policy}, furtherPolicies[x.Name]...), x.Policies, x.Name)
	}
	require.Empty(t, listed, "listed, and not there")
}
