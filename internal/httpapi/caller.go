package httpapi

import (
	"context"

	"tankside/internal/actor"
)

type callerKey struct{}

// withCaller returns a context that carries the caller of a request.
func withCaller(ctx context.Context, by actor.Actor) context.Context {
	return context.WithValue(ctx, callerKey{}, by)
}

// knownCaller returns the caller of a request, and whether there is one: an operation that needs no
// token has none.
func knownCaller(ctx context.Context) (actor.Actor, bool) {
	by, ok := ctx.Value(callerKey{}).(actor.Actor)
	return by, ok
}

// callerOf returns the caller of a request, which handlers hand to services. It panics when there is
// none: every request of an operation that needs a token has passed authentication.
func callerOf(ctx context.Context) actor.Actor {
	by, ok := knownCaller(ctx)
	if !ok {
		panic("httpapi: no caller in the context")
	}
	return by
}
