package offline

import (
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
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// problem is a fault as a row keeps it.
type problem struct {
	Kind     string       `json:"kind"`
	Code     string       `json:"code"`
	Message  string       `json:"message"`
	Findings finding.List `json:"findings"`
}

// faultKinds are the kinds of fault that a held or refused entry can have, by name.
var faultKinds = map[string]fault.Kind{"malformed": fault.Malformed, "forbidden": fault.Forbidden,
	"not_found": fault.NotFound, "conflict": fault.Conflict,
	"refused": fault.Refused, "internal": fault.Internal}

func problemOf(f *fault.Fault) *problem {
	out := &problem{Kind: "internal", Code: f.Code, Message: f.Message,
		Findings: append(finding.List{}, f.Findings...)}
	for name, kind := range faultKinds {
		if f.Kind == kind {
			out.Kind = name
		}
	}
	return out
}

func (p *problem) fault() *fault.Fault {
	if p == nil {
		return nil
	}
	return fault.New(faultKinds[p.Kind], p.Code, p.Message).With(p.Findings...)
}

// Held is an entry from the water as its device sent it, and what became of it:
// held, expired, dropped, refused or recorded.
type Held struct {
	ID          uuid.UUID
	EntryID     uuid.UUID
	BatchID     uuid.UUID
	Kind        journal.Kind
	State       string
	SessionID   *uuid.UUID
	DiveID      *uuid.UUID
	OutingID    *uuid.UUID
	EnrolmentID *uuid.UUID
	journal.Timing
	PersonID   *uuid.UUID
	PersonName *string
	DeviceAt   *time.Time
	SentAt     time.Time
	ReceivedAt time.Time
	JudgedAt   *time.Time
	Body       json.RawMessage
	Sent       []byte // of an entry that could not be read; nil for every other
	Problem    *problem
	DropReason *string
	DroppedBy  *uuid.UUID
	DroppedAt  *time.Time
}

// Why returns the fault for which it is held or refused, nil when it is neither.
func (h Held) Why() *fault.Fault {
	f := h.Problem.fault()
	if (h.State == "held" || h.State == "expired") && f == nil {
		f = waiting(h.DiveID != nil)
	}
	cures := curesOf[h.State]
	if f == nil || len(cures) == 0 {
		return f
	}
	own := *f
	own.Findings = slices.Clone(f.Findings)
	for i := range own.Findings {
		if len(own.Findings[i].Cures) == 0 {
			own.Findings[i].Cures = cures
		}
	}
	return &own
}

// curesOf is what helps an entry in a state whose rule names no cure.
var curesOf = map[string][]finding.Cure{
	"held": {
		{Code: "wait_for_device",
			Message: "Let the device that has the missing entry send it. This one is judged again then."},
		{Code: "drop_entry", Message: "Drop this entry with a reason, if what it waits for never comes."},
	},
	"expired": {
		{Code: "send_again", Message: "Once what it waits for is there, send the entry again, or judge it again."},
		{Code: "drop_entry", Message: "Drop this entry with a reason, if what it waits for never comes."},
	},
	"refused": {{Code: "send_put_right",
		Message: "Put the entry right and send it under a new id, or enter by hand what happened."}},
}

// waiting is why an entry is held that could not be judged at all yet.
func waiting(dive bool) *fault.Fault {
	if dive {
		return fault.UnknownReference("planned dive", "/dive_id")
	}
	return fault.New(fault.Refused, "not_judged",
		"The entry is kept and was not judged yet. Send the batch again, or judge the entry again.")
}

// WitnessedAt returns the time of what was witnessed or signed, corrected.
func (h Held) WitnessedAt() *time.Time {
	if h.DeviceAt == nil {
		return nil
	}
	at := h.DeviceAt.Add(h.Correction())
	return &at
}

const heldColumns = `w.id, w.entry_id, w.batch_id, w.kind, w.state, w.session_id, w.dive_id, w.outing_id, w.enrolment_id, ` + timingColumns + `,
	b.person_id, (SELECT n.name FROM people_person n WHERE n.centre_id = b.centre_id AND n.id = b.person_id) AS person_name, w.device_at, b.sent_at, b.received_at, w.judged_at, w.body, w.sent, w.problem, w.drop_reason, w.dropped_by, w.dropped_at`

const heldFrom = ` FROM water_entry w JOIN water_batch b ON b.centre_id = w.centre_id AND b.id = w.batch_id WHERE w.centre_id = app_centre()`

// heldByID reads entries by their ids, each by its key however many there are: only the
// key delivers the order that is asked for.
const heldByID = `SELECT ` + heldColumns + `
	FROM (SELECT DISTINCT unnest(@ids::uuid[]) AS id) x
	CROSS JOIN LATERAL (
		SELECT t.* FROM water_entry t
		WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id
		ORDER BY t.id LIMIT 1) w
	CROSS JOIN LATERAL (
		SELECT c.* FROM water_batch c
		WHERE c.centre_id = app_centre() AND c.id BETWEEN w.batch_id AND w.batch_id
		ORDER BY c.id LIMIT 1) b`

// HeldEntries lists entries from the water in some states, of all sessions or of
// some, in the order in which they were received.
func (s *Service) HeldEntries(ctx context.Context, by actor.Actor, states []string, sessions []uuid.UUID,
	p page.Request) (out []Held, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"states": states, "sessions": sessions}
	cond, order, err := p.SQL(page.Column{Name: "received_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		rows, err := pg.Rows[Held](ctx, tx, `SELECT * FROM (SELECT `+heldColumns+heldFrom+
			` AND w.state = ANY (@states)
			AND (@sessions::uuid[] IS NULL OR w.session_id = ANY (@sessions) OR w.dive_id = ANY (ARRAY(SELECT d.id FROM sessions_dive d
				WHERE d.centre_id = app_centre() AND d.session_id = ANY (@sessions))))) w WHERE `+cond+` `+order, args)
		out, next = page.Cut(p, rows, func(h Held) page.Place { return page.At(h.ReceivedAt, h.ID) })
		return err
	})
	return out, next, err
}

func findHeld(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Held, error) {
	h, found, err := pg.OptionalRow[Held](ctx, tx, heldByID, pgx.StrictNamedArgs{"ids": []uuid.UUID{id}})
	if err == nil && !found {
		err = fault.NoSuch("entry from the water")
	}
	return h, err
}

// DropHeld drops a held entry with a reason: by its sender, an instructor or a
// manager. It is kept and judged no more. Again does no harm.
func (s *Service) DropHeld(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out Held,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		h, err := findHeld(ctx, tx, id)
		if err != nil {
			return err
		}
		if own := h.PersonID != nil && *h.PersonID == by.Person; !own &&
			permission.Of("dropHeldEntry", by) < permission.All {
			return permission.Refusal("dropHeldEntry", by)
		}
		n, err := tx.Do(ctx, `UPDATE water_entry SET state = 'dropped', drop_reason = @reason, dropped_by = @by, dropped_at = @now
			WHERE centre_id = app_centre() AND id = @id AND state IN ('held', 'expired')`, pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now})
		if err != nil {
			return err
		}
		out, err = findHeld(ctx, tx, id)
		if err == nil && n == 0 && out.State != "dropped" {
			err = fault.WrongState("entry", out.State,
				"Only an entry that is held, or has expired, is dropped; what was recorded is voided.")
		}
		return err
	})
	return out, err
}

// JudgeHeld judges a held entry again, and what is held beside it.
func (s *Service) JudgeHeld(ctx context.Context, by actor.Actor, id uuid.UUID) (out Held, err error) {
	find := func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = findHeld(ctx, tx, id)
		return err
	}
	if err := s.db.InTx(ctx, by.Centre, find); err != nil || out.State != "held" && out.State != "expired" {
		return out, err
	}
	ids := []uuid.UUID{id}
	if out.SessionID != nil {
		beside, err := s.heldOf(ctx, by, []uuid.UUID{*out.SessionID})
		if err != nil {
			return out, err
		}
		ids = distinct(ids, beside)
	}
	if err := s.judge(ctx, by, ids); err != nil {
		return out, err
	}
	return out, s.db.InTx(ctx, by.Centre, find)
}

// queueOutcome adds to a batch of statements what reads what became of the entries of a
// batch, and what leaves the rest of them to the background.
func queueOutcome(b *pgx.Batch, kept keptBatch, rows *[]Held) {
	pg.QueueRows(b, rows, heldByID, pgx.StrictNamedArgs{"ids": kept.ids})
	b.Queue(handOver, pgx.StrictNamedArgs{"ids": kept.ids})
	if kept.id != nil {
		b.Queue(nothingLeft, pgx.StrictNamedArgs{"batch": *kept.id})
	}
}

// resultsOf returns what became of the entries of a batch; fresh has those that were
// recorded just now.
func resultsOf(ids []uuid.UUID, rows []Held, fresh map[uuid.UUID]journal.Result) ([]journal.Result, error) {
	byID := make(map[uuid.UUID]Held, len(rows))
	for _, h := range rows {
		byID[h.ID] = h
	}
	out := make([]journal.Result, 0, len(ids))
	for _, id := range ids {
		h, ok := byID[id]
		if !ok {
			return nil, fmt.Errorf("send batch: an entry that was received is gone")
		}
		out = append(out, h.result(fresh))
		delete(fresh, id) // the same entry twice in one batch
	}
	return out, nil
}

// OnHold is what became of an entry that waits for something.
const OnHold journal.Status = "held"

func (h Held) result(fresh map[uuid.UUID]journal.Result) journal.Result {
	out := journal.Result{ID: h.EntryID, Status: journal.AlreadyRecorded}
	switch h.State {
	case "recorded":
		if r, ok := fresh[h.ID]; ok {
			return r
		}
		return out
	case "held":
		out.Status, out.Refusal = OnHold, h.Why()
	case "dropped":
		out.Status, out.Refusal = journal.NotRecorded, fault.New(fault.Conflict, "dropped",
			fmt.Sprintf("This entry was dropped: %q.", *h.DropReason)).
			Param("reason", *h.DropReason)
	default:
		out.Status, out.Refusal = journal.NotRecorded, h.Why()
	}
	out.Findings = out.Refusal.Findings
	return out
}
