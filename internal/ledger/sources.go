package ledger

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Decided says where the decided rows of one kind are. Its SQL is a SELECT over
// the centre @centre that gives ref (the row's id), subject (the id of the
// subject in whose chain its entry stands) and then every column to compare,
// each named as in the entry's body:
//
//	SELECT id AS ref, enrolment_id AS subject, signed_at AS at, signed_by AS person, skill, findings
//	FROM sign_off WHERE centre_id = @centre
//
// Columns named at, person and token are compared with the moment of the entry
// and with who made it, and not with the body. Null here equals null or absent
// there; instants are compared as instants; of any value the body may have the
// Digest instead. Without SQL the entries are the only record of their kind.
type Decided struct {
	Kind Kind
	SQL  string
}

// Witnessed says where the rows are that serve as evidence of one type. Its SQL
// is like that of Decided, without subject. Every column counts.
type Witnessed struct {
	Type string
	SQL  string
}

// Sources is what a ledger is compared with.
type Sources struct {
	Decided   []Decided
	Witnessed []Witnessed
}

// Join puts together the sources of several features.
func Join(all ...Sources) Sources {
	var out Sources
	for _, s := range all {
		out.Decided = append(out.Decided, s.Decided...)
		out.Witnessed = append(out.Witnessed, s.Witnessed...)
	}
	return out
}

// Evidence is one witnessed row that a decision rests on, as it was then.
type Evidence struct {
	Type   string    `json:"type"`
	ID     uuid.UUID `json:"id"`
	Digest Hash      `json:"digest"`
}

// Gather gives the evidence that the rows with these ids are, in the order of
// the ids. It fails when a row is not there.
func (w Witnessed) Gather(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) ([]Evidence, error) {
	if len(ids) == 0 {
		return []Evidence{}, nil
	}
	rows, err := find(ctx, tx, w.SQL, ids)
	if err != nil {
		return nil, fmt.Errorf("gather %s: %w", w.Type, err)
	}
	out := make([]Evidence, 0, len(ids))
	for _, id := range ids {
		r, ok := rows[id]
		if !ok {
			return nil, fmt.Errorf("gather %s: there is no %s", w.Type, id)
		}
		d, err := Digest(r)
		if err != nil {
			return nil, fmt.Errorf("gather %s: %w", w.Type, err)
		}
		out = append(out, Evidence{Type: w.Type, ID: id, Digest: d})
	}
	return out, nil
}

// row is a row of a source: ref, subject and the columns to compare.
type row map[string]json.RawMessage

func (r row) id(column string) uuid.UUID {
	var id uuid.UUID
	if err := json.Unmarshal(r[column], &id); err != nil {
		return uuid.Nil
	}
	return id
}

// differs names the columns that the entry has otherwise, in order.
func (r row) differs(c *record) ([]string, error) {
	entry, err := c.fields()
	if err != nil {
		return nil, err
	}
	var out []string
	for k, raw := range r {
		if k == "ref" || k == "subject" || bytes.Equal(raw, entry[k]) {
			continue
		}
		have, err := plain(raw)
		if err != nil {
			return nil, err
		}
		want, err := plain(entry[k])
		if err != nil {
			return nil, err
		}
		if string(have) != string(want) && !isDigest(want, have) {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out, nil
}

// isDigest tells whether a JSON string is the Digest of a value.
func isDigest(text, of []byte) bool {
	return string(text) == `"`+Hash(sha256.Sum256(of)).String()+`"`
}

// errBody says that an entry's body is not what Append writes.
var errBody = errors.New("its body is not an object")

// fields gives what a row is compared with, by the columns' names.
func (c *record) fields() (row, error) {
	var out row
	if err := json.Unmarshal(c.Body, &out); err != nil || out == nil {
		return nil, errBody
	}
	for k, v := range map[string]any{"at": c.At, "person": c.Person, "token": c.Token} {
		raw, err := json.Marshal(v)
		if err != nil {
			return nil, err
		}
		out[k] = raw
	}
	return out, nil
}

// find gives the rows of a source that have these refs.
func find(ctx context.Context, tx *pg.Tx, sql string, refs []uuid.UUID) (map[uuid.UUID]row, error) {
	found, err := pg.Many[struct {
		Row row `db:"row"`
	}](ctx, tx, `SELECT to_jsonb(r) AS row FROM (`+sql+`) r WHERE r.ref = ANY(@refs::uuid[])`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "refs": refs})
	if err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]row, len(found))
	for _, f := range found {
		out[f.Row.id("ref")] = f.Row
	}
	return out, nil
}
