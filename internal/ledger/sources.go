package ledger

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Decided declares where the decided rows of one kind are. Its SQL is a SELECT over the centre @centre
// that returns ref (the row's id), subject (the id of the subject of its chain) and then every column to
// compare, each named as in the entry's body:
//
//	SELECT id AS ref, enrolment_id AS subject, signed_at AS at, signed_by AS person, skill, findings
//	FROM sign_off
//	WHERE centre_id = @centre
//
// Columns named at, person and token are compared with the entry's time, person and token, not with the
// body. Null in the row equals null or absent in the body; instants are compared as instants. In place of
// any value, members of lists and objects included, the body may have its hash over the salt of the entry
// (or without a salt, as earlier releases wrote it). Without SQL the entries are the only record of their
// kind.
type Decided struct {
	Kind Kind
	SQL  string
}

// Witnessed declares where the rows are that serve as evidence of one type. Its SQL is like that of
// Decided, without subject. Every column is compared.
type Witnessed struct {
	Type string
	SQL  string
}

// Sources are the rows with which a ledger is compared.
type Sources struct {
	Decided   []Decided
	Witnessed []Witnessed
}

// Join returns the sources of several features as one.
func Join(all ...Sources) Sources {
	var out Sources
	for _, s := range all {
		out.Decided = append(out.Decided, s.Decided...)
		out.Witnessed = append(out.Witnessed, s.Witnessed...)
	}
	return out
}

// Evidence is one witnessed row that a decision rests on, with its hash at that time.
type Evidence struct {
	Type   string    `json:"type"`
	ID     uuid.UUID `json:"id"`
	Digest Hash      `json:"digest"`
}

// Seen is a witnessed row as it is now. Each decision that rests on it makes its own Evidence from
// it.
type Seen struct {
	Type      string
	ID        uuid.UUID
	canonical []byte
}

// Evidence returns the row as evidence of the decision with this salt.
func (s Seen) Evidence(salt Salt) Evidence {
	return Evidence{Type: s.Type, ID: s.ID, Digest: salt.over(s.canonical)}
}

// Evidences returns rows as evidence of the decision with this salt.
func Evidences(salt Salt, rows ...Seen) []Evidence {
	out := make([]Evidence, len(rows))
	for i, r := range rows {
		out[i] = r.Evidence(salt)
	}
	return out
}

// Gather reads the rows with these ids, in the order of the ids. It fails when a row does not
// exist.
func (w Witnessed) Gather(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) ([]Seen, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	rows, err := find(ctx, tx, w.SQL, ids)
	if err != nil {
		return nil, fmt.Errorf("gather %s: %w", w.Type, err)
	}
	out := make([]Seen, 0, len(ids))
	for _, id := range ids {
		r, ok := rows[id]
		if !ok {
			return nil, fmt.Errorf("gather %s: there is no %s", w.Type, id)
		}
		c, err := digestible(r)
		if err != nil {
			return nil, fmt.Errorf("gather %s: %w", w.Type, err)
		}
		out = append(out, Seen{Type: w.Type, ID: id, canonical: c})
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

// differs returns the columns in which the row differs from the entry, in order.
func (r row) differs(c *record, salt Salt) ([]string, error) {
	entry, err := c.fields()
	if err != nil {
		return nil, err
	}
	var out []string
	for k, raw := range r {
		if k == "ref" || k == "subject" || bytes.Equal(raw, entry[k]) {
			continue
		}
		have, err := value(raw)
		if err != nil {
			return nil, err
		}
		want, err := value(entry[k])
		if err != nil {
			return nil, err
		}
		same, err := agrees(want, have, salt)
		if err != nil {
			return nil, err
		}
		if !same {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out, nil
}

// errBody is the error for a body that Append did not write.
var errBody = errors.New("its body is not an object")

// fields returns the values with which a row is compared, by the columns' names.
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

// find returns the rows of a source that have these refs.
func find(ctx context.Context, tx *pg.Tx, sql string, refs []uuid.UUID) (map[uuid.UUID]row, error) {
	found, err := pg.Rows[struct {
		Row row `db:"row"`
	}](ctx, tx, `
		SELECT to_jsonb(r) AS row
		FROM (`+sql+`) r
		WHERE r.ref = ANY(@refs::uuid[])`,
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
