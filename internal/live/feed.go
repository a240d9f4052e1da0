package live

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/permission"
)

// feed serves the listeners of one centre. While it has any, it runs two goroutines:
// one polls, and one does the work that may take longer. The hub's lock guards its
// fields.
type feed struct {
	hub       *Hub
	centre    uuid.UUID
	epoch     string // of the numbers; a database in another epoch has another feed
	listeners map[*Listener]bool
	watched   map[uuid.UUID]*watched
	ctx       context.Context
	stop      context.CancelFunc
	lastRead  time.Time // when the database was last read
	stalled   bool      // listeners know that the database cannot be read
}

// watched is a session with at least one listener.
type watched struct {
	last      int64 // the last number that listeners received
	listeners map[*Listener]bool
	changed   bool // since its standing was last sent
}

func newFeed(h *Hub, centre uuid.UUID, epoch string) *feed {
	f := &feed{hub: h, centre: centre, epoch: epoch, listeners: map[*Listener]bool{},
		watched: map[uuid.UUID]*watched{}, lastRead: time.Now()}
	f.ctx, f.stop = context.WithCancel(context.Background())
	return f
}

func (f *feed) start() {
	f.hub.watchers.Go(func() { f.every(f.hub.pace.poll, f.poll) })
	f.hub.watchers.Go(func() {
		looked := time.Now()
		f.every(f.hub.pace.tend, func() {
			f.stand()
			if time.Since(looked) >= f.hub.pace.recheck {
				looked = time.Now()
				f.recheck()
			}
		})
	})
}

// every calls do at intervals until the feed is stopped.
func (f *feed) every(pause time.Duration, do func()) {
	tick := time.NewTicker(pause)
	defer tick.Stop()
	for {
		select {
		case <-f.ctx.Done():
			return
		case <-tick.C:
			do()
		}
	}
}

// admit adds a listener, and returns the last number that was sent of each of its
// sessions. The lock is held.
func (f *feed) admit(l *Listener) []int64 {
	f.listeners[l] = true
	told := make([]int64, len(l.sessions))
	for i, id := range l.sessions {
		w := f.watched[id]
		if w == nil {
			w = &watched{last: l.opened[i], listeners: map[*Listener]bool{}}
			f.watched[id] = w
		}
		w.listeners[l] = true
		told[i] = w.last
	}
	return told
}

// dismiss removes a listener. The lock is held.
func (f *feed) dismiss(l *Listener) {
	delete(f.listeners, l)
	for _, id := range l.sessions {
		w := f.watched[id]
		if delete(w.listeners, l); len(w.listeners) == 0 {
			delete(f.watched, id)
		}
	}
}

// poll reads the new events and sends them.
func (f *feed) poll() {
	ctx, cancel := context.WithTimeout(f.ctx, pollTimeout)
	defer cancel()
	for {
		sessions, after := f.reached()
		events, texts, err := f.hub.read(ctx, f.centre, f.epoch, sessions, after, nil)
		if errors.Is(err, errRestored) {
			f.restored()
			return
		}
		if f.reading(err); err != nil {
			return
		}
		f.behind(sessions, after, events)
		f.tell(events, texts)
		if len(events) < mostMissed {
			return
		}
	}
}

// restored ends every listener: their numbers mean nothing in the database as it is
// now. They reconnect to a snapshot.
func (f *feed) restored() {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	f.hub.dismissAll(f)
}

// reached returns the last number that was sent of each session.
func (f *feed) reached() (sessions []uuid.UUID, after []int64) {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	sessions = slices.Collect(maps.Keys(f.watched))
	for _, id := range sessions {
		after = append(after, f.watched[id].last)
	}
	return sessions, after
}

// behind ends the listeners of a session whose next event to send has been deleted:
// the instance stood still for longer than events are kept. They reconnect to a
// snapshot.
func (f *feed) behind(sessions []uuid.UUID, after []int64, events []Event) {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	for i, id := range sessions {
		next := slices.IndexFunc(events, func(e Event) bool { return e.SessionID == id })
		w := f.watched[id]
		if w == nil || next < 0 || w.last != after[i] || events[next].Seq == after[i]+1 {
			continue
		}
		for l := range w.listeners {
			f.hub.end(l, TooSlow)
		}
	}
}

// tell sends events. An event that does not follow the last one sent is left for the
// next poll: every listener left the session and another one came meanwhile.
func (f *feed) tell(events []Event, texts [][]byte) {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	for i, e := range events {
		w := f.watched[e.SessionID]
		if w == nil || e.Seq != w.last+1 {
			continue
		}
		w.last, w.changed = e.Seq, true
		for l := range w.listeners {
			f.hub.send(l, Message{What: Happened, session: e.SessionID, seq: e.Seq, Text: texts[i]})
		}
	}
}

// reading notes whether the database could be read. After a while without it,
// listeners are told once that what they see may be outdated.
func (f *feed) reading(err error) {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	switch {
	case err == nil && f.stalled:
		f.stalled = false
		for _, w := range f.watched {
			w.changed = true // the standing shows that the feed goes on
		}
		fallthrough
	case err == nil:
		f.lastRead = time.Now()
	case onlyCancelled(err) || f.ctx.Err() != nil:
	case !f.stalled && time.Since(f.lastRead) >= f.hub.pace.stalled:
		f.stalled = true
		f.hub.Log.Error("the live view cannot read", "error", err.Error())
		for l := range f.listeners {
			f.hub.send(l, Message{What: Stalled, At: f.lastRead})
		}
	}
}

// stand sends how the sessions stand that changed.
func (f *feed) stand() {
	changed := f.changed()
	if len(changed) == 0 {
		return
	}
	ctx, cancel := context.WithTimeout(f.ctx, pollTimeout)
	defer cancel()
	standing, now, err := f.hub.stand(ctx, f.centre, changed)
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	if err != nil && !onlyCancelled(err) && !f.stalled { // stalled listeners know it already
		f.hub.Log.Error("the live view cannot read how sessions stand", "error", err.Error())
	}
	for i, id := range changed {
		w := f.watched[id]
		switch {
		case w == nil:
		case err != nil:
			w.changed = true
		default:
			for l := range w.listeners {
				f.hub.send(l, Message{What: Standing, Sessions: []json.RawMessage{standing[i]}, At: now})
			}
		}
	}
}

// changed returns the sessions whose standing is due.
func (f *feed) changed() (out []uuid.UUID) {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	for id, w := range f.watched {
		if w.changed {
			w.changed = false
			out = append(out, id)
		}
	}
	return out
}

// recheck ends the listeners whose token is no longer valid, or may no longer watch.
func (f *feed) recheck() {
	ctx, cancel := context.WithTimeout(f.ctx, pollTimeout)
	defer cancel()
	holders, err := f.hub.Holders(ctx, f.centre, f.tokens())
	if err != nil {
		if !onlyCancelled(err) {
			f.hub.Log.Error("the live view cannot look at tokens again", "error", err.Error())
		}
		return
	}
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	for l := range f.listeners {
		who, good := holders[l.who.Token]
		switch {
		case !l.asked: // it joined meanwhile
		case !good:
			f.hub.end(l, TokenEnded)
		case !who.May(l.scope) || permission.Of("watchSessions", who) == permission.None:
			f.hub.end(l, NoRight)
		}
	}
}

// tokens returns the tokens of all listeners.
func (f *feed) tokens() []uuid.UUID {
	f.hub.mu.Lock()
	defer f.hub.mu.Unlock()
	all := map[uuid.UUID]bool{}
	for l := range f.listeners {
		l.asked = true
		all[l.who.Token] = true
	}
	return slices.Collect(maps.Keys(all))
}
