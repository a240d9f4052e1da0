package api_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

// contract returns the contract as plain values.
func contract(t *testing.T) map[string]any {
	t.Helper()
	var doc map[string]any
	require.NoError(t, yaml.Unmarshal(api.Document, &doc))
	return doc
}

// inRequests calls look with every schema that a request is checked against:
// those of parameters and of bodies, with all that they refer to. The place is
// where it stands in the contract.
func inRequests(t *testing.T, look func(place string, schema map[string]any)) {
	t.Helper()
	doc := contract(t)
	seen := map[string]bool{}
	var walk func(place string, at any)
	walk = func(place string, at any) {
		switch v := at.(type) {
		case map[string]any:
			if ref, is := v["$ref"].(string); is {
				if !seen[ref] {
					seen[ref] = true
					walk(ref, resolve(t, doc, ref))
				}
				return
			}
			if _, is := v["type"]; is {
				look(place, v)
			}
			for name, below := range v {
				if name != "examples" && name != "example" {
					walk(place+"/"+name, below)
				}
			}
		case []any:
			for _, below := range v {
				walk(place, below)
			}
		}
	}
	for path, item := range doc["paths"].(map[string]any) {
		for method, op := range item.(map[string]any) {
			if method == "parameters" {
				walk(path+"/parameters", op)
				continue
			}
			o := op.(map[string]any)
			walk(path+"/"+method+"/parameters", o["parameters"])
			walk(path+"/"+method+"/requestBody", o["requestBody"])
		}
	}
}

func resolve(t *testing.T, doc map[string]any, ref string) any {
	t.Helper()
	var at any = doc
	for _, name := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
		below, is := at.(map[string]any)[name]
		require.True(t, is, "%s names nothing", ref)
		at = below
	}
	return at
}

// isA reports whether a schema takes values of a type.
func isA(schema map[string]any, kind string) bool {
	switch v := schema["type"].(type) {
	case string:
		return v == kind
	case []any:
		return slices.Contains(v, any(kind))
	}
	return false
}

// A number without bounds in the contract meets those of a machine first: what
// does not fit there is no number of Go, or none of the database.
func TestEveryNumberOfARequestHasBounds(t *testing.T) {
	t.Parallel()
	n := 0
	inRequests(t, func(place string, s map[string]any) {
		if !isA(s, "integer") && !isA(s, "number") || s["enum"] != nil || s["const"] != nil {
			return
		}
		n++
		for _, bounds := range [][]string{{"minimum", "exclusiveMinimum"}, {"maximum", "exclusiveMaximum"}} {
			if s[bounds[0]] == nil && s[bounds[1]] == nil {
				t.Errorf("%s has no %s", place, bounds[0])
			}
		}
		most, whole := s["maximum"].(int)
		require.False(t, whole && isA(s, "integer") && most >= 1<<53, "%s: more than a double holds", place)
	})
	require.Greater(t, n, 20, "the walk found them")
}
