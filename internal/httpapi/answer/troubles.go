package answer

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// saidEvery is how often the same trouble is written to the log, our choice.
const saidEvery = 10 * time.Second

// Troubles writes to the log what happens again and again once, and then how often.
type Troubles struct {
	log   *slog.Logger
	every time.Duration

	mu    sync.Mutex
	since map[string]int // how often each was met and not written
}

// NewTroubles returns Troubles that write to a log.
func NewTroubles(log *slog.Logger) *Troubles {
	return &Troubles{log: log, every: saidEvery, since: map[string]int{}}
}

// mostTroubles bounds what is remembered; beyond it everything is one.
const mostTroubles = 32

// say writes a line unless one of its kind was written a moment ago.
func (r *Troubles) say(ctx context.Context, kind, message string, attrs ...slog.Attr) {
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
func (r *Troubles) sum(kind, message string) {
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
