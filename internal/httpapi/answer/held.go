package answer

import (
	"bytes"
	"net/http"

	"github.com/labstack/echo/v4"
)

// held is an answer that is looked at before it leaves.
type held struct {
	http.ResponseWriter
	status int
	body   bytes.Buffer
}

func (h *held) WriteHeader(status int)      { h.status = status }
func (h *held) Write(b []byte) (int, error) { return h.body.Write(b) }

// hold runs the handler and keeps back what it writes.
func hold(c echo.Context, next echo.HandlerFunc) (*held, error) {
	wire := c.Response().Writer
	h := &held{ResponseWriter: wire, status: http.StatusOK}
	c.SetResponse(echo.NewResponse(h, c.Echo()))
	defer func() { c.SetResponse(echo.NewResponse(wire, c.Echo())) }() // after a panic too, or its answer would be kept back
	return h, next(c)
}
