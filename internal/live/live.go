// Package live tells those who watch what happens in sessions, while it
// happens: each event once and in the order in which it was committed, whichever
// instance of the service they are connected to.
//
// It owns the tables live_head and live_event, which the triggers of the
// migration fill, and the hub that reads them, fans out in memory and deletes
// what is too old for anybody who comes back. It must
// not know HTTP, nor what an event says: the words come from Options.
//
// Each instance asks the database ten times a second, once for each centre that
// somebody watches there, for what lies after the last numbers it saw. Numbers
// are given under the session's own lock and without a gap (see the migration),
// so nothing can be overlooked, and NOTIFY, which would cost every writer, is
// not needed.
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
	// how far behind a write a listener is at most, and half of it on average
	pollEvery   = 100 * time.Millisecond
	tendEvery   = time.Second     // how often standings are told, at most
	recheck     = 2 * time.Second // how long a revoked token still watches
	stalledFrom = 3 * time.Second // without the database, listeners are told
	pollTimeout = 5 * time.Second // for one question to the database

	mostMissed    = 1000 // events that are told after a reconnect; beyond, a snapshot is less to read
	mostQueued    = 512  // messages that wait for a slow listener before it is cut off
	mostListeners = 2000 // of one instance
	keptOfCentre  = 20   // that a centre may have however many others have

	keptFor   = 24 * time.Hour   // what a listener may have missed and is still told
	tidyEvery = 10 * time.Minute // how often what is older is deleted
	tidyMost  = 500              // events at once

	// CentreStreams is how many streams one centre may have open on an instance
	// where nothing else is set, our choice: those of ten tokens in full use.
	CentreStreams = 200

	// MostSessions is how many sessions one listener may watch.
	MostSessions = 20
)

// Event is something that happened in a session. Its row says what.
type Event struct {
	SessionID uuid.UUID
	Seq       int64 // 1, 2, 3 ... within the session
	Type      string
	RefID     uuid.UUID
	Detail    *string // what the row no longer says: the state that a session took on
	At        time.Time
}

// Options are what the hub works with.
type Options struct {
	DB *pg.DB
	// Tell writes events as listeners are told them, one text for each.
	Tell func(ctx context.Context, tx *pg.Tx, events []Event) ([][]byte, error)
	// Stand writes how each of the sessions stands; fault.Missing for one that
	// is not there.
	Stand func(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) ([]json.RawMessage, error)
	// Holders gives those of the tokens that are still good, with who holds them.
	Holders func(ctx context.Context, centre uuid.UUID, tokens []uuid.UUID) (map[uuid.UUID]actor.Actor, error)
	Streams int // that one token may have open here; positive
	// CentreStreams are those that one centre may have open here; 0 is 200.
	CentreStreams int
	Log           *slog.Logger
}

// Hub has the listeners of this instance. It runs no goroutine while there are
// none.
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

// pace is how often the hub does what.
type pace struct{ poll, tend, recheck, stalled, tidy time.Duration }

// New gives a hub.
func New(o Options) *Hub {
	return &Hub{Options: o, feeds: map[uuid.UUID]*feed{}, streams: map[uuid.UUID]int{},
		heard: map[uuid.UUID]bool{}, pace: pace{pollEvery, tendEvery, recheck, stalledFrom, tidyEvery}}
}

// Stop ends every listener, and waits until the hub is still. Nobody is let in
// afterwards.
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

// Wish is what somebody wants to watch.
type Wish struct {
	Sessions []uuid.UUID
	After    string      // the position that an earlier stream came to; "" for none
	Scope    actor.Scope // that the caller's token must go on to carry
}

// mayWatch lets staff and programs watch, as they may read all of a session's
// training. A student reads the own.
func mayWatch(who actor.Actor) error {
	if who.Staff() || who.IsProgram() {
		return nil
	}
	return fault.MissingRole("the crew and managers; a student reads the own progress")
}

// Listen begins to watch for the caller. The listener is to be closed. Faults:
// MissingRole for a student; TooMany for a token or a centre that has as many
// streams open as it may; Missing for a session that is not there; Unavailable when the instance
// stops or is full.
func (h *Hub) Listen(ctx context.Context, w Wish) (*Listener, error) {
	who := actor.From(ctx)
	if err := mayWatch(who); err != nil {
		return nil, err
	}
	l := newListener(h, who, w)
	if err := h.roomFor(who); err != nil {
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

// room reports whether one more listener is let in by a token. The lock is held.
func (h *Hub) room(who actor.Actor) error {
	ofCentre := 0
	if f := h.feeds[who.Centre]; f != nil {
		ofCentre = len(f.listeners)
	}
	switch most := cmp.Or(h.CentreStreams, CentreStreams); {
	case h.stopped:
		return fault.New(fault.Unavailable, "unavailable",
			"This instance takes nobody in to watch at this moment. Try again shortly.")
	case h.streams[who.Token] >= h.Streams:
		return fault.New(fault.TooMany, "too_many_streams",
			fmt.Sprintf("This token has %d streams open here, and may have %d. "+
				"Close one, or watch several sessions, up to %d, in one stream; one whose reader is gone is "+
				"noticed within half a minute.", h.streams[who.Token], h.Streams, MostSessions))
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

func (h *Hub) roomFor(who actor.Actor) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.room(who)
}

// join lets a listener in that has come as far as its positions say. It gives
// how far the feed has told the others already: what lies between is for the
// listener to catch up with, and what comes after waits in its queue.
func (h *Hub) join(l *Listener) (behind []int64, err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.room(l.who); err != nil {
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

// end lets a listener go, and with the last one of a centre the feed. The lock
// is held.
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

// dismissAll lets everybody of a feed go who watches an epoch that is over, and
// with them the feed. The lock is held.
func (h *Hub) dismissAll(f *feed) {
	for l := range f.listeners {
		h.end(l, Restored)
	}
}

// program is who the hub reads as: a program of the centre.
func program(ctx context.Context, centre uuid.UUID) context.Context {
	return actor.In(ctx, actor.Actor{Centre: centre, Program: "live view",
		Roles: []actor.Role{actor.Program}})
}

// ended tells an error that only says that somebody stopped waiting.
func ended(err error) bool { return errors.Is(err, context.Canceled) }
