package api_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// catalogues come whole: they belong to the release and not to a centre, or are the
// few rule books that a centre chooses from.
var catalogues = []string{"listRules", "listRuleBooks", "listGestures", "listBuiltInSyllabuses"}

// A client reads every list by the same loop, or stops after the first page by mistake.
func TestListsArePagedAlike(t *testing.T) {
	t.Parallel()
	doc := contract(t)
	n := 0
	for path, item := range doc["paths"].(map[string]any) {
		get, is := item.(map[string]any)["get"].(map[string]any)
		if !is || !strings.HasPrefix(get["operationId"].(string), "list") {
			continue
		}
		id := get["operationId"].(string)
		if slices.Contains(catalogues, id) {
			continue
		}
		n++
		for _, name := range []string{"Limit", "Cursor", "IfNoneMatch"} {
			require.Contains(t, get["parameters"], map[string]any{"$ref": "#/components/parameters/" + name},
				"%s of %s", id, path)
		}
		ok := follow(doc, get["responses"].(map[string]any)["200"].(map[string]any))
		require.Contains(t, ok["headers"], "Link", id)
		media := ok["content"].(map[string]any)["application/json"].(map[string]any)
		list := follow(doc, media["schema"].(map[string]any))
		require.Subset(t, list["required"], []any{"items", "next_cursor"}, id)
	}
	require.Greater(t, n, 30)
}

// follow returns what a reference refers to, and anything else as it is.
func follow(doc, part map[string]any) map[string]any {
	ref, is := part["$ref"].(string)
	if !is {
		return part
	}
	for _, name := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
		doc = doc[name].(map[string]any)
	}
	return doc
}
