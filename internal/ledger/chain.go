package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// stored is a row of ledger_entry, with the head of its chain.
type stored struct {
	Type      string     `db:"subject_type"`
	SubjectID uuid.UUID  `db:"subject_id"`
	Seq       int64      `db:"seq"`
	Kind      Kind       `db:"kind"`
	At        time.Time  `db:"at"`
	PersonID  *uuid.UUID `db:"person_id"`
	TokenID   *uuid.UUID `db:"token_id"`
	RefID     uuid.UUID  `db:"ref_id"`
	Prev      []byte     `db:"prev"`
	Hash      []byte     `db:"hash"`
	Canonical []byte     `db:"canonical"`
	HeadSeq   *int64     `db:"head_seq"`
	HeadHash  []byte     `db:"head_hash"`
}

// subject returns the subject of the entry's chain.
func (e *stored) subject() Subject { return Subject{Type: e.Type, ID: e.SubjectID} }

// walker walks the entries of one centre, ordered by subject and position.
type walker struct {
	report *Report
	centre uuid.UUID
	last   *stored
	sum    [sha256.Size]byte // of the last entry's canonical bytes, as found
	trust  bool              // the last entry is where it was written
}

// step checks the next entry and returns its content, nil when it is unreadable.
func (w *walker) step(e *stored) *record {
	if w.last == nil || w.last.subject() != e.subject() {
		w.finish()
		w.report.Chains++
		w.last, w.trust = nil, true
	}
	w.report.Entries++
	w.gap(e)
	sum := sha256.Sum256(e.Canonical)
	var c record
	if err := json.Unmarshal(e.Canonical, &c); err != nil {
		w.add(EntryChanged, e, "its canonical form is not readable")
		w.last, w.sum, w.trust = e, sum, true
		return nil
	}
	moved := c.Subject != e.subject() || c.Seq != e.Seq
	switch {
	case moved:
		w.add(EntryMoved, e,
			fmt.Sprintf("it was written as entry %d of %s %s", c.Seq, c.Subject.Type, c.Subject.ID))
	case !bytes.Equal(sum[:], e.Hash):
		w.add(EntryChanged, e, "its content does not give its hash")
	default:
		w.columns(e, &c)
	}
	if !moved && w.trust {
		w.link(e, c.Prev)
	}
	w.last, w.sum, w.trust = e, sum, !moved
	return &c
}

// gap reports the positions before this entry that have no entry.
func (w *walker) gap(e *stored) {
	from := int64(1)
	if w.last != nil {
		from = w.last.Seq + 1
	}
	if e.Seq == from {
		return
	}
	p := w.problem(EntriesMissing, e)
	p.Seq, p.EntryKind, p.Ref = from, "", uuid.Nil
	p.Detail = fmt.Sprintf("entries %d to %d were taken out", from, e.Seq-1)
	w.report.Problems = append(w.report.Problems, p)
	w.trust = false
}

// link reports an entry before this one that this one did not follow. Its stored hash and the hash
// of its content both count, since an entry of which only one was changed is already reported.
func (w *walker) link(e *stored, prev Hash) {
	switch {
	case w.last == nil && prev != Hash{}:
		w.add(EntryRewritten, e, "it is the first and yet follows another")
	case w.last != nil && !bytes.Equal(prev[:], w.last.Hash) && prev != w.sum:
		w.add(EntryRewritten, w.last, "the entry after it carries another hash")
	}
}

// columns reports columns that differ from the canonical content.
func (w *walker) columns(e *stored, c *record) {
	var off []string
	check := func(name string, ok bool) {
		if !ok {
			off = append(off, name)
		}
	}
	check("centre_id", c.Centre == w.centre)
	check("kind", c.Kind == e.Kind)
	check("ref_id", c.Ref == e.RefID)
	check("at", c.At == instant(e.At))
	check("person_id", same(c.Person, e.PersonID))
	check("token_id", same(c.Token, e.TokenID))
	check("prev", bytes.Equal(c.Prev[:], e.Prev))
	if len(off) > 0 {
		w.add(EntryChanged, e, "columns differ from its canonical form: "+strings.Join(off, ", "))
	}
}

func same(a, b *uuid.UUID) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// finish compares the end of a chain with its head.
func (w *walker) finish() {
	e := w.last
	switch {
	case e == nil:
	case e.HeadSeq == nil:
		w.add(HeadMissing, e, "the chain has no head")
	case *e.HeadSeq > e.Seq:
		p := w.problem(TailCut, e)
		p.Seq, p.EntryKind, p.Ref = e.Seq+1, "", uuid.Nil
		p.Detail = fmt.Sprintf("the head stands at %d and the last entry is %d", *e.HeadSeq, e.Seq)
		w.report.Problems = append(w.report.Problems, p)
	case *e.HeadSeq < e.Seq:
		w.add(EntryAdded, e, fmt.Sprintf("the head stands at %d", *e.HeadSeq))
	case w.trust && !bytes.Equal(e.HeadHash, e.Hash) && !bytes.Equal(e.HeadHash, w.sum[:]):
		w.add(EntryRewritten, e, "the head carries another hash")
	}
}

func (w *walker) problem(code Code, e *stored) Problem {
	return Problem{Code: code, Subject: e.subject(), Seq: e.Seq, EntryKind: e.Kind, Ref: e.RefID}
}

func (w *walker) add(code Code, e *stored, detail string) {
	p := w.problem(code, e)
	p.Detail = detail
	w.report.Problems = append(w.report.Problems, p)
}
