package pg

import "context"

type dryKey struct{}

// Dry marks everything done under the context as a dry run: In works as Try.
// So a use case is written once and need not know whether it is only asked.
func Dry(ctx context.Context) context.Context { return context.WithValue(ctx, dryKey{}, true) }

func isDry(ctx context.Context) bool { return ctx.Value(dryKey{}) != nil }
