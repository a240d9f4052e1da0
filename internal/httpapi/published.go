package httpapi

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strings"
	"sync"

	"github.com/labstack/echo/v4"

	"tankside/api"
	"tankside/internal/httpapi/answer"
)

// published is a document that is the same for everybody until the next release,
// as it is and compressed. The contract is large and asked for by every client that
// is built: it is compressed once.
type published struct {
	media string
	plain representation
	gzip  representation
}

// representation is what a document is sent as, with its ETag. Each has one of its
// own, since a strong ETag names bytes (RFC 9110, section 8.8.3).
type representation struct {
	body []byte
	tag  string
}

func represent(body []byte) representation {
	sum := sha256.Sum256(body)
	return representation{body, `"` + hex.EncodeToString(sum[:tagBytes]) + `"`}
}

// publish returns a document that is ready to be served.
func publish(media string, text []byte) *published {
	var out bytes.Buffer
	w, _ := gzip.NewWriterLevel(&out, gzip.BestCompression) // the level is a valid one
	_, _ = w.Write(text)                                    // a buffer takes everything
	_ = w.Close()
	return &published{media, represent(text), represent(out.Bytes())}
}

// The contract in its two forms.
var (
	contractYAML = sync.OnceValue(func() *published { return publish("application/yaml", api.Document) })
	contractJSON = sync.OnceValue(func() *published { return publish(echo.MIMEApplicationJSON, api.JSON()) })
)

// mountContract mounts the contract, which needs no token.
func mountContract(e *echo.Echo) {
	e.GET("/openapi.yaml", func(c echo.Context) error { return contractYAML().serve(c) })
	e.GET("/openapi.json", func(c echo.Context) error { return contractJSON().serve(c) })
}

// serve answers a document, or 304 to a caller that has it already.
func (p *published) serve(c echo.Context) error {
	h := c.Response().Header()
	h.Add(echo.HeaderVary, echo.HeaderAcceptEncoding)
	h.Set("Cache-Control", "public, no-cache")
	chosen := p.plain
	if strings.Contains(c.Request().Header.Get(echo.HeaderAcceptEncoding), "gzip") {
		chosen = p.gzip
		h.Set(echo.HeaderContentEncoding, "gzip")
	}
	h.Set("ETag", chosen.tag)
	if answer.Matches(c.Request().Header.Get("If-None-Match"), chosen.tag) {
		h.Del(echo.HeaderContentEncoding)
		return c.NoContent(http.StatusNotModified)
	}
	return c.Blob(http.StatusOK, p.media, chosen.body)
}
