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

// MessageKind is the kind of a message.
type MessageKind int

// The kinds of messages.
const (
	Quiet    MessageKind = iota // nothing for a while: the connection and the feed work
	Happened                    // one event; Text has it
	Snapshot                    // how all sessions stand; it replaces what was sent before
	Standing                    // how the changed sessions stand
	Stalled                     // the feed has not been readable since At
)

// Message is one message to a listener.
type Message struct {
	What     MessageKind
	Position string // the position of the stream; "" where it does not move
	Text     []byte
	Sessions []json.RawMessage
	At       time.Time // of Sessions, by the centre's clock; of Stalled by the real clock

	session uuid.UUID
	seq     int64
}

// Reason is why a listener was ended.
type Reason string

// The reasons.
const (
	Left       Reason = "left"        // it was closed by its owner
	TooSlow    Reason = "too_slow"    // it did not read its messages in time
	TokenEnded Reason = "token_ended" // revoked or expired
	NoRight    Reason = "no_right"    // the scope or the role is gone
	Stopping   Reason = "stopping"    // the instance stops
	Restored   Reason = "restored"    // the database is another one; its numbers begin again
)

// Listener is one watcher of sessions. Next is for one goroutine, Close for any.
type Listener struct {
	hub      *Hub
	who      actor.Actor
	scope    actor.Scope
	sessions []uuid.UUID // ascending
	epoch    string      // of the numbers
	opened   []int64     // the last number of each session when the listener was opened
	at       []int64     // the last number that was delivered, of each session
	first    []Message   // the messages before those in the queue
	queue    chan Message

	// The hub's lock guards these.
	asked bool   // whether its token has been rechecked at least once
	why   Reason // once the queue is closed
}

func newListener(h *Hub, by actor.Actor, w Subscription) *Listener {
	sessions := slices.SortedFunc(slices.Values(w.Sessions),
		func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	sessions = slices.Compact(sessions)
	return &Listener{hub: h, who: by, scope: w.Scope, sessions: sessions,
		queue: make(chan Message, mostQueued)}
}

// Close ends the listener. Closing it again changes nothing.
func (l *Listener) Close() {
	l.hub.mu.Lock()
	defer l.hub.mu.Unlock()
	l.hub.end(l, Left)
}

// Next waits for the next message, or returns Quiet after the given time. more is
// false when the listener was ended, and why is the reason. The error is ctx's.
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
			continue // it was delivered before it came out of the queue
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

// moved updates the listener's numbers by a message, and sets the position in it.
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

// send puts a message into a listener's queue, and ends a listener whose queue is
// full. The lock is held.
func (h *Hub) send(l *Listener, m Message) {
	select {
	case l.queue <- m:
	default:
		h.end(l, TooSlow)
	}
}
