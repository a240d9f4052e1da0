package offline

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
)

// Malformed is the kind of an entry from the water of which it cannot be told
// what kind it is.
const Malformed journal.Kind = "malformed"

// Batch is what a device kept without coverage, as it sends it.
type Batch struct {
	Device  string
	SentAt  time.Time           // by the device's clock
	Clocks  map[uuid.UUID]int64 // what its monotonic clocks read then, in milliseconds
	Entries []BatchEntry
}

// BatchEntry is one entry of a batch. It names one of session, dive and outing, as its
// kind asks.
type BatchEntry struct {
	EntryID   uuid.UUID
	Kind      journal.Kind
	SessionID *uuid.UUID
	DiveID    *uuid.UUID
	OutingID  *uuid.UUID
	SignedAt  *time.Time
	Ticks     *journal.Ticks  // of a monotonic clock when it was witnessed; no part of what it says
	Body      json.RawMessage // as the device sent it, a JSON object
	Received  []byte          // as it came, byte for byte
	Unread    []byte          // the bytes of an entry that is no entry of the contract; nil for every other
	Item      journal.Item    // what it says, of the kind's type; nil where Refusal says why it cannot be read
	Refusal   *fault.Fault
}

// row returns the id of the row that keeps the entry: of its id and of what it
// says, in the device's times, so that it is the same whichever batch brings it.
// What cannot be read is known by its bytes.
func (e BatchEntry) row() uuid.UUID {
	if e.Unread != nil {
		sum := sha256.Sum256(e.Unread)
		return uuid.NewSHA1(e.EntryID, sum[:])
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %v %v %v %v\n%s", e.Kind, e.SessionID, e.DiveID, e.OutingID,
		utcText(e.SignedAt), e.Body))
	return uuid.NewSHA1(e.EntryID, sum[:])
}

func utcText(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// BatchResult is what became of a batch.
type BatchResult struct {
	ReceivedAt time.Time
	Correction time.Duration // of the device's clock
	Results    []journal.Result
}

// Send takes a batch from the water. The whole of it is kept first, each entry once,
// whoever sends it again, with what it may wait for. Then its entries are judged, and
// before its sign-offs whatever else is held of their sessions. What waits still, and
// what waits elsewhere for something that the batch brought, is judged in the background.
func (s *Service) Send(ctx context.Context, by actor.Actor, b Batch) (out BatchResult, err error) {
	kept, err := s.receive(ctx, by, b)
	if err != nil {
		return out, err
	}
	var rows []Held
	fresh, err := s.judgeParts(ctx, by, partsOf(kept.places),
		func(b *pgx.Batch) { queueOutcome(b, kept, &rows) })
	if err != nil {
		return out, err
	}
	out.ReceivedAt, out.Correction = kept.at, journal.Correct(b.SentAt, kept.at)
	out.Results, err = resultsOf(kept.ids, rows, fresh)
	return out, err
}

// keptBatch is what is to be judged of a batch that was received.
type keptBatch struct {
	at     time.Time   // when it was received
	id     *uuid.UUID  // nil where nothing of it was new
	ids    []uuid.UUID // of the rows of its entries, in its order
	places []placed    // of those that are held, and of what else is held of sessions that it brings sign-offs of
}

// received is a row of water_entry as it is written.
type received struct {
	ID          uuid.UUID       `json:"id"`
	EntryID     uuid.UUID       `json:"entry_id"`
	Kind        journal.Kind    `json:"kind"`
	SessionID   *uuid.UUID      `json:"session_id"`
	DiveID      *uuid.UUID      `json:"dive_id"`
	OutingID    *uuid.UUID      `json:"outing_id"`
	EnrolmentID *uuid.UUID      `json:"enrolment_id"`
	Body        json.RawMessage `json:"body"`
	Item        *stored         `json:"item"`
	Form        int             `json:"form"`
	DeviceAt    *time.Time      `json:"device_at"`
	State       string          `json:"state"`
	Problem     *problem        `json:"problem"`
	Sent        []byte          `json:"sent"`     // base64 in JSON
	Received    []byte          `json:"received"` // base64 in JSON
	CorrectionS *int64          `json:"correction_s"`
	ClockID     *uuid.UUID      `json:"clock_id"`
	TicksMS     *int64          `json:"ticks_ms"`
	ElapsedMS   *int64          `json:"elapsed_ms"`
	Doubt       *journal.Doubt  `json:"doubt"`
}

// time writes how the time of an entry is found that carries a reading of a
// monotonic clock. Of every other its batch says it.
func (r *received) time(e BatchEntry, device string, sending journal.Sending) {
	if e.Ticks == nil {
		return
	}
	if r.DeviceAt == nil { // what it says cannot be read, and has no time
		r.ClockID, r.TicksMS = &e.Ticks.Clock, &e.Ticks.MS
		return
	}
	t := journal.TimingOf(device, *r.DeviceAt, e.Ticks, sending)
	r.CorrectionS, r.ClockID, r.TicksMS, r.ElapsedMS, r.Doubt = &t.CorrectionS, t.ClockID, t.TicksMS, t.ElapsedMS, t.Doubt
}

// insertReceived keeps entries. One that was refused or expired before is taken again:
// its sender may have been given the permission, its clock put right, or what it waits
// for may have come.
const insertReceived = `INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, dive_id, outing_id,
		enrolment_id, body, item, form, device_at, state, problem, sent, received,
		correction_s, clock_id, ticks_ms, elapsed_ms, doubt)
	SELECT app_centre(), x.id, x.entry_id, @batch, x.kind, x.session_id, x.dive_id, x.outing_id,
		x.enrolment_id, x.body, x.item, x.form, x.device_at, x.state, x.problem, decode(x.sent, 'base64'),
		decode(x.received, 'base64'), x.correction_s, x.clock_id, x.ticks_ms, x.elapsed_ms, x.doubt
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, entry_id uuid, kind text, session_id uuid, dive_id uuid,
		outing_id uuid, enrolment_id uuid, body jsonb, item jsonb, form smallint, device_at timestamptz,
		state text, problem jsonb, sent text, received text, correction_s bigint, clock_id uuid,
		ticks_ms bigint, elapsed_ms bigint, doubt text)
	ORDER BY x.id
	ON CONFLICT (centre_id, id) DO UPDATE
	SET batch_id = excluded.batch_id, item = excluded.item, form = excluded.form, state = excluded.state,
		problem = excluded.problem, received = excluded.received, correction_s = excluded.correction_s,
		clock_id = excluded.clock_id, ticks_ms = excluded.ticks_ms, elapsed_ms = excluded.elapsed_ms,
		doubt = excluded.doubt
	WHERE water_entry.state IN ('refused', 'expired')`

const insertBatch = `INSERT INTO water_batch (centre_id, id, device, sent_at, received_at, correction_s, person_id, program, token_id, roles, scopes)
	VALUES (app_centre(), @id, @device, @sent, @now, @correction, @person, @program, @token, @roles, @scopes)`

// receive keeps what is new of a batch, and reads what is to be judged then, in two
// round trips.
func (s *Service) receive(ctx context.Context, by actor.Actor, b Batch) (out keptBatch, err error) {
	var settled, others []uuid.UUID
	var waiting []waitingNow
	signs := signedIn(b)
	for _, e := range b.Entries {
		out.ids = append(out.ids, e.row())
	}
	err = s.db.InTxWith(ctx, by.Centre, func(q *pgx.Batch) {
		pg.QueueRows(q, &settled, settledSQL, pgx.StrictNamedArgs{"ids": out.ids})
		pg.QueueRows(q, &waiting, waitingSQL, pgx.StrictNamedArgs{"token": by.Token})
	}, func(_ context.Context, tx *pg.Tx) error {
		rows := toReceive(s.kinds, by, b, tx.Now)
		for _, id := range settled {
			delete(rows, id)
		}
		var send pgx.Batch
		out.at, out.id = tx.Now, nil
		if len(rows) > 0 {
			if err := s.bounds.roomFor(waiting[0], len(rows)); err != nil {
				return err
			}
			out.id = new(uuid.Must(uuid.NewV7()))
			if err := queueReceived(&send, by, *out.id, b, rows, tx.Now); err != nil {
				return err
			}
		}
		if len(signs) > 0 {
			pg.QueueRows(&send, &others, heldForSessions,
				pgx.StrictNamedArgs{"ids": signs, "most": mostBeforeGate})
		}
		pg.QueueRows(&send, &out.places, placesSQL, pgx.StrictNamedArgs{"ids": out.ids})
		tx.SendLater(&send)
		return nil
	})
	if err != nil {
		return out, err
	}
	more, err := s.placesOf(ctx, by, without(others, out.ids))
	out.places = append(out.places, more...)
	return out, err
}

// settledSQL selects those of the entries that were received before, and that sending
// again does not change.
const settledSQL = `SELECT t.id
	FROM unnest(@ids::uuid[]) x (id)
	CROSS JOIN LATERAL (
		SELECT w.id, w.state
		FROM water_entry w
		WHERE w.centre_id = app_centre() AND w.id BETWEEN x.id AND x.id
		ORDER BY w.id LIMIT 1) t
	WHERE t.state NOT IN ('refused', 'expired')`

// queueReceived adds to a batch of statements what keeps entries, and what they wait for.
func queueReceived(send *pgx.Batch, by actor.Actor, id uuid.UUID, b Batch, rows map[uuid.UUID]received,
	now time.Time) error {
	fresh, waits := make([]received, 0, len(rows)), []wait{}
	for _, r := range rows {
		fresh = append(fresh, r)
		if r.State == "held" {
			waits = append(waits, waitsOf(r, r.Item.item, by)...)
		}
	}
	text, err := json.Marshal(fresh)
	if err != nil {
		return fmt.Errorf("receive batch: %w", err)
	}
	send.Queue(insertBatch, pgx.StrictNamedArgs{"id": id, "device": b.Device, "sent": b.SentAt,
		"now": now, "correction": int64(journal.Correct(b.SentAt, now) / time.Second),
		"person": personOrNull(by), "program": by.Program, "token": by.Token,
		"roles": append([]actor.Role{}, by.Roles...), "scopes": append([]actor.Scope{}, by.Scopes...)})
	send.Queue(insertReceived, pgx.StrictNamedArgs{"batch": id, "rows": string(text)})
	return queueWaits(send, id, waits)
}

// without returns those of the ids that are not among others.
func without(ids, others []uuid.UUID) []uuid.UUID {
	return slices.DeleteFunc(slices.Clone(ids), func(id uuid.UUID) bool { return slices.Contains(others, id) })
}

// distinct returns the ids of two lists, each once.
func distinct(a, b []uuid.UUID) []uuid.UUID {
	all := slices.SortedFunc(slices.Values(slices.Concat(a, b)), byID)
	return slices.Compact(all)
}

// signedIn returns the sessions that a batch brings sign-offs of.
func signedIn(b Batch) (out []uuid.UUID) {
	for _, e := range b.Entries {
		if e.Kind == journal.SignOff && e.SessionID != nil && e.Item != nil && !slices.Contains(out, *e.SessionID) {
			out = append(out, *e.SessionID)
		}
	}
	return out
}

func personOrNull(by actor.Actor) *uuid.UUID {
	if by.IsProgram() {
		return nil
	}
	return &by.Person
}

// toReceive returns the rows of a batch by their ids; an entry that the batch has
// twice is one row, as it comes first.
func toReceive(kinds journal.Kinds, by actor.Actor, b Batch, now time.Time) map[uuid.UUID]received {
	rows := make(map[uuid.UUID]received, len(b.Entries))
	sending := journal.Sending{At: b.SentAt, Received: now, Clocks: b.Clocks}
	for _, e := range b.Entries {
		id := e.row()
		if _, twice := rows[id]; twice {
			continue
		}
		r := received{ID: id, EntryID: e.EntryID, Kind: e.Kind, SessionID: e.SessionID, DiveID: e.DiveID,
			OutingID: e.OutingID,
			Body:     e.Body, Form: journal.Form, State: "held", Sent: e.Unread, Received: e.Received}
		refusal := e.Refusal
		if k, ok := kinds.Of(e.Kind); ok && k.Scope != "" && refusal == nil && !by.May(k.Scope) {
			refusal = fault.MissingScope(string(k.Scope))
		}
		if refusal != nil {
			r.State, r.Problem = "refused", problemOf(refusal)
		}
		if e.Item != nil {
			r.Item, r.DeviceAt = &stored{e.Item, kinds}, e.Item.Times()[0]
			if w, is := e.Item.(*assessment.Signing); is {
				r.EnrolmentID = &w.EnrolmentID
			}
		}
		r.time(e, b.Device, sending)
		rows[id] = r
	}
	return rows
}
