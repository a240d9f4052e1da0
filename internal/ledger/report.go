package ledger

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Code is what is wrong with one entry, row or chain. Codes are stable.
type Code string

// The codes. An entry is in the ledger; a row is a feature's.
const (
	EntryChanged    Code = "entry_changed"    // its columns, content and hash do not agree
	EntryRewritten  Code = "entry_rewritten"  // consistent, but not the entry that its neighbour followed
	EntryMoved      Code = "entry_moved"      // it is in another place than the one where it was written
	EntryAdded      Code = "entry_added"      // it is beyond its chain's head
	EntryRepeated   Code = "entry_repeated"   // one row has several entries of a kind
	EntriesMissing  Code = "entries_missing"  // removed from the middle of a chain
	TailCut         Code = "tail_cut"         // removed from the end of a chain
	HeadMissing     Code = "head_missing"     // a chain without its head
	ChainMissing    Code = "chain_missing"    // a head without its chain
	RowChanged      Code = "row_changed"      // the row differs from its entry
	RowMoved        Code = "row_moved"        // the row belongs to another subject than its entry
	RowMissing      Code = "row_missing"      // an entry whose row was removed
	RowAdded        Code = "row_added"        // a row that no entry records
	EvidenceChanged Code = "evidence_changed" // the evidence of a decision was changed
	EvidenceMissing Code = "evidence_missing" // the evidence of a decision was removed
	Unknown         Code = "unknown"          // a kind or a type of evidence that no source declares
)

// Problem is one difference between the ledger and what was written.
type Problem struct {
	Code      Code      `json:"code"`
	Subject   Subject   `json:"subject"`          // the subject of the chain
	Seq       int64     `json:"seq,omitempty"`    // the position in the chain
	EntryKind Kind      `json:"kind,omitempty"`   // the kind of decision
	Ref       uuid.UUID `json:"ref,omitzero"`     // the decided row, or the evidence
	Fields    []string  `json:"fields,omitempty"` // the columns that differ
	Detail    string    `json:"detail,omitempty"` // in words
}

// String returns the problem in one line, like
// "enrolment 0b0e…, entry 3, sign_off 91c4…: row_changed: skill, signer_id".
func (p Problem) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s", p.Subject.Type, p.Subject.ID)
	if p.Seq > 0 {
		fmt.Fprintf(&b, ", entry %d", p.Seq)
	}
	if p.Ref != uuid.Nil {
		fmt.Fprintf(&b, ", %s %s", p.EntryKind, p.Ref)
	}
	fmt.Fprintf(&b, ": %s", p.Code)
	if len(p.Fields) > 0 {
		fmt.Fprintf(&b, ": %s", strings.Join(p.Fields, ", "))
	}
	if p.Detail != "" {
		fmt.Fprintf(&b, ": %s", p.Detail)
	}
	return b.String()
}

// Report is what Verify found in one centre.
type Report struct {
	Centre   uuid.UUID `json:"centre"`
	At       time.Time `json:"at"`
	Chains   int       `json:"chains"`
	Entries  int       `json:"entries"`
	Rows     int       `json:"rows"`     // compared with their entries
	Evidence int       `json:"evidence"` // pieces compared with their hashes
	Problems []Problem `json:"problems"` // empty when everything is as it was written
}

// Whole reports whether everything is as it was written.
func (r Report) Whole() bool { return len(r.Problems) == 0 }
