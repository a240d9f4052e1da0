// Package journal keeps what happened and what was decided: the header of every
// witnessed entry with its void, and every decision with what it was judged on.
//
// It owns the tables entry, entry_void, entry_clock and decision, the answer to a repeated
// entry, and the bounds of a witness's clock. It must not know what an entry
// says: each kind has a detail table in the feature that it belongs to, with
// the same id. Entries are added and never changed; a void is a later row.
package journal

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Kind is what an entry is about.
type Kind string

// The kinds of entry.
const (
	RollCall     Kind = "roll_call"
	Conditions   Kind = "conditions"
	HeadCount    Kind = "head_count"
	Incident     Kind = "incident"
	TimeIn       Kind = "time_in"
	TimeOut      Kind = "time_out"
	GasCheck     Kind = "gas_check"
	DrillAttempt Kind = "drill_attempt"
	TheoryResult Kind = "theory_result"
	Briefing     Kind = "briefing"
	// Acknowledgement is somebody's word that they heard a briefing.
	Acknowledgement Kind = "acknowledgement"
	GasResponse     Kind = "gas_response"
	LogCompletion   Kind = "log_completion"
	// SignOff is no witnessed fact but a decision, which a batch brings as it does entries.
	SignOff Kind = "sign_off"
)

// Entry is the header of something witnessed. Who recorded it, with which
// token, is the caller in the context.
type Entry struct {
	ID          uuid.UUID // chosen by the device
	Kind        Kind
	Session     *uuid.UUID
	Outing      *uuid.UUID
	Participant *uuid.UUID
	Enrolment   *uuid.UUID
	WitnessedBy uuid.UUID
	WitnessedAt time.Time
	Findings    finding.List // of the entry's own words: stored with it
	Also        finding.List // beside other facts: said in the answer, found anew on reading, not stored
	Digest      []byte       // SHA-256 of the body that asked for it
}

// Ahead is how far a witness's clock may run ahead of ours. Our choice: phones
// that take their time from the network are off by seconds.
const Ahead = 5 * time.Minute

// CheckTime returns a fault when a witness claims to have seen something more
// than Ahead from now; pointer says where in the body the time stands.
func CheckTime(now, at time.Time, pointer string) error {
	if !at.After(now.Add(Ahead)) {
		return nil
	}
	ahead := at.Sub(now)
	f := fault.Invalid(pointer,
		"This time is {ahead} ahead of the service's clock; at most {limit} is taken. "+
			"Set the device's clock and send it again.", finding.Span(ahead), finding.Span(Ahead))
	f.Findings[0] = f.Findings[0].With("given_at", finding.Clock(at, nil)).With("service_at", finding.Clock(now, nil))
	return f
}

// Replay reports whether the entry was recorded before. The same id with another
// body is fault.IDReused.
func Replay(ctx context.Context, tx *pg.Tx, id uuid.UUID, digest []byte) (bool, error) {
	have, found, err := pg.OptionalRow[[]byte](ctx, tx,
		`SELECT body_digest FROM entry WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err != nil || !found {
		return false, err
	}
	if !bytes.Equal(have, digest) {
		return true, fault.IDReused()
	}
	return true, nil
}

// Digests returns, for each of the ids that was recorded before, the digest of
// the body that recorded it.
func Digests(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) (map[uuid.UUID][]byte, error) {
	used, err := pg.Rows[Used](ctx, tx, usedSQL, pgx.StrictNamedArgs{"ids": ids})
	return ByID(used), err
}

// Record adds entries, all in one statement. The caller has answered replays
// and adds the detail rows in the same transaction.
func Record(ctx context.Context, by actor.Actor, tx *pg.Tx, entries ...Entry) error {
	var b pgx.Batch
	if err := Queue(ctx, by, tx, &b, entries...); err != nil {
		return err
	}
	tx.SendLater(&b)
	return nil
}

// Queue is Record as a part of a batch, for a caller that sends the detail rows
// with it.
func Queue(ctx context.Context, by actor.Actor, tx *pg.Tx, b *pgx.Batch, entries ...Entry) error {
	var c columns
	kept := timingsFrom(ctx)
	for _, e := range entries {
		found, err := storedFindings(slices.Concat(e.Findings, kept[e.ID].Findings(e.ID, e.WitnessedAt)))
		if err != nil {
			return fmt.Errorf("record entry: %w", err)
		}
		c.add(e, found)
	}
	b.Queue(`INSERT INTO entry (centre_id, id, kind, session_id, outing_id, participant_id, enrolment_id,
			witnessed_by, witnessed_at, findings, body_digest, recorded_by, token_id, recorded_at)
		SELECT app_centre(), x.*, @recorded_by, @token, @now
		FROM unnest(@ids::uuid[], @kinds::text[], @sessions::uuid[], @outings::uuid[], @participants::uuid[],
			@enrolments::uuid[],
			@witnesses::uuid[], @times::timestamptz[], @findings::jsonb[], @digests::bytea[]) x`,
		pgx.StrictNamedArgs{"recorded_by": orNull(by.Person), "token": by.Token, "now": tx.Now,
			"ids": c.ids, "kinds": c.kinds, "sessions": c.sessions, "outings": c.outings,
			"participants": c.participants,
			"enrolments":   c.enrolments, "witnesses": c.witnesses, "times": c.times, "findings": c.findings, "digests": c.digests})
	return queueTimings(ctx, b, c.ids)
}

// columns are entries turned into one array a column, for unnest.
type columns struct {
	ids, witnesses                              []uuid.UUID
	sessions, outings, participants, enrolments []*uuid.UUID
	kinds                                       []string
	times                                       []time.Time
	findings                                    []string
	digests                                     [][]byte
}

func (c *columns) add(e Entry, found string) {
	c.ids, c.kinds = append(c.ids, e.ID), append(c.kinds, string(e.Kind))
	c.sessions, c.outings = append(c.sessions, e.Session), append(c.outings, e.Outing)
	c.participants, c.enrolments = append(c.participants, e.Participant), append(c.enrolments, e.Enrolment)
	c.witnesses, c.times = append(c.witnesses, e.WitnessedBy), append(c.times, e.WitnessedAt)
	c.findings, c.digests = append(c.findings, found), append(c.digests, e.Digest)
}

// Head is what the header of a recorded entry says.
type Head struct {
	ID            uuid.UUID
	Kind          Kind
	SessionID     *uuid.UUID
	OutingID      *uuid.UUID
	ParticipantID *uuid.UUID
	EnrolmentID   *uuid.UUID
	WitnessedBy   uuid.UUID
	RecordedBy    *uuid.UUID
	WitnessedAt   time.Time
	RecordedAt    time.Time
	Findings      finding.List
	VoidedAt      *time.Time
	VoidedBy      *uuid.UUID
	VoidReason    *string
	Timing        *Timing // of a device that kept it without coverage; nil: sent as it was witnessed
	Summary       string  `db:"-"` // what it says, in one sentence; "" until the features have said it, see QueueSummaries
}

// DeviceAt returns the time by the device's own clock, nil for an entry that was
// sent as it was witnessed.
func (h Head) DeviceAt() *time.Time {
	if h.Timing == nil {
		return nil
	}
	at := h.WitnessedAt.Add(-h.Timing.Correction())
	return &at
}

// Columns are the columns of a Head as they stand in the view journal_entry,
// which is to be called e. Each row looks up the enrolment of its participant.
const Columns = columnsBefore + `e.enrolment_id` + columnsAfter

// BareColumns are Columns for callers that know the participants and their
// enrolments, and set EnrolmentID themselves: no row looks it up.
const BareColumns = columnsBefore + `NULL::uuid AS enrolment_id` + columnsAfter

const (
	columnsBefore = `e.id, e.kind, e.session_id, e.outing_id, e.participant_id, `
	columnsAfter  = `, e.witnessed_by, e.recorded_by, e.witnessed_at, e.recorded_at, e.findings, e.voided_at,
		e.voided_by, e.void_reason,
		(SELECT to_jsonb(k) FROM entry_clock k WHERE k.centre_id = e.centre_id AND k.entry_id = e.id) AS timing`
)

// Find returns the header of an entry, voided or not; fault.NoSuch when there is
// no such entry in the centre.
func Find(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Head, error) {
	h, found, err := pg.OptionalRow[Head](ctx, tx, `SELECT `+Columns+
		` FROM journal_entry e WHERE e.centre_id = app_centre() AND e.id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("entry")
	}
	return h, err
}

// QueueHeads reads the headers of entries by their ids, voided or not, in a
// batch.
func QueueHeads(b *pgx.Batch, into *[]Head, ids []uuid.UUID) {
	pg.QueueRows(b, into, `SELECT x.* FROM unnest(@ids::uuid[]) w (id)
		CROSS JOIN LATERAL (SELECT `+Columns+` FROM journal_entry e WHERE e.centre_id = app_centre() AND e.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}

func orNull(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// storedFindings writes findings as the text of a JSON array, never null.
func storedFindings(l finding.List) (string, error) {
	if len(l) == 0 {
		return "[]", nil
	}
	b, err := json.Marshal(l)
	return string(b), err
}
