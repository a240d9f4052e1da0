package httpapi

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"regexp"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/swaggest/swgui/v5emb"
)

// mountPages mounts what is no part of the contract: the contract itself, its
// reference page, the pages about breaks and problems, and the probes.
func (s *server) mountPages(e *echo.Echo) error {
	e.GET("/", func(c echo.Context) error { return c.Redirect(http.StatusFound, "/docs/") })
	mountContract(e)
	reference := v5emb.New("Tankside API", "/openapi.yaml", "/docs/")
	changed, err := breaksPage()
	if err != nil {
		return err
	}
	e.GET("/docs/breaks", changed)
	docs, policy := echo.WrapHandler(reference), docsPolicy(reference)
	e.GET("/docs", docs, policy)
	e.GET("/docs/*", docs, policy)
	e.GET("/docs/permissions", s.permissions)
	e.GET("/problems/:code", problemPage)
	e.GET("/livez", func(c echo.Context) error { return c.JSON(http.StatusOK, state{Status: "alive"}) })
	e.GET("/readyz", s.readiness)
	return nil
}

type state struct {
	Status string `json:"status"`
	Reason string `json:"reason,omitempty"`
}

// readiness answers whether requests can be served, and why not in a word,
// since nobody has authenticated.
func (s *server) readiness(c echo.Context) error {
	ctx := c.Request().Context()
	why, fresh := s.probe.ready(ctx)
	if why == nil {
		return c.JSON(http.StatusOK, state{Status: "ready"})
	}
	if fresh {
		s.Log.WarnContext(ctx, "not ready", "error", why.Error())
	}
	return c.JSON(http.StatusServiceUnavailable,
		state{"not ready", "the database is not reachable or its schema does not fit this release"})
}

// docsPolicy lets the reference page load its own scripts and styles, which the
// policy of every other page forbids: those of its files, and of those that stand in
// the page the ones with the hashes of what is embedded, and no other.
func docsPolicy(page http.Handler) echo.MiddlewareFunc {
	kept := &held{ResponseWriter: headers{}}
	page.ServeHTTP(kept, &http.Request{Method: http.MethodGet, URL: &url.URL{Path: "/docs/"},
		Header: http.Header{}})
	policy := "default-src 'self'; script-src 'self'" + hashesOf(inlineScript, kept.body.Bytes()) +
		"; style-src 'self'" + hashesOf(inlineStyle, kept.body.Bytes()) +
		"; img-src 'self' data:; frame-ancestors 'none'"
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			c.Response().Header().Set("Cache-Control", anHour)
			c.Response().Header().Set("Content-Security-Policy", policy)
			return next(c)
		}
	}
}

// headers is the head of an answer that goes nowhere.
type headers http.Header

func (h headers) Header() http.Header         { return http.Header(h) }
func (h headers) Write(b []byte) (int, error) { return len(b), nil }
func (h headers) WriteHeader(int)             {}

// What stands in a page itself, and not in a file that it names.
var (
	inlineScript = regexp.MustCompile(`(?s)<script>(.*?)</script>`)
	inlineStyle  = regexp.MustCompile(`(?s)<style>(.*?)</style>`)
)

// hashesOf writes the sources of a policy that let what stands in a page in (W3C,
// Content Security Policy Level 3, section 2.3.1: 'sha256-…').
func hashesOf(what *regexp.Regexp, page []byte) string {
	var out strings.Builder
	for _, m := range what.FindAllSubmatch(page, -1) {
		sum := sha256.Sum256(m[1])
		out.WriteString(" 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'")
	}
	return out.String()
}

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

// pageOfText sets the headers of a page that has its styles and loads nothing.
func pageOfText(c echo.Context) {
	h := c.Response().Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
}

// problemPage explains one code, for the person who followed a problem's type.
func problemPage(c echo.Context) error {
	name := c.Param("code")
	about, ok := codes[name]
	if !ok {
		return echo.ErrNotFound
	}
	pageOfText(c)
	status := statuses[about.Kind]
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
