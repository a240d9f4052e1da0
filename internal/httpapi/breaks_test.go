package httpapi_test

import (
	"net/http"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

func TestWhatChangedInTheAPIIsOnAPage(t *testing.T) {
	x := show(t, open(t), asIs)
	a := x.call(http.MethodGet, "/docs/breaks")
	require.Equal(t, http.StatusOK, a.Code)
	require.Equal(t, "text/html; charset=utf-8", a.Header().Get("Content-Type"))
	require.Contains(t, a.Body.String(), "<td>openGroup</td><td>createGroup</td>")
	require.Contains(t, string(api.Document), "(/docs/breaks)", "the reference leads there")
}

// A page that names an operation that there is not would lead nobody on.
func TestThePageOfBreaksNamesOperationsThatThereAre(t *testing.T) {
	t.Parallel()
	var parts []struct {
		Operations map[string]string
		Changes    []struct{ Was, Now string }
	}
	require.NoError(t, yaml.Unmarshal(api.Breaks, &parts))
	var ids, address []string
	for _, op := range theContract().operations {
		ids, address = append(ids, op.OperationId), append(address, op.path)
	}
	n := 0
	for _, part := range parts {
		for was, now := range part.Operations {
			n++
			require.NotContains(t, ids, was)
			require.Contains(t, ids, now)
		}
		for _, c := range part.Changes {
			require.NotEmpty(t, c.Was)
			require.NotEmpty(t, c.Now)
			for _, path := range regexp.MustCompile(`/v1/[a-z/{}-]+`).FindAllString(c.Now, -1) {
				require.True(t, slices.Contains(address, path), path)
			}
		}
	}
	require.Greater(t, n, 25)
}
