package api_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/pb33f/libopenapi"
	"github.com/pb33f/libopenapi-validator/schema_validation"
	"github.com/stretchr/testify/require"
	yaml11 "gopkg.in/yaml.v2"

	"tankside/api"
)

// The published document is read by programs that we do not know: each of these
// readers found something in it once that the others let pass.

func TestKinOpenAPIReadsThePublishedContract(t *testing.T) {
	t.Parallel()
	doc, err := openapi3.NewLoader().LoadFromData(api.Document)
	require.NoError(t, err)
	require.NoError(t, doc.Validate(t.Context()))
}

func TestLibopenapiReadsThePublishedContract(t *testing.T) {
	t.Parallel()
	doc, err := libopenapi.NewDocument(api.Document)
	require.NoError(t, err)
	_, err = doc.BuildV3Model()
	require.NoError(t, err)
	valid, found := schema_validation.ValidateOpenAPIDocument(doc) // against the schema of OpenAPI 3.1
	require.True(t, valid, "%v", found)
}

// A reader of YAML 1.1 finds what the JSON edition says, which cannot be read in
// two ways: no text is a number, a time or a truth value to it.
func TestAReaderOfYAML11ReadsThePublishedContractAsItIsMeant(t *testing.T) {
	t.Parallel()
	var meant any
	require.NoError(t, json.Unmarshal(api.JSON(), &meant))
	require.Equal(t, meant, read11(t, api.Document))
	require.NotEqual(t, read11(t, []byte("{'on': 1}")), read11(t, []byte("{on: 1}")), "it does read otherwise")
}

// read11 reads YAML 1.1 and returns what encoding/json would make of it.
func read11(t *testing.T, text []byte) any {
	t.Helper()
	var doc any
	require.NoError(t, yaml11.Unmarshal(text, &doc))
	out, err := json.Marshal(stringKeys(doc))
	require.NoError(t, err)
	var plain any
	require.NoError(t, json.Unmarshal(out, &plain))
	return plain
}

// stringKeys makes mappings of YAML into those of JSON. A name that is no text is
// named as what it is.
func stringKeys(v any) any {
	switch v := v.(type) {
	case map[any]any:
		out := map[string]any{}
		for name, value := range v {
			text, is := name.(string)
			if !is {
				text = "no text"
			}
			out[text] = stringKeys(value)
		}
		return out
	case []any:
		for i := range v {
			v[i] = stringKeys(v[i])
		}
	}
	return v
}

// Types of ours mean nothing to others, and a generator of clients that knows the
// extension would look for them.
func TestThePublishedContractNamesNothingOfTheGenerator(t *testing.T) {
	t.Parallel()
	var walk func(place string, at any)
	walk = func(place string, at any) {
		switch v := at.(type) {
		case map[string]any:
			for name, below := range v {
				require.False(t, strings.HasPrefix(name, "x-go") || strings.HasPrefix(name, "x-oapi"),
					"%s has %s", place, name)
				walk(place+"/"+name, below)
			}
		case []any:
			for _, below := range v {
				walk(place, below)
			}
		}
	}
	walk("", any(contract(t)))
}

// Some generators make one type for each name of a component, whatever its kind.
func TestNoTwoComponentsHaveOneName(t *testing.T) {
	t.Parallel()
	kinds := map[string]string{}
	for kind, group := range contract(t)["components"].(map[string]any) {
		for name := range group.(map[string]any) {
			require.Empty(t, kinds[name], "%s is one of the %s too", name, kind)
			kinds[name] = kind
		}
	}
	require.Greater(t, len(kinds), 400)
}
