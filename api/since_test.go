package api_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

// promises are what a contract says that others may rely on and that a differ
// of contracts does not know: on which side each operation stands, the media
// types that its body may have, and the values that are known of an open list.
func promises(t *testing.T, document []byte) []string {
	t.Helper()
	var doc map[string]any
	require.NoError(t, yaml.Unmarshal(document, &doc))
	var out []string
	for path, item := range doc["paths"].(map[string]any) {
		for method, op := range item.(map[string]any) {
			o, is := op.(map[string]any)
			if !is {
				continue // parameters
			}
			out = append(out, fmt.Sprintf("%s %s has x-side %v", method, path, o["x-side"]))
			if body, has := o["requestBody"].(map[string]any); has {
				for media := range body["content"].(map[string]any) {
					out = append(out, fmt.Sprintf("%s %s takes %s", method, path, media))
				}
			}
		}
	}
	knownValues(doc["components"].(map[string]any)["schemas"], "", &out)
	slices.Sort(out)
	return out
}

func knownValues(at any, where string, out *[]string) {
	switch v := at.(type) {
	case map[string]any:
		if known, is := v["x-known-values"].([]any); is {
			for _, value := range known {
				*out = append(*out, fmt.Sprintf("%s knows %v", where, value))
			}
		}
		for name, below := range v {
			knownValues(below, where+"/"+name, out)
		}
	case []any:
		for n, below := range v {
			knownValues(below, fmt.Sprintf("%s/%d", where, n), out)
		}
	}
}

// broken lists what the frozen contract promised and another does not.
func broken(t *testing.T, document []byte) []string {
	t.Helper()
	frozen, err := os.ReadFile("testdata/v1.yaml")
	require.NoError(t, err)
	now := promises(t, document)
	return slices.DeleteFunc(promises(t, frozen), func(p string) bool {
		// a fact promises more than a decision: nobody has to be ready for a refusal.
		decision, was := strings.CutSuffix(p, " has x-side decision")
		return slices.Contains(now, p) || was && slices.Contains(now, decision+" has x-side fact")
	})
}

// narrowed returns the promises that testdata/narrowed.txt allows to be broken.
func narrowed(t *testing.T) []string {
	t.Helper()
	list, err := os.ReadFile("testdata/narrowed.txt")
	require.NoError(t, err)
	var out []string
	for line := range strings.Lines(string(list)) {
		promise, is := strings.CutPrefix(line, "promise ")
		if !is {
			continue
		}
		promise, why, _ := strings.Cut(promise, "|")
		require.NotEmpty(t, strings.TrimSpace(why), "no reason: %s", line)
		out = append(out, strings.TrimSpace(promise))
	}
	slices.Sort(out)
	return out
}

// What else others rely on is held by a differ, which .ci/contract runs.
func TestWhatTheFirstContractPromisedStillHolds(t *testing.T) {
	require.ElementsMatch(t, narrowed(t), broken(t, api.Document),
		"broken promises, and those that testdata/narrowed.txt allows")
}

func TestABrokenPromiseIsFound(t *testing.T) {
	frozen, err := os.ReadFile("testdata/v1.yaml")
	require.NoError(t, err)
	for was, becomes := range map[string]string{
		"{type: string, x-known-values: [salt, fresh]}":                         "{type: string, x-known-values: [salt]}",
		"      security: [{bearer: ['courses:write']}]\n      x-side: decision": "      security: [{bearer: ['courses:write']}]\n      x-side: upkeep",
		"      security: [{bearer: ['sessions:write']}]\n      x-side: fact":    "      security: [{bearer: ['sessions:write']}]\n      x-side: decision",
		"          application/merge-patch+json:":                               "          application/json:",
	} {
		require.Contains(t, string(frozen), was)
		require.NotEmpty(t, broken(t, []byte(strings.Replace(string(frozen), was, becomes, 1))), was)
	}
	require.Empty(t, broken(t, frozen))
}
