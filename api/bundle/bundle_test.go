package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

func TestTheGeneratedContractIsFresh(t *testing.T) {
	t.Parallel()
	doc, err := bundle(os.DirFS("../contract"))
	require.NoError(t, err)
	publish(doc)
	want, err := encode(doc)
	require.NoError(t, err)
	have, err := os.ReadFile("../openapi.gen.yaml")
	require.NoError(t, err)
	require.True(t, bytes.Equal(want, have), "run go generate ./api/")
}

func TestFilesAreBundled(t *testing.T) {
	t.Parallel()
	doc, err := bundle(fstest.MapFS{
		"a.yaml":       file("paths:\n  /a: {get: {$ref: '#/components/schemas/B'}}\ncomponents:\n  schemas: {A: {type: string}}\n"),
		"b.yaml":       file("components:\n  schemas: {B: {type: object}}\n"),
		"openapi.yaml": file("openapi: 3.1.0\ncomponents:\n  securitySchemes: {bearer: {type: http}}\n"),
	})
	require.NoError(t, err)
	text, err := encode(doc)
	require.NoError(t, err)
	require.YAMLEq(t, `
openapi: 3.1.0
paths: {/a: {get: {$ref: '#/components/schemas/B'}}}
components:
  securitySchemes: {bearer: {type: http}}
  schemas: {A: {type: string}, B: {type: object}}`, string(text))
}

func TestWhatDoesNotFitTogetherIsNotBundled(t *testing.T) {
	t.Parallel()
	const begin = "openapi: 3.1.0\n"
	for name, c := range map[string]struct {
		files fstest.MapFS
		want  string
	}{
		"no head": {fstest.MapFS{"a.yaml": file("paths: {}")}, "there is no openapi.yaml"},
		"two heads": {fstest.MapFS{"openapi.yaml": file(begin), "a.yaml": file("info: {}")},
			"a.yaml: info belongs in openapi.yaml"},
		"one path twice": {fstest.MapFS{"openapi.yaml": file(begin + "paths: {/a: {}}"),
			"a.yaml": file("paths: {/a: {}}")}, "a.yaml: another file has /a too"},
		"one schema twice": {fstest.MapFS{"openapi.yaml": file(begin),
			"a.yaml": file("components: {schemas: {A: {}}}"),
			"b.yaml": file("components: {schemas: {A: {}}}")}, "b.yaml: another file has A too"},
		"a loose reference": {fstest.MapFS{"openapi.yaml": file(begin +
			"paths: {/a: {$ref: '#/components/schemas/A'}}")}, "#/components/schemas/A names nothing"},
		"an unused header": {fstest.MapFS{"openapi.yaml": file(begin + "components: {headers: {A: {}}}")},
			"nothing refers to #/components/headers/A"},
		"no mapping": {fstest.MapFS{"openapi.yaml": file("[1]")}, "openapi.yaml: want one mapping"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := bundle(c.files)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func file(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }

func TestWhatIsPublishedIsClean(t *testing.T) {
	t.Parallel()
	doc, err := bundle(fstest.MapFS{"openapi.yaml": file(`
openapi: 3.1.0
paths: {/a: {get: {responses: {'200': {$ref: '#/components/responses/A'}, on: 0198f3c0}}}}
components:
  responses: {A: {content: {j: {schema: {$ref: '#/components/schemas/A', x-go-type: T}}}}}
  schemas: {A: {type: string, x-go-name: B, x-known-values: [a, no]}}`)})
	require.NoError(t, err)
	publish(doc)
	text, err := encode(doc)
	require.NoError(t, err)
	require.YAMLEq(t, `
openapi: 3.1.0
paths: {/a: {get: {responses: {'200': {$ref: '#/components/responses/AAnswer'}, 'on': '0198f3c0'}}}}
components:
  responses: {AAnswer: {content: {j: {schema: {$ref: '#/components/schemas/A'}}}}}
  schemas: {A: {type: string, x-known-values: [a, 'no']}}`, string(text))
	for _, quoted := range []string{"'on':", "'0198f3c0'", "'no'"} {
		require.Contains(t, string(text), quoted)
	}
}

// Whoever reads a difference sees the whole of each line.
func TestNoLineOfTheContractIsLong(t *testing.T) {
	t.Parallel()
	files, err := os.ReadDir("../contract")
	require.NoError(t, err)
	require.Greater(t, len(files), 20)
	for _, f := range files {
		text, err := os.ReadFile("../contract/" + f.Name())
		require.NoError(t, err)
		for i, line := range strings.Split(string(text), "\n") {
			require.LessOrEqual(t, utf8.RuneCountInString(line), 200, "%s:%d", f.Name(), i+1)
		}
	}
}
