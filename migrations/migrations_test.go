package migrations_test

import (
	"fmt"
	"io/fs"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/migrations"
)

func TestEveryVersionHasItsPairAndNoneIsMissing(t *testing.T) {
	ups, err := fs.Glob(migrations.Files, "*.up.sql")
	require.NoError(t, err)
	downs, err := fs.Glob(migrations.Files, "*.down.sql")
	require.NoError(t, err)
	require.Len(t, downs, len(ups))
	name := regexp.MustCompile(`^(\d{6}_[a-z0-9_]+)\.up\.sql$`)
	for i, up := range ups {
		m := name.FindStringSubmatch(up)
		require.NotNil(t, m, "%s is not NNNNNN_subject.up.sql", up)
		require.Equal(t, fmt.Sprintf("%06d", i+1), up[:6], "versions go up by one")
		require.Contains(t, downs, m[1]+".down.sql")
	}
	require.EqualValues(t, len(ups), migrations.Latest())
}

func TestHashNamesATemplate(t *testing.T) {
	require.Regexp(t, `^[0-9a-f]{12}$`, migrations.Hash())
	require.Equal(t, migrations.Hash(), migrations.Hash())
}
