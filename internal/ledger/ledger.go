// Package ledger is the record of what was decided. It is append-only, chained by SHA-256 over a
// canonical form (RFC 8785), with one chain for each subject, and written in the transaction of the
// decision itself. Verify walks a centre's chains, compares them with the decided rows and with the
// evidence that they rest on, and names everything that was changed, removed, moved or added.
//
// It owns the tables ledger_head, ledger_entry and ledger_salt. It must not know what a sign-off or
// a paper is: features declare in Sources where their decided rows are, and define their bodies. A
// body identifies a person by their id alone. A text that a person wrote, or a value that could be
// guessed, is in a body only as its hash over a salt that can be erased (Salt). Erasing a person
// therefore leaves the chains whole.
//
// It cannot detect that a whole chain was rewritten or removed, with its head and its rows, by a
// superuser of the database. That needs a witness outside the database.
package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// Kind is the kind of a decision.
type Kind string

// The kinds of entries. A void kind takes back the kind before it.
const (
	SignOff         Kind = "sign_off"
	SignOffVoid     Kind = "sign_off_void"
	Completion      Kind = "completion"
	CompletionVoid  Kind = "completion_void"
	Credit          Kind = "credit"
	CreditVoid      Kind = "credit_void"
	Paper           Kind = "paper"
	PaperVoid       Kind = "paper_void"
	Unfit           Kind = "unfit"        // a person was marked not fit today
	UnfitLifted     Kind = "unfit_lifted" // and fit again, with a reason
	ClearanceLost   Kind = "clearance_lost"
	ClearanceGiven  Kind = "clearance_given"
	CautionAccepted Kind = "caution_accepted"
	PlanConfirmed   Kind = "plan_confirmed"
	PlanWithdrawn   Kind = "plan_withdrawn" // a gas plan is no longer to be dived
	EntryVoid       Kind = "entry_void"     // a witnessed entry was voided
	// IdentityCorrected: a person's name or birth date was corrected.
	IdentityCorrected Kind = "identity_corrected"
)

// Kinds lists every kind.
var Kinds = []Kind{SignOff, SignOffVoid, Completion, CompletionVoid, Credit, CreditVoid,
	Paper, PaperVoid, Unfit, UnfitLifted, ClearanceLost, ClearanceGiven, CautionAccepted, PlanConfirmed,
	PlanWithdrawn, EntryVoid, IdentityCorrected}

// Subject is the thing to whose chain an entry belongs: an enrolment for what was learned; a person
// for their name, birth date, papers and fitness; a group for its clearance; a session for its
// plans and for the voiding of its entries.
type Subject struct {
	Type string    `json:"type"`
	ID   uuid.UUID `json:"id"`
}

// Entry is one decision to append.
type Entry struct {
	Subject Subject
	Kind    Kind
	Ref     uuid.UUID // the decided row
	// Body is the decision and what it was judged on: a struct with json tags. A value that the
	// decided row also has is under the name that the feature's Decided selects its column by.
	// Evidence is in a member "evidence" as a list of Evidence.
	Body any
	Salt Salt // the salt of the hashes in the body; zero where it has none
}

// Append records one decision at the end of its subject's chain; see AppendAll.
func Append(ctx context.Context, by actor.Actor, tx *pg.Tx, e Entry) error {
	return AppendAll(ctx, by, tx, []Entry{e})
}

// AppendAll records decisions in the given order, each at the end of its subject's chain, under the
// actor of ctx and the transaction's clock.
//
// It locks the heads of the chains in ascending order of subject until the transaction ends, so it
// must come last of the locks. It takes two round trips for any number of entries. It fails when a
// body has no canonical form. Subjects of two types with the same id are two subjects, each with
// its own chain.
func AppendAll(ctx context.Context, by actor.Actor, tx *pg.Tx, entries []Entry) error {
	if len(entries) == 0 {
		return nil
	}
	heads, err := lockHeads(ctx, tx, entries)
	if err != nil {
		return fmt.Errorf("append to ledger: %w", err)
	}
	links := make([]link, 0, len(entries))
	for _, e := range entries {
		l, err := heads[e.Subject].next(e, tx.Centre, by, tx.Now)
		if err != nil {
			return fmt.Errorf("append %s to ledger: %w", e.Kind, err)
		}
		links = append(links, l)
	}
	write(tx, links, heads)
	return nil
}

// record is the canonical content of an entry, whose hash the next entry carries.
type record struct {
	Centre  uuid.UUID       `json:"centre"`
	Subject Subject         `json:"subject"`
	Seq     int64           `json:"seq"`
	Kind    Kind            `json:"kind"`
	Ref     uuid.UUID       `json:"ref"`
	At      string          `json:"at"`
	Person  *uuid.UUID      `json:"person"` // null for a program
	Token   *uuid.UUID      `json:"token"`  // null at the operator's console
	Prev    Hash            `json:"prev"`
	Body    json.RawMessage `json:"body"`
}

// link is a record with its canonical bytes and their hash.
type link struct {
	record
	canonical []byte
	hash      Hash
	salt      []byte // nil where the body has no hashes
}

// head is the position and hash at the end of a chain; next advances it.
type head struct {
	Seq  int64
	Hash Hash
}

func (h *head) next(e Entry, centre uuid.UUID, by actor.Actor, now time.Time) (link, error) {
	body, err := json.Marshal(e.Body)
	if err != nil {
		return link{}, fmt.Errorf("body: %w", err)
	}
	l := link{record: record{Centre: centre, Subject: e.Subject, Seq: h.Seq + 1, Kind: e.Kind, Ref: e.Ref,
		At: instant(now), Person: orNull(by.Person), Token: orNull(by.Token), Prev: h.Hash, Body: body}}
	if l.canonical, err = Canonical(l.record); err != nil {
		return link{}, err
	}
	l.hash = sha256.Sum256(l.canonical)
	if e.Salt != (Salt{}) {
		l.salt = e.Salt[:]
	}
	h.Seq, h.Hash = l.Seq, l.hash
	return l, nil
}

func orNull(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// lockHeads locks the heads of the entries' chains in ascending order of subject, and creates those
// that do not exist. One statement does both, so that no head is waited for out of order.
func lockHeads(ctx context.Context, tx *pg.Tx, entries []Entry) (map[Subject]*head, error) {
	subjects := map[Subject]bool{}
	for _, e := range entries {
		if e.Subject.ID == uuid.Nil || e.Ref == uuid.Nil || e.Subject.Type == "" ||
			!slices.Contains(Kinds, e.Kind) {
			return nil, errors.New("an entry needs a subject, a known kind and the decided row")
		}
		subjects[e.Subject] = true
	}
	var ids []uuid.UUID
	var types []string
	for s := range subjects {
		ids, types = append(ids, s.ID), append(types, s.Type)
	}
	found, err := pg.Rows[struct {
		ID   uuid.UUID `db:"subject_id"`
		Type string    `db:"subject_type"`
		Seq  int64     `db:"seq"`
		Hash []byte    `db:"hash"`
	}](ctx, tx, `
		INSERT INTO ledger_head AS h (centre_id, subject_type, subject_id, seq, hash)
		SELECT @centre, s.type, s.id, 0, @zero
		FROM unnest(@types::text[], @ids::uuid[]) AS s (type, id)
		ORDER BY s.id, s.type
		ON CONFLICT (centre_id, subject_type, subject_id) DO UPDATE SET seq = h.seq
		RETURNING h.subject_id, h.subject_type, h.seq, h.hash`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "types": types, "ids": ids,
			"zero": make([]byte, sha256.Size)})
	if err != nil {
		return nil, err
	}
	heads := make(map[Subject]*head, len(found))
	for _, f := range found {
		h := &head{Seq: f.Seq}
		copy(h.Hash[:], f.Hash)
		heads[Subject{Type: f.Type, ID: f.ID}] = h
	}
	return heads, nil
}

// write stores the links and the new heads of the chains, in one statement that goes with
// the next round trip.
func write(tx *pg.Tx, links []link, heads map[Subject]*head) {
	a := columns(links)
	a["centre"], a["at"] = tx.Centre, links[0].At
	a["person"], a["token"] = links[0].Person, links[0].Token
	var types []string
	var ids []uuid.UUID
	var seqs []int64
	var hashes [][]byte
	for s, h := range heads {
		types, ids = append(types, s.Type), append(ids, s.ID)
		seqs, hashes = append(seqs, h.Seq), append(hashes, h.Hash[:])
	}
	a["head_types"], a["head_ids"], a["head_seqs"], a["head_hashes"] = types, ids, seqs, hashes
	tx.DoLater(`
		WITH appended AS (
			INSERT INTO ledger_entry (centre_id, subject_type, subject_id, seq, kind, at,
				person_id, token_id, ref_id, prev, hash, canonical)
			SELECT @centre, e.type, e.subject, e.seq, e.kind, @at::timestamptz,
				@person, @token, e.ref, e.prev, e.hash, e.canonical
			FROM unnest(@types::text[], @subjects::uuid[], @seqs::bigint[], @kinds::text[], @refs::uuid[],
				@prevs::bytea[], @hashes::bytea[], @canonicals::bytea[])
				AS e (type, subject, seq, kind, ref, prev, hash, canonical)),
		salted AS (
			INSERT INTO ledger_salt (centre_id, kind, ref_id, salt)
			SELECT @centre, s.kind, s.ref, s.salt
			FROM unnest(@kinds::text[], @refs::uuid[], @salts::bytea[]) AS s (kind, ref, salt)
			WHERE s.salt IS NOT NULL)
		UPDATE ledger_head h
		SET seq = n.seq, hash = n.hash
		FROM unnest(@head_types::text[], @head_ids::uuid[], @head_seqs::bigint[], @head_hashes::bytea[])
			AS n (type, id, seq, hash)
		WHERE h.centre_id = @centre AND h.subject_type = n.type AND h.subject_id = n.id`, a)
}

// columns returns the links as one array for each column.
func columns(links []link) pgx.StrictNamedArgs {
	var subjects, refs []uuid.UUID
	var seqs []int64
	var types, kinds []string
	var prevs, hashes, canonicals, salts [][]byte
	for _, l := range links {
		types, subjects = append(types, l.Subject.Type), append(subjects, l.Subject.ID)
		refs, seqs, kinds = append(refs, l.Ref), append(seqs, l.Seq), append(kinds, string(l.Kind))
		prevs, hashes = append(prevs, slices.Clone(l.Prev[:])), append(hashes, slices.Clone(l.hash[:]))
		canonicals, salts = append(canonicals, l.canonical), append(salts, l.salt)
	}
	return pgx.StrictNamedArgs{"types": types, "subjects": subjects, "refs": refs, "seqs": seqs,
		"kinds": kinds, "prevs": prevs, "hashes": hashes, "canonicals": canonicals, "salts": salts}
}
