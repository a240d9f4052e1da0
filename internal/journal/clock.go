package journal

import (
	"context"
	"time"
)

// Clock is the clock of a device that kept entries while it had no coverage.
type Clock struct {
	Device     string
	Correction time.Duration // what was added to its times, in whole seconds
}

// Trusted is how far the clock of a device may seem to be off and is taken as it
// is. Our choice: so much is as likely the way of the message as the clock.
const Trusted = 10 * time.Second

// Correct gives what has to be added to the times of a device whose clock read
// sent when ours, on receiving, read received: in whole seconds, nothing where
// the two are within Trusted.
func Correct(sent, received time.Time) time.Duration {
	off := received.Sub(sent)
	if off.Abs() <= Trusted {
		return 0
	}
	return off.Round(time.Second)
}

type clockKey struct{}

// FromDevice marks everything recorded under the context as kept by a device:
// the clock stands beside each entry. The times of the entries are corrected by
// the caller.
func FromDevice(ctx context.Context, c Clock) context.Context {
	return context.WithValue(ctx, clockKey{}, c)
}

func clockFrom(ctx context.Context) (Clock, bool) {
	c, ok := ctx.Value(clockKey{}).(Clock)
	return c, ok
}
