package httpapi

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

// breaks is one part of the page about what the contract no longer is.
type breaks struct {
	Title, Why string
	Changes    []change
	Operations map[string]string // operationIds: what each was, and is now
}

// change is one thing that was, and what to use instead.
type change struct{ Was, Now string }

// All returns the changes of the part, those of operationIds in the order of the
// alphabet.
func (b breaks) All() []change {
	all := slices.Clone(b.Changes)
	for was, now := range b.Operations {
		all = append(all, change{was, now})
	}
	if b.Operations != nil {
		slices.SortFunc(all, func(x, y change) int { return strings.Compare(x.Was, y.Was) })
	}
	return all
}

var breaksTemplate = template.Must(template.New("breaks").Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>What changed in the API – Tankside</title>
<style>
body { font: 1.125rem/1.5 system-ui, sans-serif; max-width: 48rem; margin: 0 auto; padding: 1.5rem; color: #1a2a33; background: #fff; }
h1 { font-size: 1.5rem; line-height: 1.2; }
h2 { font-size: 1.125rem; margin-bottom: 0; }
p { margin-top: .25rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .25rem .5rem .25rem 0; border-top: 1px solid #9ab; width: 50%; overflow-wrap: anywhere; }
@media (prefers-color-scheme: dark) { body { color: #e6eef2; background: #10191e; } a { color: #8ecbff; } }
</style>
</head>
<body>
<h1>What changed in the API</h1>
<p>What others could rely on before, and what to use instead. Everything else is an addition.</p>
{{range .}}<h2>{{.Title}}</h2>
<p>{{.Why}}</p>
<table>
<tr><th scope="col">Before</th><th scope="col">Now</th></tr>
{{range .All}}<tr><td>{{.Was}}</td><td>{{.Now}}</td></tr>
{{end}}</table>
{{end}}<p><a href="/docs/">The API reference</a></p>
</body>
</html>
`))

// breaksPage returns the handler of the page, which is written once.
func breaksPage() (echo.HandlerFunc, error) {
	var all []breaks
	if err := yaml.Unmarshal(api.Breaks, &all); err != nil {
		return nil, fmt.Errorf("read breaks of the contract: %w", err)
	}
	var page bytes.Buffer
	if err := breaksTemplate.Execute(&page, all); err != nil {
		return nil, fmt.Errorf("write breaks of the contract: %w", err)
	}
	document := publish("text/html; charset=utf-8", page.Bytes())
	return func(c echo.Context) error {
		c.Response().Header().Set("Content-Security-Policy",
			"default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
		return document.serve(c)
	}, nil
}
