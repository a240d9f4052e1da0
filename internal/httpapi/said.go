package httpapi

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/httpapi/contract"
)

// Names of what a request's line takes from the request's context.
const (
	keyOperation = "tankside.operation"
	keyCaller    = "tankside.caller"
)

// caller returns what the request's line says of who called: ids and never a
// name. A program has no id of its own, and is known by its token's. Of whoever
// was not recognised it is the centre that the token or ticket names, which
// nobody has confirmed.
func caller(c echo.Context) []slog.Attr {
	var said []slog.Attr
	if who, ok := c.Get(keyCaller).(actor.Actor); ok {
		said = append(said, slog.String("centre_id", who.Centre.String()),
			slog.String("token_id", who.Token.String()))
		if who.IsProgram() {
			return append(said, slog.Bool("program", true))
		}
		return append(said, slog.String("person_id", who.Person.String()))
	}
	if centre, ok := c.Get(keyCaller).(uuid.UUID); ok {
		said = append(said, slog.String("claimed_centre_id", centre.String()))
	}
	return said
}

// known notes who called for the request's line, or whose token was brought.
func known(c echo.Context, op *contract.Operation, by actor.Actor, err error) {
	if err == nil {
		c.Set(keyCaller, by)
		return
	}
	if secret, _, bad := credentials(c.Request(), op); bad == nil {
		if centre, ok := access.CentreOf(secret); ok {
			c.Set(keyCaller, centre)
		}
	}
}

// saidEvery is how often the same trouble is written to the log, our choice.
const saidEvery = 10 * time.Second

// repeated writes what happens again and again once, and then how often.
type repeated struct {
	log   *slog.Logger
	every time.Duration

	mu    sync.Mutex
	since map[string]int // how often each was met and not written
}

// mostTroubles bounds what is remembered; beyond it everything is one.
const mostTroubles = 32

// say writes a line unless one of its kind was written a moment ago.
func (r *repeated) say(ctx context.Context, kind, message string, attrs ...slog.Attr) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, told := r.since[kind]; !told && len(r.since) >= mostTroubles {
		kind = "other"
	}
	if _, told := r.since[kind]; told {
		r.since[kind]++
		return
	}
	r.since[kind] = 0
	r.log.LogAttrs(ctx, slog.LevelError, message, attrs...)
	time.AfterFunc(r.every, func() { r.sum(kind, message) })
}

// sum writes how often a kind was met since, and forgets it once it was not.
func (r *repeated) sum(kind, message string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := r.since[kind]
	if n == 0 {
		delete(r.since, kind)
		return
	}
	r.since[kind] = 0
	r.log.LogAttrs(context.Background(), slog.LevelError, message, slog.String("kind", kind),
		slog.Int("again", n), slog.Duration("within", r.every))
	time.AfterFunc(r.every, func() { r.sum(kind, message) })
}
