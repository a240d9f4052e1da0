package httpapi

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/url"
	"regexp"
	"strings"

	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/gate"

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
	e.GET("/problems/:code", answer.ProblemPage)
	e.GET("/livez", func(c echo.Context) error { return c.JSON(http.StatusOK, gate.State{Status: "alive"}) })
	e.GET("/readyz", s.gate.Readiness)
	return nil
}

// docsPolicy lets the reference page load its own scripts and styles, which the
// policy of every other page forbids: those of its files, and of those that stand in
// the page the ones with the hashes of what is embedded, and no other.
func docsPolicy(page http.Handler) echo.MiddlewareFunc {
	kept := &written{}
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

// written is an answer that goes nowhere, and keeps its body.
type written struct {
	header http.Header
	body   bytes.Buffer
}

func (w *written) Header() http.Header {
	if w.header == nil {
		w.header = http.Header{}
	}
	return w.header
}
func (w *written) Write(b []byte) (int, error) { return w.body.Write(b) }
func (w *written) WriteHeader(int)             {}

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
