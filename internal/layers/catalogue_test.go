package layers_test

import (
	"maps"
	"slices"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/layers"
	"tankside/internal/pg/pgtest"
)

// The list of owners is the whole catalogue and nothing else, and each view
// reads what its keeper owns, or views of others.
func TestEveryTableHasAnOwner(t *testing.T) {
	t.Parallel()
	db, err := pgx.Connect(t.Context(), pgtest.New(t).OwnerURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close(t.Context()) })
	owners := layers.Owners()
	listed := slices.Sorted(maps.Keys(owners))
	require.Equal(t, names(t, db, "r", "p"), listed,
		"the tables of the database and those in tables in internal/layers/house.go; cure: give each table one owner there")

	views := names(t, db, "v", "m")
	require.NotEmpty(t, views)
	for _, v := range views {
		keeper, ok := layers.ViewOwner(v)
		require.True(t, ok, "view %s is named after no package that owns tables; cure: name it after its keeper, like people_person", v)
		rows, err := db.Query(t.Context(), `
			SELECT DISTINCT base.relname FROM pg_rewrite r
			JOIN pg_depend d ON d.classid = 'pg_rewrite'::regclass AND d.objid = r.oid
				AND d.refclassid = 'pg_class'::regclass
			JOIN pg_class base ON base.oid = d.refobjid
			WHERE r.ev_class = $1::regclass AND base.oid <> r.ev_class ORDER BY 1`, v)
		require.NoError(t, err)
		bases, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		require.NotEmpty(t, bases, v)
		for _, b := range bases {
			if owner, table := owners[b]; table {
				require.Equal(t, keeper, owner,
					"view %s reads table %s; cure: let it read a view that %s keeps, or rename it", v, b, owner)
			}
		}
	}
}

// names gives the relations of some kinds in the schema, sorted as Go sorts.
func names(t *testing.T, db *pgx.Conn, kinds ...string) []string {
	t.Helper()
	rows, err := db.Query(t.Context(), `SELECT relname FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind = ANY($1::text[]::"char"[])`, kinds)
	require.NoError(t, err)
	out, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	slices.Sort(out)
	return out
}
