package migrations_test

import (
	"io/fs"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/migrations"
)

// versions gives the versions there are, in their order.
func versions(t *testing.T) (out []uint) {
	t.Helper()
	ups, err := fs.Glob(migrations.Files, "*.up.sql")
	require.NoError(t, err)
	for _, up := range ups {
		v, err := strconv.ParseUint(up[:6], 10, 32)
		require.NoError(t, err)
		out = append(out, uint(v))
	}
	return out
}

func TestEveryVersionHasItsPairAndNoneComesTwice(t *testing.T) {
	ups, err := fs.Glob(migrations.Files, "*.up.sql")
	require.NoError(t, err)
	downs, err := fs.Glob(migrations.Files, "*.down.sql")
	require.NoError(t, err)
	require.Len(t, downs, len(ups))
	name := regexp.MustCompile(`^(\d{6}_[a-z0-9_]+)\.up\.sql$`)
	for _, up := range ups {
		m := name.FindStringSubmatch(up)
		require.NotNil(t, m, "%s is not NNNNNN_subject.up.sql", up)
		require.Contains(t, downs, m[1]+".down.sql")
	}
	all := versions(t)
	for i, v := range all {
		require.Equal(t, uint(i+1), v, "versions count from 1, without a gap")
	}
	require.Equal(t, all[len(all)-1], migrations.Latest())
}

func TestHashNamesATemplate(t *testing.T) {
	require.Regexp(t, `^[0-9a-f]{12}$`, migrations.Hash())
	require.Equal(t, migrations.Hash(), migrations.Hash())
}
