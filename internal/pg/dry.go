package pg

import "context"

type dryKey struct{}

// Dry returns a context that makes everything under it a dry run: InTx works as DryRun. So
// a use case is written once, and need not know whether it is a dry run.
func Dry(ctx context.Context) context.Context { return context.WithValue(ctx, dryKey{}, true) }

func isDry(ctx context.Context) bool { return ctx.Value(dryKey{}) != nil }
