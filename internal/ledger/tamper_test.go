package ledger_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// tampering is a scene with a chain a of four entries and a chain b of two.
type tampering struct {
	*scene
	a, b   uuid.UUID   // the enrolments
	as, bs []uuid.UUID // their verdicts
}

func newTampering(t *testing.T) *tampering {
	s := &tampering{scene: newScene(t), a: uuid.New(), b: uuid.New()}
	s.as = append(s.decide(s.a, "mask", "regulator"), s.decide(s.a, "hover", "ascent")...)
	s.bs = s.decide(s.b, "mask", "hover")
	return s
}

// found writes problems short: "row_changed a/2 skill".
func (s *tampering) found() []string {
	out := []string{}
	for _, p := range s.verify().Problems {
		chain := map[uuid.UUID]string{s.a: "a", s.b: "b"}[p.Subject.ID]
		text := fmt.Sprintf("%s %s", p.Code, chain)
		if p.Seq > 0 {
			text += fmt.Sprintf("/%d", p.Seq)
		}
		if len(p.Fields) > 0 {
			text += " " + strings.Join(p.Fields, ",")
		}
		out = append(out, text)
	}
	return out
}

func TestTamperingIsNamed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		do   func(s *tampering)
		want []string
	}{
		{"nothing touched", func(*tampering) {}, nil},

		// Rows.
		{"a row changed", func(s *tampering) {
			s.tamper(`UPDATE verdict SET skill = 'hover', figure = 12.51 WHERE id = $1`, s.as[1])
		}, []string{"row_changed a/2 figure,skill"}},
		{"a time moved by a microsecond", func(s *tampering) {
			s.tamper(`UPDATE verdict SET decided_at = decided_at + interval '1 microsecond' WHERE id = $1`,
				s.as[1])
		}, []string{"row_changed a/2 at"}},
		{"a row signed by another", func(s *tampering) {
			s.tamper(`UPDATE verdict SET decided_by = $2, token_id = $2 WHERE id = $1`, s.as[1], uuid.New())
		}, []string{"row_changed a/2 person,token"}},
		{"a finding hidden", func(s *tampering) {
			s.tamper(`UPDATE verdict SET findings = findings - 1 WHERE id = $1`, s.as[1])
		}, []string{"row_changed a/2 findings"}},
		{"a note written where there was none", func(s *tampering) {
			s.tamper(`UPDATE verdict SET note = 'well done' WHERE id = $1`, s.as[1])
		}, []string{"row_changed a/2 note"}},
		{"a row deleted", func(s *tampering) {
			s.tamper(`DELETE FROM verdict WHERE id = $1`, s.as[1])
		}, []string{"row_missing a/2"}},
		{"a row added", func(s *tampering) {
			s.tamper(`INSERT INTO verdict SELECT centre_id, $2, enrolment_id, 'ditch', figure, note, findings, decided_at, decided_by, token_id FROM verdict WHERE id = $1`,
				s.as[1], uuid.New())
		}, []string{"row_added a"}},
		{"a row given to another student", func(s *tampering) {
			s.tamper(`UPDATE verdict SET enrolment_id = $2 WHERE id = $1`, s.as[1], s.b)
		}, []string{"row_moved a/2"}},
		{"two rows swapped", func(s *tampering) {
			s.tamper(`UPDATE verdict v SET skill = w.skill FROM verdict w WHERE (v.id, w.id) IN (($1, $2), ($2, $1))`, s.as[1], s.as[2])
		}, []string{"row_changed a/2 skill", "row_changed a/3 skill"}},

		// Evidence.
		{"a reading changed after the decision", func(s *tampering) {
			s.tamper(`UPDATE gauge_reading SET bar = 187.51 WHERE id = $1`, s.evidence(s.a, 3))
		}, []string{"evidence_changed a/3"}},
		{"a salt changed", func(s *tampering) {
			s.tamper(`UPDATE ledger_salt SET salt = '\x000102030405060708090a0b0c0d0e0f' WHERE ref_id = $1`,
				s.as[2])
		}, []string{"row_changed a/3 findings", "evidence_changed a/3"}},
		{"a reading deleted", func(s *tampering) {
			s.tamper(`DELETE FROM gauge_reading WHERE id = $1`, s.evidence(s.a, 3))
		}, []string{"evidence_missing a/3"}},

		// Entries.
		{"an entry deleted", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_entry WHERE subject_id = $1 AND seq = 2`, s.a)
		}, []string{"entries_missing a/2", "row_added a"}},
		{"the first two entries deleted with their rows", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_entry WHERE subject_id = $1 AND seq <= 2`, s.a)
			s.tamper(`DELETE FROM verdict WHERE id = ANY($1)`, s.as[:2])
		}, []string{"entries_missing a/1"}},
		{"two entries swapped", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET seq = 100 - seq WHERE subject_id = $1 AND seq IN (2, 3)`, s.a)
			s.tamper(`UPDATE ledger_entry SET seq = CASE seq WHEN 98 THEN 3 ELSE 2 END WHERE subject_id = $1 AND seq > 90`, s.a)
		}, []string{"entry_moved a/2", "entry_moved a/3"}},
		{"an entry put into another chain", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET subject_id = $2, seq = 3 WHERE subject_id = $1 AND seq = 4`, s.a,
				s.b)
			s.moveHead(s.b)
		}, []string{"tail_cut a/4", "entry_moved b/3"}},
		{"an entry put under another kind of thing with the same id", func(s *tampering) {
			s.tamper(`INSERT INTO ledger_head SELECT centre_id, 'person', subject_id, 0, ''
				FROM ledger_head WHERE subject_id = $1`, s.a)
			s.tamper(`UPDATE ledger_entry SET subject_type = 'person' WHERE subject_id = $1 AND seq = 4`, s.a)
			s.tamper(`UPDATE ledger_head SET seq = 4 WHERE subject_id = $1 AND subject_type = 'person'`, s.a)
		}, []string{"tail_cut a/4", "entries_missing a/1", "entry_moved a/4"}},
		{"a hash rewritten", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET hash = sha256('x') WHERE subject_id = $1 AND seq = 2`, s.a)
		}, []string{"entry_changed a/2"}},
		{"a content rewritten", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET canonical = convert_to(replace(convert_from(canonical, 'UTF8'), '"figure":12.5', '"figure":99.5'), 'UTF8')
				WHERE subject_id = $1 AND seq = 2`, s.a)
		}, []string{"entry_changed a/2", "row_changed a/2 figure"}},
		{"a content made unreadable", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET canonical = '{' WHERE subject_id = $1 AND seq = 2`, s.a)
		}, []string{"entry_changed a/2"}},
		{"a column rewritten", func(s *tampering) {
			s.tamper(`UPDATE ledger_entry SET person_id = $2 WHERE subject_id = $1 AND seq = 2`, s.a,
				uuid.New())
		}, []string{"entry_changed a/2"}},
		{"a content rewritten with its hash and its row", func(s *tampering) {
			s.forge(s.a, 2, func(c map[string]any) { c["body"].(map[string]any)["figure"] = 99.5 })
			s.tamper(`UPDATE verdict SET figure = 99.5 WHERE id = $1`, s.as[1])
		}, []string{"entry_rewritten a/2"}},
		{"the last content rewritten with its hash and its row", func(s *tampering) {
			s.forge(s.a, 4, func(c map[string]any) { c["body"].(map[string]any)["figure"] = 99.5 })
			s.tamper(`UPDATE verdict SET figure = 99.5 WHERE id = $1`, s.as[3])
		}, []string{"entry_rewritten a/4"}},
		{"the first entry made to follow another", func(s *tampering) {
			s.forge(s.b, 1, func(c map[string]any) { c["prev"] = hashText("x") })
			s.tamper(`UPDATE ledger_entry SET prev = sha256('x') WHERE subject_id = $1 AND seq = 1`, s.b)
		}, []string{"entry_rewritten b/1", "entry_rewritten b/1"}},
		{"a body made null", func(s *tampering) {
			s.forge(s.b, 2, func(c map[string]any) { c["body"] = nil })
			s.moveHead(s.b)
		}, []string{"entry_changed b/2"}},
		{"a kind that nobody decided", func(s *tampering) {
			s.forge(s.b, 2, func(c map[string]any) { c["kind"] = "promotion" })
			s.tamper(`UPDATE ledger_entry SET kind = 'promotion' WHERE subject_id = $1 AND seq = 2`, s.b)
			s.moveHead(s.b)
		}, []string{"unknown b/2", "evidence_changed b/2", "row_added b"}},

		// The end of a chain.
		{"the tail cut", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_entry WHERE subject_id = $1 AND seq > 2`, s.a)
			s.tamper(`DELETE FROM verdict WHERE id = ANY($1)`, s.as[2:])
		}, []string{"tail_cut a/3"}},
		{"the tail cut and the head set back, the row left", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_entry WHERE subject_id = $1 AND seq = 4`, s.a)
			s.moveHead(s.a)
		}, []string{"row_added a"}},
		{"a whole chain cut", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_entry WHERE subject_id = $1`, s.a)
			s.tamper(`DELETE FROM verdict WHERE enrolment_id = $1`, s.a)
		}, []string{"chain_missing a"}},
		{"a head deleted", func(s *tampering) {
			s.tamper(`DELETE FROM ledger_head WHERE subject_id = $1`, s.a)
		}, []string{"head_missing a/4"}},
		{"a head rewritten", func(s *tampering) {
			s.tamper(`UPDATE ledger_head SET hash = sha256('x') WHERE subject_id = $1`, s.a)
		}, []string{"entry_rewritten a/4"}},
		{"an entry added beyond the head", func(s *tampering) {
			s.append(s.b, 2, uuid.New())
		}, []string{"entry_added b/3", "row_missing b/3", "evidence_changed b/3"}},
		{"an entry added with the head, for no row", func(s *tampering) {
			s.append(s.b, 2, uuid.New())
			s.moveHead(s.b)
		}, []string{"row_missing b/3", "evidence_changed b/3"}},
		{"an entry added with the head, for a row that has one", func(s *tampering) {
			s.append(s.b, 2, s.bs[1])
			s.moveHead(s.b)
		}, []string{"entry_repeated b"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := newTampering(t)
			c.do(s)
			require.ElementsMatch(t, c.want, s.found())
		})
	}
}

// evidence gives the id of the reading that an entry rests on.
func (s *tampering) evidence(subject uuid.UUID, seq int) uuid.UUID {
	s.t.Helper()
	var id uuid.UUID
	require.NoError(s.t, s.super.QueryRow(s.t.Context(), `
		SELECT convert_from(canonical, 'UTF8')::jsonb #>> '{body,evidence,0,id}' FROM ledger_entry
		WHERE subject_id = $1 AND seq = $2`, subject, seq).Scan(&id))
	return id
}
