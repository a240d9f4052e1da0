// Package gate decides which requests are served: it recognises callers, limits them, holds requests to their
// deadline and to the contract, and writes their line in the log.
//
// It owns the limits and what is remembered of callers. It must not know an operation's handler, nor a rule of
// diving.
package gate

import (
	"context"
	"log/slog"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/request"
)

// Options are what the gates need from the rest of the program.
type Options struct {
	Access   *access.Service
	Heard    func(centre uuid.UUID)      // called with the centre of each request whose caller is recognised
	Ready    func(context.Context) error // nil when requests can be served
	Fits     func(context.Context) error // nil when the schema is one that this release runs on; asked for each request
	Log      *slog.Logger
	Origins  []string // that browsers may call from; none: no CORS headers at all
	Limits   Limits   // how many requests are served in a minute
	Deadline time.Duration
	Now      func() time.Time // the clock of the limits; nil is time.Now
}

// Gate decides which requests are served.
type Gate struct {
	Options
	contract *contract.Contract

	tokens, addresses *limiter
	probe             *probe
	door              *door
	operated          map[string]bool // routes of operations
}

// New returns the gate of a contract. It fails where an operation has no row in the table of permissions,
// or a limit is not positive.
func New(o Options, c *contract.Contract) (*Gate, error) {
	if err := checkPermissions(c.Operations); err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	g := &Gate{Options: o, contract: c, door: newDoor(), operated: routes(c.Operations),
		probe: &probe{ask: o.Ready, now: time.Now}}
	var err error
	if g.tokens, err = newLimiter("token", o.Limits.Token, o.Now); err != nil {
		return nil, err
	}
	g.addresses, err = newLimiter("address", o.Limits.Address, o.Now)
	return g, err
}

// Around returns the middleware that stands around every request, outermost first.
func (g *Gate) Around() []echo.MiddlewareFunc {
	return []echo.MiddlewareFunc{request.Identify, compress(), g.observe, g.recoverPanics, secure, g.cors(),
		g.limitAddress}
}

// Before returns the middleware that stands before the handler of an operation, outermost first.
func (g *Gate) Before(op *contract.Operation) []echo.MiddlewareFunc {
	return []echo.MiddlewareFunc{asked(op), g.fits, g.authenticate(op), g.admit(op), g.within(op)}
}
