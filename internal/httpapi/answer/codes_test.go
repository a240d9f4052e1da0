package answer

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
)

// Every code that the program can answer with has a page, since a problem's
// type is the address of it.
func TestEveryCodeHasItsPage(t *testing.T) {
	made := regexp.MustCompile(`(?:fault\.)?New\((?:fault\.)?[A-Z][A-Za-z]+, "([a-z_]+)"`)
	root := os.DirFS("../..")
	n := 0
	err := fs.WalkDir(root, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") ||
			strings.HasPrefix(path, "layers/") {
			return err
		}
		text, err := fs.ReadFile(root, path)
		for _, m := range made.FindAllSubmatch(text, -1) {
			n++
			require.Contains(t, codes, string(m[1]), path)
		}
		return err
	})
	require.NoError(t, err)
	require.Greater(t, n, 20)
	for name, c := range codes {
		require.NotEmpty(t, c.Title, name)
		require.NotEmpty(t, c.Text, name)
		require.NotEmpty(t, c.Cure, name)
	}
}

func TestEveryKindHasItsStatus(t *testing.T) {
	taken := map[int]bool{}
	for _, k := range fault.Kinds {
		require.NotZero(t, Statuses[k], "kind %d", k)
		require.False(t, taken[Statuses[k]], "two kinds have status %d", Statuses[k])
		taken[Statuses[k]] = true
	}
}
