package live

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
)

// What says what a message is about.
type What int

// What a listener is told.
const (
	Quiet    What = iota // nothing for a while: the connection is alive, and so is the feed
	Happened             // one event; Text has it
	Snapshot             // how all sessions stand; what was known before is to be forgotten
	Standing             // how the sessions stand to which something happened
	Stalled              // the feed cannot be read since At
)

// Message is one thing to tell a listener.
type Message struct {
	What     What
	Position string // how far the stream has come; "" where it does not move
	Text     []byte
	Sessions []json.RawMessage
	At       time.Time // of what Sessions say, by the centre's clock; of Stalled by the real one

	session uuid.UUID
	seq     int64
}

// Reason says why a listener was let go.
type Reason string

// Why a listener is let go.
const (
	Left       Reason = "left"        // closed it itself
	TooSlow    Reason = "too_slow"    // did not read what it was told
	TokenEnded Reason = "token_ended" // revoked or expired
	NoRight    Reason = "no_right"    // the scope or the role is gone
	Stopping   Reason = "stopping"    // the instance stops
	Restored   Reason = "restored"    // the database is another one; its numbers begin anew
)

// Listener is somebody who watches. Next is for one goroutine, Close for any.
type Listener struct {
	hub      *Hub
	who      actor.Actor
	scope    actor.Scope
	sessions []uuid.UUID // ascending
	epoch    string      // of the numbers
	opened   []int64     // the last number of each session when it was opened
	at       []int64     // the number that was delivered last, of each session
	first    []Message   // before what is in the queue
	queue    chan Message

	// Guarded by the hub's lock.
	asked bool   // whether its token was asked for at least once
	why   Reason // once the queue is closed
}

func newListener(h *Hub, who actor.Actor, w Wish) *Listener {
	sessions := slices.SortedFunc(slices.Values(w.Sessions),
		func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	sessions = slices.Compact(sessions)
	return &Listener{hub: h, who: who, scope: w.Scope, sessions: sessions,
		queue: make(chan Message, mostQueued)}
}

// Close lets the listener go. Again does no harm.
func (l *Listener) Close() {
	l.hub.mu.Lock()
	defer l.hub.mu.Unlock()
	l.hub.end(l, Left)
}

// Next waits for the next message, at most so long: then it is Quiet. more is
// false when the listener was let go, and why says why. The error is ctx's.
func (l *Listener) Next(ctx context.Context,
	patience time.Duration) (m Message, more bool, why Reason, err error) {
	if len(l.first) > 0 {
		m, l.first = l.first[0], l.first[1:]
		return l.moved(m), true, "", nil
	}
	quiet := time.NewTimer(patience)
	defer quiet.Stop()
	for {
		select {
		case <-ctx.Done():
			return m, false, Left, ctx.Err()
		case <-quiet.C:
			return Message{What: Quiet}, true, "", nil
		case m, more = <-l.queue:
		}
		switch {
		case !more:
			return m, false, l.ended(), nil
		case m.What == Happened && m.seq <= l.at[l.index(m.session)]:
			continue // was delivered before it came out of the queue
		}
		return l.moved(m), true, "", nil
	}
}

func (l *Listener) ended() Reason {
	l.hub.mu.Lock()
	defer l.hub.mu.Unlock()
	return l.why
}

func (l *Listener) index(session uuid.UUID) int {
	i, _ := slices.BinarySearchFunc(l.sessions, session,
		func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	return i
}

// moved notes how far the stream comes with a message.
func (l *Listener) moved(m Message) Message {
	switch m.What {
	case Happened:
		l.at[l.index(m.session)] = m.seq
		m.Position = position(l.epoch, l.sessions, l.at)
	case Snapshot:
		m.Position = position(l.epoch, l.sessions, l.at)
	}
	return m
}

// send puts a message into a listener's queue, and lets it go when the queue is
// full. The lock is held.
func (h *Hub) send(l *Listener, m Message) {
	select {
	case l.queue <- m:
	default:
		h.end(l, TooSlow)
	}
}
