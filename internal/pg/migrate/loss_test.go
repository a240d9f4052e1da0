package migrate_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
)

// Going back is refused where it would destroy records, which are named, unless the
// operator names the database; nothing of the trial is left.
func TestGoingBackDestroysNoRecordUnasked(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	files := fstest.MapFS{
		"000001_one.up.sql":     {Data: []byte("CREATE TABLE one (a int); CREATE TABLE none (a int)")},
		"000001_one.down.sql":   {Data: []byte("DROP TABLE one, none")},
		"000002_more.up.sql":    {Data: []byte("ALTER TABLE one ADD b text; CREATE TABLE two (a int); CREATE TABLE empty (a int)")},
		"000002_more.down.sql":  {Data: []byte("DROP TABLE two, empty; ALTER TABLE one DROP b; DELETE FROM one WHERE a = 2")},
		"000003_empty.up.sql":   {Data: []byte("CREATE TABLE three (a int)")},
		"000003_empty.down.sql": {Data: []byte("DROP TABLE three")},
	}
	require.NoError(t, migrate.UpFiles(t.Context(), db.OwnerURL, files))
	exec(t, db.OwnerURL, "INSERT INTO one VALUES (1, 'x')")
	exec(t, db.OwnerURL, "INSERT INTO one VALUES (2, NULL)")
	exec(t, db.OwnerURL, "INSERT INTO two VALUES (1)")
	require.NoError(t, migrate.DownFiles(t.Context(), db.OwnerURL, files, ""), "an empty table is no record")
	requireVersion(t, db.OwnerURL, 2, false)

	before := pgtest.Schema(t, db.OwnerURL)
	err := migrate.DownFiles(t.Context(), db.OwnerURL, files, "")
	for _, want := range []string{"table two with 1 rows", "1 of 2 rows of table one",
		"column b of table one, which says something in 1 rows", "-destroy-records"} {
		require.ErrorContains(t, err, want)
	}
	require.NotContains(t, err.Error(), "empty")
	require.Error(t, migrate.DownFiles(t.Context(), db.OwnerURL, files, "another"))
	requireVersion(t, db.OwnerURL, 2, false)
	require.Equal(t, before, pgtest.Schema(t, db.OwnerURL), "nothing of the trial is left")

	name, err := migrate.DatabaseOf(db.OwnerURL)
	require.NoError(t, err)
	require.NoError(t, migrate.DownFiles(t.Context(), db.OwnerURL, files, name))
	requireVersion(t, db.OwnerURL, 1, false)
}
