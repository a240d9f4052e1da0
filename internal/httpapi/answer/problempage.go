package answer

import (
	"fmt"
	"html/template"
	"net/http"

	"github.com/labstack/echo/v4"
)

var problemTemplate = template.Must(template.New("problem").Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Title}} – Tankside</title>
<style>
body { font: 1.125rem/1.5 system-ui, sans-serif; max-width: 36rem; margin: 0 auto; padding: 1.5rem; color: #1a2a33; background: #fff; }
h1 { font-size: 1.5rem; line-height: 1.2; }
h2 { font-size: 1.125rem; margin-bottom: 0; }
p { margin-top: .25rem; }
code { font-size: 1rem; }
@media (prefers-color-scheme: dark) { body { color: #e6eef2; background: #10191e; } a { color: #8ecbff; } }
</style>
</head>
<body>
<h1>{{.Title}}</h1>
<p>Status {{.Status}}, code <code>{{.Code}}</code></p>
<h2>What it means</h2>
<p>{{.Text}}</p>
<h2>What to do</h2>
<p>{{.Cure}}</p>
<p><a href="/docs/">The API reference</a></p>
</body>
</html>
`))

// PageOfText sets the headers of a page that has its styles and loads nothing.
func PageOfText(c echo.Context) {
	h := c.Response().Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
}

// ProblemPage explains one code, for the person who followed a problem's type.
func ProblemPage(c echo.Context) error {
	name := c.Param("code")
	about, ok := codes[name]
	if !ok {
		return echo.ErrNotFound
	}
	PageOfText(c)
	status := Statuses[about.Kind]
	if name == "method_not_allowed" {
		status = http.StatusMethodNotAllowed
	}
	err := problemTemplate.Execute(c.Response(), struct {
		code
		Code   string
		Status int
	}{about, name, status})
	if err != nil {
		return fmt.Errorf("write problem page: %w", err)
	}
	return nil
}
