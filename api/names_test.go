package api_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// One word has one meaning, so that a name is found without a list: what is planned
// or kept is created, what happened is recorded, and only a session is opened.
func TestOperationsThatMakeSomethingHaveTwoVerbs(t *testing.T) {
	t.Parallel()
	n := 0
	for path, item := range contract(t)["paths"].(map[string]any) {
		post, is := item.(map[string]any)["post"].(map[string]any)
		if !is {
			continue
		}
		id := post["operationId"].(string)
		require.Equal(t, id == "openSession", strings.HasPrefix(id, "open"), id)
		last := path[strings.LastIndex(path, "/")+1:]
		if !strings.HasSuffix(last, "s") || id == "sendBatch" {
			continue // a verb, which changes what is there; and a batch, which brings entries of many kinds
		}
		verb := map[any]string{"decision": "create", "upkeep": "create", "fact": "record"}[post["x-side"]]
		if verb == "" {
			continue // a calculation stores nothing
		}
		n++
		require.True(t, strings.HasPrefix(id, verb), "%s of %s is a %s: want %s…", id, path, post["x-side"],
			verb)
	}
	require.Greater(t, n, 30)
}
