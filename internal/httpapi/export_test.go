package httpapi

import (
	"strconv"
	"time"
)

// Inspecting gives options with which every answer of a handler is looked at
// before it is written; an error becomes the answer.
func (o Options) Inspecting(look func(operation string, answer any) error) Options {
	o.inspect = look
	return o
}

// Quiet gives options with which a stream's comments come after so long.
func (o Options) Quiet(after time.Duration) Options {
	o.quiet = after
	return o
}

// At gives options whose limits go by another clock.
func (o Options) At(now func() time.Time) Options {
	o.now = now
	return o
}

// WatchedCallers is how many callers a limiter remembers.
const WatchedCallers = watchedCallers

// Network is what counts as one address.
func Network(address string) string { return network(address) }

// Remembered is how many callers a limiter still knows after so many called.
func Remembered(callers int) (int, error) {
	l, err := newLimiter("address", 1, time.Now)
	if err != nil {
		return 0, err
	}
	for n := range callers {
		l.take(strconv.Itoa(n))
	}
	return l.buckets.Len(), nil
}

// OfSeveralLines are the members whose texts may have several lines.
var OfSeveralLines = ofSeveralLines
