package gate

import (
	"context"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
)

// compressFrom is the size in bytes from which an answer is compressed, our
// choice: what is smaller fits one packet either way.
const compressFrom = 1400

// asItIs reports whether an answer leaves uncompressed: a stream, which would
// wait in the compressor; an answer with a secret in it, whose length would tell
// of it beside what the caller sent (CVE-2013-3587); the contract and the reference
// page, which are compressed already.
func asItIs(c echo.Context) bool {
	switch c.Path() {
	case "/v1/live", "/v1/tickets", "/openapi.yaml", "/openapi.json":
		return true
	case "/v1/tokens":
		return c.Request().Method == http.MethodPost
	}
	return strings.HasPrefix(c.Path(), "/docs")
}

// compress compresses answers for callers that take gzip.
func compress() echo.MiddlewareFunc {
	return middleware.GzipWithConfig(middleware.GzipConfig{MinLength: compressFrom, Skipper: asItIs})
}

// WithHead answers HEAD as GET without the body (RFC 9110, section 9.3.2): it
// stands before the router, which knows no HEAD. What would go on after the
// header, a stream, is told that its caller has gone.
func WithHead(all http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodHead {
			all.ServeHTTP(w, r)
			return
		}
		ctx, cancel := context.WithCancel(r.Context())
		defer cancel()
		asked := r.WithContext(ctx)
		asked.Method = http.MethodGet
		asked.Header = r.Header.Clone()
		asked.Header.Del("Accept-Encoding") // nothing is sent that could be compressed
		all.ServeHTTP(&headOnly{ResponseWriter: w, gone: cancel}, asked)
	})
}

// headOnly lets the header of an answer through and nothing else.
type headOnly struct {
	http.ResponseWriter
	gone func()
}

// Write drops what would follow the header.
func (h *headOnly) Write(b []byte) (int, error) { return len(b), nil }

// Flush sends the header on. Only a stream does it, and ends with it.
func (h *headOnly) Flush() {
	if f, ok := h.ResponseWriter.(http.Flusher); ok {
		f.Flush()
	}
	h.gone()
}
