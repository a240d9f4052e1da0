package contract_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"tankside/api"
	"tankside/internal/httpapi/contract"
)

// asks lists what a part of a document demands, one line for each keyword with
// where it stands; references are followed, and what only explains is left out.
func asks(doc map[string]any, at any, where string, open []string) (lines []string) {
	switch v := at.(type) {
	case map[string]any:
		if ref, ok := v["$ref"].(string); ok {
			if slices.Contains(open, ref) {
				return []string{where + " again " + ref}
			}
			to := any(doc)
			for step := range strings.SplitSeq(strings.TrimPrefix(ref, "#/"), "/") {
				to = to.(map[string]any)[step]
			}
			lines = asks(doc, to, where, append(slices.Clone(open), ref))
		}
		named := strings.HasSuffix(where, "/properties")
		for key, value := range v {
			explains := slices.Contains([]string{"description", "summary", "title", "example", "examples"}, key)
			if key != "$ref" && (named || !explains) {
				lines = append(lines, asks(doc, value, where+"/"+key, open)...)
			}
		}
	case []any:
		for i, value := range v {
			lines = append(lines, asks(doc, value, fmt.Sprintf("%s/%d", where, i), open)...)
		}
	default:
		lines = []string{fmt.Sprintf("%s: %v", where, v)}
	}
	return lines
}

// Requests are checked against a shorter document, which has to ask all that the
// contract asks: of every operation its parameters, its body, its scopes and limits.
func TestNothingThatTheContractAsksIsLeftOut(t *testing.T) {
	t.Parallel()
	var whole map[string]any
	require.NoError(t, yaml.Unmarshal(api.Document, &whole))
	short, err := contract.RequestSide(api.Document)
	require.NoError(t, err)
	demands := func(doc map[string]any) (lines []string) {
		for path, item := range doc["paths"].(map[string]any) {
			for method, operation := range item.(map[string]any) {
				if o, ok := operation.(map[string]any); ok {
					for status, answer := range o["responses"].(map[string]any) {
						a := answer.(map[string]any)
						if ref, ok := a["$ref"].(string); ok {
							a = doc["components"].(map[string]any)["responses"].(map[string]any)[strings.TrimPrefix(ref, "#/components/responses/")].(map[string]any)
						}
						content, _ := a["content"].(map[string]any)
						for media := range content {
							lines = append(lines, path+" "+method+" answers "+status+" "+media)
						}
					}
					delete(o, "responses")
				}
				lines = append(lines, asks(doc, operation, path+" "+method, nil)...)
			}
		}
		slices.Sort(lines)
		return lines
	}
	want, got := demands(whole), demands(short)
	require.Greater(t, len(want), 5000)
	if !slices.Equal(want, got) {
		for _, line := range want {
			if _, found := slices.BinarySearch(got, line); !found {
				require.Fail(t, "left out: "+line)
			}
		}
		require.Equal(t, want, got)
	}
}

// The start compiles what requests are checked against and nothing of the answers,
// each from a document less than half as long as the contract.
func TestTheStartBuildsWhatRequestsMeet(t *testing.T) {
	t.Parallel()
	bodies, parameters := 0, 0
	var doc map[string]any
	require.NoError(t, yaml.Unmarshal(api.Document, &doc))
	for _, item := range doc["paths"].(map[string]any) {
		for _, operation := range item.(map[string]any) {
			if o, ok := operation.(map[string]any); ok {
				if o["requestBody"] != nil {
					bodies++
				}
				if p, ok := o["parameters"].([]any); ok {
					parameters += len(p)
				}
			}
		}
	}
	read, err := contract.Parse()
	require.NoError(t, err)
	built := read.Built()
	require.Greater(t, built.Compiled, bodies/2, "several operations take the same body")
	require.LessOrEqual(t, built.Compiled, bodies+parameters)
	require.Less(t, built.Size, len(api.Document)/2)
}
