package offline

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// held is a held entry as it is judged, with who sent it, by which rights, and with which clock.
type held struct {
	ID          uuid.UUID
	EntryID     uuid.UUID
	BatchID     uuid.UUID
	Kind        journal.Kind
	SessionID   *uuid.UUID
	DiveID      *uuid.UUID
	OutingID    *uuid.UUID
	EnrolmentID *uuid.UUID
	Kept        json.RawMessage // what it says, as it is stored
	Form        int
	Item        journal.Item `db:"-"` // the same, read
	journal.Timing
	PersonID *uuid.UUID
	Program  string
	TokenID  uuid.UUID
	Roles    []actor.Role
	Scopes   []actor.Scope
}

// at returns when it was witnessed or signed, by the clock that its item is in.
func (h held) at() time.Time { return *h.Item.Times()[0] }

// heldSQL reads and locks held entries in the order of the ids, which are ascending.
// Each is looked up by its key, whatever else is held: only the key delivers the order
// that is asked for.
const heldSQL = `SELECT w.id, w.entry_id, w.batch_id, w.kind, w.session_id, w.dive_id, w.outing_id, w.enrolment_id, w.item AS kept, w.form,
		` + timingColumns + `, b.person_id, b.program, b.token_id, b.roles, b.scopes
	FROM unnest(@ids::uuid[]) x (id)
	CROSS JOIN LATERAL (
		SELECT t.* FROM water_entry t
		WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id AND t.state IN ('held', 'expired')
		ORDER BY t.id LIMIT 1
		FOR NO KEY UPDATE) w
	CROSS JOIN LATERAL (
		SELECT c.* FROM water_batch c
		WHERE c.centre_id = app_centre() AND c.id BETWEEN w.batch_id AND w.batch_id
		ORDER BY c.id LIMIT 1) b`

// timingColumns are the columns of a journal.Timing of entry w in batch b.
const timingColumns = `b.device, COALESCE(w.correction_s, b.correction_s) AS correction_s, w.clock_id, w.ticks_ms, w.elapsed_ms,
	CASE WHEN w.correction_s IS NOT NULL THEN b.correction_s END AS wall_correction_s, w.doubt`

// sender returns who sent an entry, with the roles and scopes that their token had when they sent it.
func (h held) sender(centre uuid.UUID) actor.Actor {
	by := actor.Actor{Centre: centre, Token: h.TokenID, Program: h.Program, Roles: h.Roles, Scopes: h.Scopes}
	if h.PersonID != nil {
		by.Person = *h.PersonID
	}
	return by
}

// timings returns how the times of entries are found, by their ids; of two with one id the first stands.
func timings(rows []held) map[uuid.UUID]journal.Timing {
	out := make(map[uuid.UUID]journal.Timing, len(rows))
	for _, r := range rows {
		if _, used := out[r.EntryID]; !used {
			out[r.EntryID] = r.Timing
		}
	}
	return out
}

// judge judges those of the entries that are held: the facts of each session in a
// transaction, those of each outing, then the sign-offs, each until nothing more of them
// stands. The order in which entries arrived plays no part.
func (s *Service) judge(ctx context.Context, by actor.Actor, ids []uuid.UUID) error {
	rows, err := s.placesOf(ctx, by, ids)
	if err == nil {
		_, err = s.judgeParts(ctx, by, partsOf(rows), nil)
	}
	return err
}

// judgeParts is judge of entries whose places are known. last, unless it is nil, adds
// statements to the last transaction, which see what was written in it.
func (s *Service) judgeParts(ctx context.Context, by actor.Actor, parts [][]placed,
	last func(*pgx.Batch)) (map[uuid.UUID]journal.Result, error) {
	fresh := map[uuid.UUID]journal.Result{}
	for i, rows := range parts {
		var atEnd func(*pgx.Batch)
		if i == len(parts)-1 {
			atEnd = last
		}
		if err := s.judgeAll(ctx, by, fresh, rows, atEnd); err != nil {
			return nil, err
		}
	}
	if len(parts) == 0 && last != nil {
		return fresh, s.db.WriteBatch(ctx, by.Centre, last)
	}
	return fresh, nil
}

// judgeAll judges held entries until nothing more of them stands: one may be what
// another waits for.
func (s *Service) judgeAll(ctx context.Context, by actor.Actor, fresh map[uuid.UUID]journal.Result,
	rows []placed, atEnd func(*pgx.Batch)) error {
	for {
		recorded, left, err := s.judgeSome(ctx, by, fresh, rows, atEnd)
		if err != nil || recorded == 0 || left == 0 {
			return err
		}
	}
}

// judgeSome judges held entries in one transaction, and returns how many were recorded
// and how many still wait. Their rows are locked before everything else, ascending.
func (s *Service) judgeSome(ctx context.Context, by actor.Actor, fresh map[uuid.UUID]journal.Result,
	those []placed, atEnd func(*pgx.Batch)) (recorded, left int, err error) {
	var results map[uuid.UUID]journal.Result
	var rows []held
	var used []journal.Used
	ids, facts := make([]uuid.UUID, len(those)), []uuid.UUID{}
	for i, p := range those {
		ids[i] = p.ID
		if !p.Signs {
			facts = append(facts, p.EntryID)
		}
	}
	err = s.db.InTxWith(ctx, by.Centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, heldSQL, pgx.StrictNamedArgs{"ids": ids})
		journal.QueueUsed(b, &used, facts)
	}, func(ctx context.Context, tx *pg.Tx) error {
		read, unread := s.readItems(rows)
		correctTimes(read, journal.ByID(used))
		if results, err = s.enterAll(ctx, tx, read); err != nil {
			return err
		}
		maps.Copy(results, unread)
		var b pgx.Batch
		if err := queueVerdicts(&b, tx.Now, results); err != nil {
			return err
		}
		if atEnd != nil {
			atEnd(&b)
		}
		tx.SendLater(&b)
		return nil
	})
	if err != nil {
		return 0, 0, err
	}
	for id, r := range results {
		switch {
		case r.Refusal == nil:
			recorded++
			fresh[id] = r
		case stateOf(r.Refusal) == "held":
			left++
		}
	}
	return recorded, left, nil
}

// readItems reads what entries say. One that this release cannot read goes on waiting
// for one that can, and holds up no other.
func (s *Service) readItems(rows []held) (read []held, unread map[uuid.UUID]journal.Result) {
	unread = map[uuid.UUID]journal.Result{}
	for _, h := range rows {
		var err error
		if h.Item, err = s.kinds.Read(h.Kept, h.Form); err == nil {
			read = append(read, h)
			continue
		}
		f := fault.New(fault.Internal, "internal",
			"The service could not read this entry again. It is kept as it was sent.").Because(err)
		unread[h.ID] = journal.Result{ID: h.EntryID, Status: journal.NotRecorded, Refusal: f}
	}
	return read, unread
}

// correctTimes corrects the times of entries by their devices' clocks. A fact that
// a single post recorded before, as it was sent, is compared as it was sent; before has
// the digests of those. A
// sign-off is no fact of the journal, and one that is posted singly has no time of
// a device: it is always corrected, whatever fact has the same id.
func correctTimes(rows []held, before map[uuid.UUID][]byte) {
	for i, h := range rows {
		if _, there := before[h.EntryID]; h.Kind == journal.SignOff || !there {
			correct(rows[i].Item, h.Correction())
		}
	}
}

func byID(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) }

// call is what one call of a service takes: entries of one kind, place and batch.
type call struct {
	kind         int // its place in kinds
	place, batch uuid.UUID
}

// enterAll hands entries to the services, as few calls as there are kinds,
// places and batches, and gives what became of each, by row.
func (s *Service) enterAll(ctx context.Context, tx *pg.Tx, rows []held) (map[uuid.UUID]journal.Result, error) {
	var enrolments []uuid.UUID
	calls := map[call][]held{}
	for _, h := range rows {
		place, _ := h.place()
		c := call{kind: s.kinds.Order(h.Kind), place: place, batch: h.BatchID}
		calls[c] = append(calls[c], h)
		if h.EnrolmentID != nil {
			enrolments = append(enrolments, *h.EnrolmentID)
		}
	}
	if len(enrolments) > 0 {
		if err := s.assessment.HoldEnrolments(ctx, tx, enrolments); err != nil {
			return nil, err
		}
	}
	out := make(map[uuid.UUID]journal.Result, len(rows))
	for _, c := range slices.SortedFunc(maps.Keys(calls), func(a, b call) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), slices.Compare(a.place[:], b.place[:]),
			slices.Compare(a.batch[:], b.batch[:]))
	}) {
		if err := s.enterSome(ctx, tx, calls[c], out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// place returns what the entry's call is about, and what sort of thing it is.
func (h held) place() (id uuid.UUID, what string) {
	switch {
	case h.DiveID != nil:
		return *h.DiveID, "dive"
	case h.SessionID != nil:
		return *h.SessionID, "session"
	case h.OutingID != nil:
		return *h.OutingID, "outing"
	}
	return uuid.Nil, ""
}

// enterSome makes one call of a service. Where that fails as a whole, each of
// its entries is tried by itself, so that none stands in the way of another.
func (s *Service) enterSome(ctx context.Context, tx *pg.Tx, rows []held,
	out map[uuid.UUID]journal.Result) error {
	slices.SortFunc(rows, func(a, b held) int {
		return cmp.Or(a.at().Compare(b.at()), slices.Compare(a.EntryID[:], b.EntryID[:]))
	})
	var results []journal.Result
	by := rows[0].sender(tx.Centre)
	err := s.db.Savepoint(journal.FromDevice(ctx, timings(rows)), tx,
		func(ctx context.Context, tx *pg.Tx) (err error) {
			place, _ := rows[0].place()
			kind, known := s.kinds.Of(rows[0].Kind)
			if !known {
				return fmt.Errorf("judge held entries: no kind %q", rows[0].Kind)
			}
			if err := permission.Require(kind.Operation, by); err != nil {
				return err
			}
			results, err = kind.Enter(ctx, by, tx, place, sent(rows))
			return err
		})
	f, ok := fault.Of(err)
	if ok && f.Kind == fault.NotFound { // what an address names elsewhere, an entry names itself
		_, what := rows[0].place()
		f = fault.UnknownReference(what, "/"+what+"_id")
	}
	switch {
	case err == nil:
		for i, r := range results {
			r.Refusal = ofEntry(r.Refusal)
			if r.Status == journal.Recorded {
				r.Findings = timed(r.Findings, rows[i])
			}
			out[rows[i].ID] = r
		}
		return nil
	case !ok || f.Kind == fault.Unavailable:
		return err
	case len(rows) == 1 || f.Kind == fault.Forbidden || fault.KindOf(err) == fault.NotFound:
		for _, h := range rows {
			out[h.ID] = journal.Result{ID: h.EntryID, Status: journal.NotRecorded, Refusal: ofEntry(f),
				Findings: f.Findings}
		}
		return nil
	}
	for _, h := range rows {
		if err := s.enterSome(ctx, tx, []held{h}, out); err != nil {
			return err
		}
	}
	return nil
}

// sent returns held entries as their kind takes them.
func sent(rows []held) []journal.Sent {
	out := make([]journal.Sent, len(rows))
	for i, h := range rows {
		out[i] = journal.Sent{ID: h.EntryID, Item: h.Item}
	}
	return out
}
