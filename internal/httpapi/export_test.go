package httpapi

import (
	"context"
	"log/slog"
	"strings"
	"sync"
	"sync/atomic"

	"tankside/internal/access"
	"tankside/internal/finding"
	"tankside/internal/live"

	"fmt"
	"strconv"
	"time"

	"tankside/internal/actor"
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

// Strangers has so many callers whom nobody knows wait to be looked up at one
// address. It returns how many were looked up at once at most, and whether one
// who is known passed by them.
func Strangers(ctx context.Context, n int) (most int, passed bool) {
	secret := func(n int) string {
		return fmt.Sprintf("%s%032x_%s", access.TokenPrefix, n,
			strings.Repeat("a", 52))
	}
	d := newDoor()
	_, _ = d.admit(ctx, "here", secret(0), false, func() (actor.Actor, error) { return actor.Actor{}, nil })
	var inside, highest atomic.Int32
	release := make(chan struct{})
	var waiting sync.WaitGroup
	for i := range n {
		waiting.Go(func() {
			_, _ = d.admit(ctx, "here", secret(i+1), false, func() (actor.Actor, error) {
				now := inside.Add(1)
				defer inside.Add(-1)
				for seen := highest.Load(); now > seen &&
					!highest.CompareAndSwap(seen, now); seen = highest.Load() {
				}
				<-release
				return actor.Actor{}, access.Unrecognised()
			})
		})
	}
	for inside.Load() < linesOfOne {
		time.Sleep(time.Millisecond)
	}
	_, err := d.admit(ctx, "here", secret(0), false, func() (actor.Actor, error) { return actor.Actor{}, nil })
	close(release)
	waiting.Wait()
	return int(highest.Load()), err == nil && len(d.lines) == 0
}

// Repeated says the same trouble so often, and waits until it was summed up.
func Repeated(log *slog.Logger, times int) {
	r := &repeated{log: log, every: 20 * time.Millisecond, since: map[string]int{}}
	for range times {
		r.say(context.Background(), "away", "request could not be served")
	}
	for {
		r.mu.Lock()
		left := len(r.since)
		r.mu.Unlock()
		if left == 0 {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

// ToldWithoutPapers returns a message of a stream as a program is told it that may
// not read papers.
func ToldWithoutPapers(rules []finding.Rule, m live.Message) (live.Message, error) {
	return newWithheld(rules).message(m)
}

// Templates returns the templates of a rule's messages, as /v1/rules lists them.
func Templates(rule string) (out []string) {
	for _, m := range messagesOf(rule) {
		out = append(out, m.template)
	}
	return out
}
