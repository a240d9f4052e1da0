package httpapi

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"time"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/finding"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/gate"
	"tankside/internal/live"
)

// How a stream is kept up, our choice.
const (
	quietAfter    = 15 * time.Second // a comment comes when nothing else did
	writePatience = 10 * time.Second // for a reader that takes nothing any more
	retryFrom     = 1000             // milliseconds after which a reader comes back, and as much again by chance:
	retrySpread   = 2000             // when an instance stops, not all of its readers come at once
)

// liveHandlers serves the live view.
type liveHandlers struct {
	hub      *live.Hub
	gate     *gate.Gate
	quiet    time.Duration // after which a comment is sent
	withheld *answer.Withheld
}

// WatchSessions implements GET /v1/live.
func (h liveHandlers) WatchSessions(ctx context.Context,
	r api.WatchSessionsRequestObject) (api.WatchSessionsResponseObject, error) {
	if n := len(r.Params.SessionID); n > live.MostSessions { // the validator does not count the items of a query
		f := contract.InvalidValue.Say("One stream watches at most {most} sessions, not {sessions}. Open another for the rest.", live.MostSessions, n)
		f.In, f.Pointer = "query", "session_id"
		return nil, contract.Breach(finding.List{f})
	}
	opening, cancel := h.gate.InTime(ctx)
	defer cancel()
	l, err := h.hub.Listen(opening, callerOf(opening),
		live.Subscription{Sessions: r.Params.SessionID, Scope: access.TrainingRead,
			After: given(r.Params.LastEventID, given(r.Params.After, ""))})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, l.Close) // whatever becomes of the answer
	out := stream{ctx: ctx, listener: l, quiet: cmp.Or(h.quiet, quietAfter)}
	if answer.WithheldFrom(ctx) {
		out.withheld = h.withheld
	}
	return out, nil
}

// stream is an answer of server-sent events (WHATWG HTML, section 9.2). What
// the contract's generator writes for one neither lives beyond the server's
// time-outs nor notices a reader who takes nothing any more.
type stream struct {
	ctx      context.Context
	listener *live.Listener
	quiet    time.Duration
	withheld *answer.Withheld // of a program that may not read papers; else nil
}

// VisitWatchSessionsResponse writes events until the reader leaves, which is no
// error, or is let go.
func (s stream) VisitWatchSessionsResponse(w http.ResponseWriter) error {
	defer s.listener.Close()
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no") // asks a proxy that knows it not to gather the stream
	control := http.NewResponseController(w)
	// The server's time-out for reading a request would end it. Who cannot set
	// one is no server.
	_ = control.SetReadDeadline(time.Time{})
	_ = s.write(w, control)
	return nil
}

func (s stream) write(w http.ResponseWriter, control *http.ResponseController) error {
	_ = control.SetWriteDeadline(time.Now().Add(writePatience))
	if _, err := fmt.Fprintf(w, "retry: %d\n\n", retryFrom+rand.IntN(retrySpread)); err != nil {
		return err
	}
	for {
		m, more, why, err := s.listener.Next(s.ctx, s.quiet)
		if err != nil {
			return err
		}
		_ = control.SetWriteDeadline(time.Now().Add(writePatience))
		if !more {
			return errors.Join(writeClosing(w, why), control.Flush())
		}
		if s.withheld != nil {
			if m, err = s.withheld.Message(m); err != nil {
				return err
			}
		}
		if err := writeMessage(w, m); err != nil {
			return err
		}
		if err := control.Flush(); err != nil {
			return err
		}
	}
}

// writeMessage writes one message as an event or a comment.
func writeMessage(w io.Writer, m live.Message) error {
	switch m.What {
	case live.Happened:
		return writeEvent(w, m.Position, m.Text)
	case live.Snapshot, live.Standing:
		name := "standing"
		if m.What == live.Snapshot {
			name = "snapshot"
		}
		return writeNotice(w, m.Position, name, m.At, map[string]any{"sessions": m.Sessions})
	case live.Stalled:
		return writeNotice(w, "", "stalled", time.Now(), api.LiveStalled{ReadAt: m.At.UTC()})
	}
	_, err := io.WriteString(w, ": nothing new\n\n")
	return err
}

// closings say to people why a stream ends.
var closings = map[live.Reason]string{
	live.TokenEnded: "The token was revoked or has expired. Ask a manager for a new one.",
	live.NoRight:    "The token may no longer watch: its scope or the role is gone.",
	live.TooSlow:    "Too much waited to be read. Reconnect; what was missed is told.",
	live.Restored:   "The database was restored from a backup or moved. Reconnect; the stream begins again with how the sessions stand.",
	live.Stopping:   "This instance of the service stops. Reconnect; what was missed is told.",
}

func writeClosing(w io.Writer, why live.Reason) error {
	return writeNotice(w, "", "closing", time.Now(),
		api.LiveClosing{Reason: string(why), Message: closings[why]})
}

// writeNotice writes what is no event of a session.
func writeNotice(w io.Writer, position, name string, at time.Time, data any) error {
	text, err := json.Marshal(api.LiveEvent{ID: orNull[string](nil), Type: name, At: at.UTC(),
		SessionID: orNull[api.ID](nil),
		Resource:  orNull[api.LiveResource](nil), Data: orNull(&data)})
	if err != nil {
		return err
	}
	return writeEvent(w, position, text)
}

// writeEvent writes an event. JSON has no line break of its own.
func writeEvent(w io.Writer, position string, data []byte) error {
	if position != "" {
		if _, err := fmt.Fprintf(w, "id: %s\n", position); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "data: %s\n\n", data)
	return err
}
