package request

import (
	"context"
	"crypto/sha256"
	"fmt"
	"net/http"

	"tankside/internal/httpapi/contract"
)

// Call is what a handler may need of its request beside what was bound.
type Call struct {
	Request *http.Request
	Body    []byte
}

type callKey struct{}

// WithCall returns a request that carries itself, with the body that was read of it.
func WithCall(r *http.Request, body []byte) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), callKey{}, Call{Request: r, Body: body}))
}

// CallFrom returns the request that a handler serves.
func CallFrom(ctx context.Context) Call { return ctx.Value(callKey{}).(Call) }

// Digest identifies a creating request: its address and its canonical body.
func (c Call) Digest() []byte {
	h := sha256.New()
	fmt.Fprintf(h, "%s %s\n", c.Request.Method, c.Request.URL.Path)
	if contract.IsJSON(c.Request.Header.Get("Content-Type")) {
		h.Write(contract.Canonical(c.Body))
	} else {
		h.Write(c.Body)
	}
	return h.Sum(nil)
}
