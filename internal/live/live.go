// Package live sends the events of sessions to their watchers while they happen:
// each event once and in the order in which it was committed, on whichever instance
// of the service the watcher is connected.
//
// It owns the tables live_head and live_event, which triggers fill, and the hub that
// reads them, fans out in memory and deletes events that are too old for any
// reconnect. It must not know HTTP, nor the words for an event: these come from
// Options.
//
// Each instance asks the database ten times a second, once for each centre with
// watchers, for the events after the last numbers it saw. Numbers are given under
// the session's own lock and without a gap (see the migration), so no event can be
// missed. NOTIFY is not needed; it would cost every writer.
package live

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// How the hub works, all our choice. Tests have shorter ones.
const (
	// how long after a write a listener has it at most; half of that on average
	pollEvery   = 100 * time.Millisecond
	tendEvery   = time.Second     // the shortest interval between standings
	recheck     = 2 * time.Second // the longest that a revoked token still watches
	stalledFrom = 3 * time.Second // without the database, before listeners are told
	pollTimeout = 5 * time.Second // for one query

	mostMissed    = 1000 // events that are sent after a reconnect; beyond, a snapshot is less to read
	mostQueued    = 512  // messages that wait for a slow listener before it is ended
	mostListeners = 2000 // of one instance
	keptOfCentre  = 20   // that a centre may have, however many others have

	keptFor   = 24 * time.Hour   // how far back a reconnect may resume
	tidyEvery = 10 * time.Minute // the interval at which older events are deleted
	tidyMost  = 500              // events in one statement

	// CentreStreams is how many streams one centre may have open on an instance by
	// default, our choice: those of ten tokens in full use.
	CentreStreams = 200

	// MostSessions is how many sessions one listener may watch.
	MostSessions = 20
)

// Event is something that happened in a session. Type and RefID name its row.
type Event struct {
	SessionID uuid.UUID
	Seq       int64 // 1, 2, 3 ... within the session
	Type      string
	RefID     uuid.UUID
	Detail    *string // what the row no longer has: the state that a session took on
	At        time.Time
}

// Options are what the hub works with.
type Options struct {
	DB *pg.DB
	// Tell returns the texts of events for listeners, one for each.
	Tell func(ctx context.Context, tx *pg.Tx, events []Event) ([][]byte, error)
	// Stand returns how each of the sessions stands; fault.NoSuch for one that
	// does not exist.
	Stand func(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) ([]json.RawMessage, error)
	// Holders returns the valid ones of the tokens, with their holders.
	Holders func(ctx context.Context, centre uuid.UUID, tokens []uuid.UUID) (map[uuid.UUID]actor.Actor, error)
	Streams int // the most that one token may have open here; positive
	// CentreStreams is the most that one centre may have open here; 0 is 200.
	CentreStreams int
	Log           *slog.Logger
}

// Hub has the listeners of this instance. Without listeners it runs no goroutine.
type Hub struct {
	Options
	pace pace

	mu       sync.Mutex // guards what follows, and everything of feeds
	feeds    map[uuid.UUID]*feed
	stopped  bool
	count    int
	streams  map[uuid.UUID]int  // by token
	heard    map[uuid.UUID]bool // centres that were served since the last tidying
	watchers sync.WaitGroup     // the goroutines of feeds
}

// pace has the intervals of the hub's work.
type pace struct{ poll, tend, recheck, stalled, tidy time.Duration }

// New returns a hub.
func New(o Options) *Hub {
	return &Hub{Options: o, feeds: map[uuid.UUID]*feed{}, streams: map[uuid.UUID]int{},
		heard: map[uuid.UUID]bool{}, pace: pace{pollEvery, tendEvery, recheck, stalledFrom, tidyEvery}}
}

// Stop ends every listener and waits for the hub's goroutines. It refuses listeners
// from then on.
func (h *Hub) Stop() {
	h.mu.Lock()
	h.stopped = true
	for _, f := range h.feeds {
		for l := range f.listeners {
			h.end(l, Stopping)
		}
	}
	h.mu.Unlock()
	h.watchers.Wait()
}

// Subscription asks to watch sessions.
type Subscription struct {
	Sessions []uuid.UUID
	After    string      // the position that an earlier stream reached; "" for none
	Scope    actor.Scope // the scope that the caller's token must keep
}

// Listen returns a listener for the caller, who closes it. Faults: MissingRole for a
// student; TooMany for a token or a centre that has as many streams open as it may;
// Missing for a session that does not exist; Unavailable when the instance is
// stopping or full.
func (h *Hub) Listen(ctx context.Context, by actor.Actor, w Subscription) (*Listener, error) {
	l := newListener(h, by, w)
	if err := h.checkCentreLimits(by); err != nil {
		return nil, err // before anything is read
	}
	if err := h.open(ctx, l, w.After); err != nil {
		return nil, err
	}
	behind, err := h.join(l)
	if err != nil {
		return nil, err
	}
	if err := h.catchUp(ctx, l, behind); err != nil {
		l.Close()
		return nil, err
	}
	return l, nil
}

// checkLimits returns a fault where a token, a centre or the instance has no stream left.
// The lock is held.
func (h *Hub) checkLimits(by actor.Actor) error {
	ofCentre := 0
	if f := h.feeds[by.Centre]; f != nil {
		ofCentre = len(f.listeners)
	}
	switch most := cmp.Or(h.CentreStreams, CentreStreams); {
	case h.stopped:
		return fault.New(fault.Unavailable, "unavailable",
			"This instance takes nobody in to watch at this moment. Try again shortly.")
	case h.streams[by.Token] >= h.Streams:
		return fault.New(fault.TooMany, "too_many_streams",
			fmt.Sprintf("This token has %d streams open here, and may have %d. "+
				"Close one, or watch several sessions, up to %d, in one stream; one whose reader is gone is "+
				"noticed within half a minute.", h.streams[by.Token], h.Streams, MostSessions))
	case ofCentre >= most:
		return fault.New(fault.TooMany, "too_many_streams",
			fmt.Sprintf("The centre has %d streams open here, and may have %d. "+
				"Close one, or watch several sessions, up to %d, in one stream.", ofCentre,
				most, MostSessions))
	case h.count >= mostListeners && ofCentre >= keptOfCentre:
		return fault.New(fault.Unavailable, "unavailable",
			"This instance takes nobody in to watch at this moment. Try again shortly.")
	}
	return nil
}

func (h *Hub) checkCentreLimits(by actor.Actor) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.checkLimits(by)
}

// join adds a listener to the feed of its centre, from its own numbers on. It returns
// the last numbers that the feed has sent already: the listener catches up with the
// events between, and its queue holds the later ones.
func (h *Hub) join(l *Listener) (behind []int64, err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.checkLimits(l.who); err != nil {
		return nil, err
	}
	f, running := h.feeds[l.who.Centre]
	if running && f.epoch != l.epoch {
		h.dismissAll(f)
		running = false
	}
	if !running {
		f = newFeed(h, l.who.Centre, l.epoch)
		h.feeds[l.who.Centre] = f
	}
	h.count++
	h.streams[l.who.Token]++
	behind = f.admit(l)
	if !running {
		f.start()
	}
	return behind, nil
}

// end ends a listener, and the feed with the last listener of a centre. The lock is
// held.
func (h *Hub) end(l *Listener, why Reason) {
	f := h.feeds[l.who.Centre]
	if f == nil || !f.listeners[l] {
		return
	}
	h.count--
	if h.streams[l.who.Token]--; h.streams[l.who.Token] == 0 {
		delete(h.streams, l.who.Token)
	}
	l.why = why
	close(l.queue)
	if f.dismiss(l); len(f.listeners) == 0 {
		delete(h.feeds, l.who.Centre)
		f.stop()
	}
}

// dismissAll ends every listener of a feed whose epoch is over, and with them the
// feed. The lock is held.
func (h *Hub) dismissAll(f *feed) {
	for l := range f.listeners {
		h.end(l, Restored)
	}
}

// onlyCancelled reports whether an error is only the end of a wait.
func onlyCancelled(err error) bool { return errors.Is(err, context.Canceled) }
