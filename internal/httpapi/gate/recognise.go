package gate

import (
	"context"
	"crypto/sha256"
	"errors"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/hashicorp/golang-lru/v2/expirable"
	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
)

// How callers are recognised, all our choice. A token that was good here within
// a day is looked up at once, whatever else comes from its address; one that
// was refused here a moment ago is refused again without a look; every other
// one waits in a line, of its address and of all, so that those who guess
// occupy few connections.
const (
	rememberGood = 24 * time.Hour
	rememberBad  = time.Minute
	remembered   = 1 << 14 // tokens of each kind, as hashes
	linesOfAll   = 4       // strangers that are looked up at once
	linesOfOne   = 2       // of one address
	mostInLine   = 64      // of one address; more are told to come again
)

// door recognises callers.
type door struct {
	good, bad *expirable.LRU[[sha256.Size]byte, struct{}]
	all       chan struct{}

	mu    sync.Mutex
	lines map[string]*line // of the addresses that strangers wait at
}

type line struct {
	slots   chan struct{}
	waiting int
}

func newDoor() *door {
	return &door{good: expirable.NewLRU[[sha256.Size]byte, struct{}](remembered, nil, rememberGood),
		bad: expirable.NewLRU[[sha256.Size]byte, struct{}](remembered, nil, rememberBad),
		all: make(chan struct{}, linesOfAll), lines: map[string]*line{}}
}

// recognise finds out who is calling, within the deadline. Only whoever is not
// recognised is charged to the address: a good token never waits for what
// others owe there.
func (g *Gate) recognise(c echo.Context, op *contract.Operation) (actor.Actor, error) {
	ctx, cancel := g.InTime(c.Request().Context())
	defer cancel()
	from := network(c.RealIP())
	secret, ticket, err := credentials(c.Request(), op)
	if err == nil {
		var who actor.Actor
		who, err = g.door.admit(ctx, from, secret, ticket, func() (actor.Actor, error) {
			if ticket {
				return g.Access.AuthenticateTicket(ctx, secret, TicketAddress(c.Request().URL))
			}
			return g.Access.Authenticate(ctx, secret)
		})
		if err == nil {
			return who, nil
		}
	}
	if !errors.Is(err, fault.Unauthenticated.Err()) && !errors.Is(err, errCrowd) {
		return actor.Actor{}, err
	}
	if got := g.addresses.take(from); !got.ok {
		return actor.Actor{}, g.addresses.refuse(c.Response().Header(), got)
	}
	g.addresses.charge(from, guessCost)
	if errors.Is(err, errCrowd) {
		return actor.Actor{}, g.addresses.refuse(c.Response().Header(), g.addresses.take(from))
	}
	return actor.Actor{}, err
}

// credentials returns what a request brings to be recognised by: a token's
// secret or, where the operation takes one and there is no token, a ticket's.
func credentials(r *http.Request, op *contract.Operation) (secret string, ticket bool, err error) {
	header := r.Header.Get("Authorization")
	if header == "" && op.Ticket {
		return r.URL.Query().Get(TicketParameter), true, nil
	}
	scheme, secret, _ := strings.Cut(header, " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return "", false, fault.New(fault.Unauthenticated, "unauthenticated",
			"Send a valid token: Authorization: Bearer tsk_….")
	}
	return strings.TrimSpace(secret), false, nil
}

// errCrowd means that too many strangers wait at an address.
var errCrowd = errors.New("httpapi: too many wait to be recognised")

// admit looks a secret up: at once where it was good before, else in the lines.
func (d *door) admit(ctx context.Context, from, secret string, ticket bool,
	look func() (actor.Actor, error)) (actor.Actor, error) {
	hash := sha256.Sum256([]byte(secret))
	_, known := d.good.Get(hash)
	_, refused := d.bad.Get(hash)
	refused = refused && !ticket
	_, formed := access.CentreOf(secret)
	switch {
	case refused:
		return actor.Actor{}, access.Unrecognised()
	case formed && !known: // what has no centre in it is refused without a look
		leave, err := d.wait(ctx, from)
		if err != nil {
			return actor.Actor{}, err
		}
		defer leave()
	}
	who, err := look()
	switch {
	case err == nil:
		d.good.Add(hash, struct{}{})
	case errors.Is(err, fault.Unauthenticated.Err()):
		d.good.Remove(hash)
		if !ticket { // which may be good for another address
			d.bad.Add(hash, struct{}{})
		}
	}
	return who, err
}

// wait waits in the line of an address, then in that of all.
func (d *door) wait(ctx context.Context, from string) (leave func(), err error) {
	d.mu.Lock()
	l := d.lines[from]
	if l == nil {
		l = &line{slots: make(chan struct{}, linesOfOne)}
		d.lines[from] = l
	}
	if l.waiting >= mostInLine {
		d.mu.Unlock()
		return nil, errCrowd
	}
	l.waiting++
	d.mu.Unlock()
	gone := func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		if l.waiting--; l.waiting == 0 {
			delete(d.lines, from)
		}
	}
	for _, slots := range []chan struct{}{l.slots, d.all} {
		select {
		case slots <- struct{}{}:
			next := gone
			gone = func() { <-slots; next() }
		case <-ctx.Done():
			gone()
			return nil, ctx.Err()
		}
	}
	return gone, nil
}
