package gate

import (
	"cmp"
	"context"
	"sync"
	"time"

	"tankside/internal/httpapi/contract"

	"github.com/labstack/echo/v4"
)

// Deadline is how long an operation may take once its request has arrived,
// waiting for a connection to the database included, where Options name
// nothing else. Our choice: twice what it waits for a lock, and less than the
// server's time-out for writing an answer.
const Deadline = 20 * time.Second

// within lets a handler work until the deadline. A stream lives longer: its
// handler limits what it reads at the opening.
func (g *Gate) within(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if op.Stream {
				return next(c)
			}
			r := c.Request()
			ctx, cancel := g.InTime(r.Context())
			defer cancel()
			c.SetRequest(r.WithContext(ctx))
			return next(c)
		}
	}
}

// InTime returns a context that ends at the deadline.
func (g *Gate) InTime(ctx context.Context) (context.Context, context.CancelFunc) {
	return context.WithTimeout(ctx, cmp.Or(g.Deadline, Deadline))
}

// How readiness is asked, our choice: whoever asks more often than each second
// is told what was found last, and one question at a time is put to the pool.
const (
	readyFor      = time.Second
	readyPatience = 2 * time.Second
)

// probe asks whether requests can be served, once for all who want to know.
type probe struct {
	ask func(context.Context) error
	now func() time.Time

	mu    sync.Mutex
	known error
	until time.Time
}

// ready returns why requests cannot be served, nil when they can; fresh reports
// whether that was found just now.
func (p *probe) ready(ctx context.Context) (why error, fresh bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.now().Before(p.until) {
		return p.known, false
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), readyPatience)
	defer cancel()
	p.known = p.ask(ctx)
	p.until = p.now().Add(readyFor)
	return p.known, true
}
