// Package request carries what the edge knows of a request from its gates to its handler: who is calling,
// the request with the body that was read of it, and its id.
//
// It owns these values in the request's context, and nothing that changes what a service does. It must not
// know an operation or a service.
package request

import (
	"context"

	"tankside/internal/actor"
)

type callerKey struct{}

// WithCaller returns a context that carries the caller of a request.
func WithCaller(ctx context.Context, by actor.Actor) context.Context {
	return context.WithValue(ctx, callerKey{}, by)
}

// KnownCaller returns the caller of a request, and whether there is one: an operation that needs no
// token has none.
func KnownCaller(ctx context.Context) (actor.Actor, bool) {
	by, ok := ctx.Value(callerKey{}).(actor.Actor)
	return by, ok
}

// Caller returns the caller of a request, which handlers hand to services. It panics when there is
// none: every request of an operation that needs a token has passed authentication.
func Caller(ctx context.Context) actor.Actor {
	by, ok := KnownCaller(ctx)
	if !ok {
		panic("request: no caller in the context")
	}
	return by
}
