package syllabus_test

import (
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

var declaration = regexp.MustCompile(`(?m)^\t[A-Z]\w+\s+= (?:rule|caution|note)\("(\w+)"`)

// declared gives the ids of the rules that the source declares.
func declared(t *testing.T) []string {
	t.Helper()
	source, err := os.ReadFile("rules.go")
	require.NoError(t, err)
	var out []string
	for _, m := range declaration.FindAllSubmatch(source, -1) {
		out = append(out, string(m[1]))
	}
	require.NotEmpty(t, out)
	return out
}
