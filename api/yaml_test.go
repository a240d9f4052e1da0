package api_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

// truths are the plain words that YAML 1.1 reads as true or false
// (yaml.org/type/bool.html), and YAML 1.2 as words.
var truths = []string{"y", "n", "yes", "no", "on", "off"}

// mistakable returns where a document reads otherwise than it is meant: a word
// that is a truth value to readers of YAML 1.1, and what an unquoted comma within
// braces made of the rest of a sentence, a name without a value.
func mistakable(t *testing.T, document []byte) (out []string) {
	t.Helper()
	var root yaml.Node
	require.NoError(t, yaml.Unmarshal(document, &root))
	var walk func(path string, n *yaml.Node)
	walk = func(path string, n *yaml.Node) {
		if n.Kind == yaml.ScalarNode && n.Style == 0 && slices.Contains(truths, strings.ToLower(n.Value)) {
			out = append(out, path+" is a truth value in YAML 1.1: quote it")
		}
		for i, below := range n.Content {
			at := path
			if n.Kind == yaml.MappingNode && i%2 == 0 {
				if strings.Contains(below.Value, " ") {
					out = append(out, path+" has a name with a space: quote the text before it: "+below.Value)
				}
				at = path + "/" + below.Value + " (the name)"
			} else if n.Kind == yaml.MappingNode {
				at = path + "/" + n.Content[i-1].Value
			}
			walk(at, below)
		}
	}
	walk("", &root)
	return out
}

func TestTheContractReadsTheSameToEveryReaderOfYAML(t *testing.T) {
	t.Parallel()
	require.Empty(t, mistakable(t, api.Document))
	for planted, want := range map[string]string{
		"a: {on: 1}": "/a/on (the name) is a truth value",
		"a: {b: no}": "/a/b is a truth value",
		"a: {type: string, description: Null, or not yet.}":   "/a has a name with a space",
		"a: {description: What is missing, or does not fit.}": "/a has a name with a space",
	} {
		found := mistakable(t, []byte(planted))
		require.Len(t, found, 1, planted)
		require.Contains(t, found[0], want)
	}
	require.Empty(t, mistakable(t, []byte(`a: {'on': 'no', b: "yes", description: 'Null, or not yet.'}`)))
}
