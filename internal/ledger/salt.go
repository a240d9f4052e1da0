package ledger

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/json"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Salt is hashed before every value of which the ledger keeps only the hash. Without it, a reader
// of the ledger could find a birth date, a name or a short reason by trying: there are some 40,000
// birth dates. Each decision has one salt of 128 random bits, in the table ledger_salt. Once it is
// deleted, values can no longer be tried, and the chain stays whole. The zero Salt is none.
type Salt [16]byte

// NewSalt returns a random salt.
func NewSalt() Salt {
	var s Salt
	rand.Read(s[:]) // never fails
	return s
}

// Digest returns the SHA-256 of the salt and the canonical form of a value, with every instant in
// UTC and to the microsecond; see the function Digest.
func (s Salt) Digest(v any) (Hash, error) {
	c, err := digestible(v)
	if err != nil {
		return Hash{}, err
	}
	return s.over(c), nil
}

// Text returns the Digest of a text, which always has one.
func (s Salt) Text(text string) Hash {
	h, err := s.Digest(text)
	if err != nil {
		panic("ledger: a text without a canonical form: " + err.Error())
	}
	return h
}

// TextOrNull returns the Digest of a text, nil for nil.
func (s Salt) TextOrNull(text *string) *Hash {
	if text == nil {
		return nil
	}
	return new(s.Text(*text))
}

func (s Salt) over(canonical []byte) Hash {
	if s == (Salt{}) {
		return sha256.Sum256(canonical)
	}
	return sha256.Sum256(slices.Concat(s[:], canonical))
}

// agrees reports whether a value of an entry is the value of a row, or its hash: over the salt of
// the decision, or without a salt, as earlier releases wrote it. Objects and lists are compared
// member by member; null equals absent.
func agrees(entry, row any, salt Salt) (bool, error) {
	switch e := entry.(type) {
	case string:
		if text, ok := row.(string); ok && Hash(sha256.Sum256([]byte(text))).String() == e {
			return true, nil
		}
	case map[string]any:
		if r, ok := row.(map[string]any); ok {
			for _, k := range slices.Concat(slices.Collect(maps.Keys(e)), slices.Collect(maps.Keys(r))) {
				if same, err := agrees(e[k], r[k], salt); err != nil || !same {
					return same, err
				}
			}
			return true, nil
		}
	case []any:
		if r, ok := row.([]any); ok && len(r) == len(e) {
			for i := range e {
				if same, err := agrees(e[i], r[i], salt); err != nil || !same {
					return same, err
				}
			}
			return true, nil
		}
	}
	have, err := digestible(row)
	if err != nil {
		return false, err
	}
	want, err := digestible(entry)
	if err != nil {
		return false, err
	}
	text, _ := entry.(string)
	return string(want) == string(have) || text == salt.over(have).String() ||
		text == Salt{}.over(have).String(), nil
}

// value reads a JSON value; an absent one is null.
func value(raw json.RawMessage) (v any, err error) {
	if len(raw) == 0 {
		return nil, nil
	}
	err = json.Unmarshal(raw, &v)
	return v, err
}

// decision identifies an entry by its kind and the decided row.
type decision struct {
	Kind Kind
	Ref  uuid.UUID
}

// saltsOf reads the salts of decisions.
func saltsOf(ctx context.Context, tx *pg.Tx, records []record) (map[decision]Salt, error) {
	refs := make([]uuid.UUID, len(records))
	for i, c := range records {
		refs[i] = c.Ref
	}
	found, err := pg.Rows[struct {
		Kind  Kind
		RefID uuid.UUID
		Salt  []byte
	}](ctx, tx, `
		SELECT kind, ref_id, salt
		FROM ledger_salt
		WHERE centre_id = @centre AND ref_id = ANY (@refs::uuid[])`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "refs": refs})
	if err != nil {
		return nil, err
	}
	out := make(map[decision]Salt, len(found))
	for _, f := range found {
		var s Salt
		copy(s[:], f.Salt)
		out[decision{f.Kind, f.RefID}] = s
	}
	return out, nil
}
