package live

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
)

// eventsSQL reads the events of sessions after the numbers @after, and up to @until
// where that is given. The limit inside makes it one index lookup for each session,
// however many events the centre has: a plain join read all of them ten times a
// second.
const eventsSQL = `SELECT e.session_id, e.seq, e.type, e.ref_id, e.detail, e.at
	FROM unnest(@sessions::uuid[], @after::bigint[], @until::bigint[]) w (session_id, after, until)
	CROSS JOIN LATERAL (SELECT e.session_id, e.seq, e.type, e.ref_id, e.detail, e.at FROM live_event e
		WHERE e.centre_id = app_centre() AND e.session_id = w.session_id AND e.seq > w.after
			AND (w.until IS NULL OR e.seq <= w.until)
		ORDER BY e.seq LIMIT @most) e
	ORDER BY e.session_id, e.seq LIMIT @most`

func eventsArgs(sessions []uuid.UUID, after, until []int64) pgx.StrictNamedArgs {
	return pgx.StrictNamedArgs{"sessions": sessions, "after": after, "until": until, "most": mostMissed}
}

// errRestored is the fault for numbers of an epoch in which the database is no
// longer.
var errRestored = fault.New(fault.Unavailable, "unavailable",
	"The database was restored or moved at this moment. Connect again.")

// read returns events with their texts, after numbers of an epoch. Most polls find
// none, in one round trip.
func (h *Hub) read(ctx context.Context, centre uuid.UUID, epoch string, sessions []uuid.UUID, after,
	until []int64) (events []Event, texts [][]byte, err error) {
	var now string
	err = h.DB.ReadBatch(ctx, centre, func(b *pgx.Batch) {
		pg.QueueEpoch(b, &now)
		pg.QueueRows(b, &events, eventsSQL, eventsArgs(sessions, after, until))
	})
	switch {
	case err != nil:
		return nil, nil, err
	case now != epoch:
		return nil, nil, errRestored
	case len(events) == 0:
		return nil, nil, nil
	}
	err = h.DB.Snapshot(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		texts, err = h.tell(ctx, tx, events)
		return err
	})
	return events, texts, err
}

// tell returns the texts of events, read in the hub's own name.
func (h *Hub) tell(ctx context.Context, tx *pg.Tx, events []Event) ([][]byte, error) {
	texts, err := h.Tell(ctx, tx, events)
	if err == nil && len(texts) != len(events) {
		err = fmt.Errorf("live: %d texts for %d events", len(texts), len(events))
	}
	return texts, err
}

// stand returns how sessions stand.
func (h *Hub) stand(ctx context.Context, centre uuid.UUID,
	sessions []uuid.UUID) (standing []json.RawMessage, now time.Time, err error) {
	err = h.DB.Snapshot(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		now = tx.Now
		standing, err = h.Stand(ctx, tx, sessions)
		return err
	})
	return standing, now, err
}

// open reads, as of one moment, the first messages of a listener: the events since
// its position, and how its sessions stand now. It is a snapshot instead where the
// position is unknown, where an event since was deleted, or where a snapshot is less
// to read.
func (h *Hub) open(ctx context.Context, l *Listener, after string) error {
	return h.DB.Snapshot(ctx, l.who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		l.first = nil
		heads, err := headsOf(ctx, tx, l.sessions)
		if err != nil {
			return err
		}
		if l.epoch, err = pg.Epoch(ctx, tx); err != nil {
			return err
		}
		from, known := positionOf(after, l.epoch, l.sessions)
		first := Snapshot
		if known && resumable(from, heads) {
			all, err := h.missed(ctx, tx, l, from, heads)
			if err != nil {
				return err
			}
			if all {
				first = Standing
			}
		}
		standing, err := h.Stand(ctx, tx, l.sessions)
		if err != nil {
			return err
		}
		if l.opened, l.at = heads, slices.Clone(heads); first == Standing {
			l.at = from // moves with the events sent
		}
		l.first = append(l.first, Message{What: first, Sessions: standing, At: tx.Now})
		return nil
	})
}

// headsOf returns the last number of each session, 0 where nothing happened yet.
func headsOf(ctx context.Context, tx *pg.Tx, sessions []uuid.UUID) ([]int64, error) {
	return pg.Rows[int64](ctx, tx, `SELECT coalesce(h.seq, 0)
		FROM unnest(@sessions::uuid[]) WITH ORDINALITY w (session_id, n)
		LEFT JOIN live_head h ON h.centre_id = app_centre() AND h.session_id = w.session_id
		ORDER BY w.n`, pgx.StrictNamedArgs{"sessions": sessions})
}

// resumable reports whether a stream can go on from some numbers: none of them is
// ahead of the session, and not too many events were missed.
func resumable(from, heads []int64) bool {
	for i, n := range from {
		if n > heads[i] {
			return false
		}
	}
	return between(from, heads) < mostMissed
}

// missed adds the events between two positions to the first messages. It returns
// false if some of them were deleted.
func (h *Hub) missed(ctx context.Context, tx *pg.Tx, l *Listener, from, to []int64) (all bool, err error) {
	events, err := pg.Rows[Event](ctx, tx, eventsSQL, eventsArgs(l.sessions, from, to))
	if err != nil || int64(len(events)) < between(from, to) {
		return false, err
	}
	texts, err := h.tell(ctx, tx, events)
	if err != nil {
		return false, err
	}
	l.first = append(l.first, happened(events, texts)...)
	return true, nil
}

// between returns the number of events between two positions.
func between(from, to []int64) (n int64) {
	for i := range from {
		n += to[i] - from[i]
	}
	return n
}

func happened(events []Event, texts [][]byte) []Message {
	out := make([]Message, len(events))
	for i, e := range events {
		out[i] = Message{What: Happened, session: e.SessionID, seq: e.Seq, Text: texts[i]}
	}
	return out
}

// catchUp reads the events that the feed sent to others after the listener was
// opened and before it joined.
func (h *Hub) catchUp(ctx context.Context, l *Listener, told []int64) error {
	ahead := false
	for i := range told {
		ahead = ahead || told[i] > l.opened[i]
	}
	if !ahead {
		return nil
	}
	events, texts, err := h.read(ctx, l.who.Centre, l.epoch, l.sessions, l.opened, told)
	l.first = append(l.first, happened(events, texts)...)
	return err
}
