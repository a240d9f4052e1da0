package ledger_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/ledger"
)

// There are some 40,000 birth dates: a bare hash of one is found by trying them
// all, in a moment. Over a salt that is not there, trying finds nothing.
func TestAShortTextIsNotFoundByTrying(t *testing.T) {
	t.Parallel()
	found := func(h ledger.Hash, over ledger.Salt) (tries int, ok bool) {
		for day := time.Date(1915, 1, 1, 0, 0, 0, 0, time.UTC); day.Year() < 2027; day = day.AddDate(0, 0, 1) {
			tries++
			if text := day.Format(time.DateOnly); over.Text(text) == h || hashText(text) == h {
				return tries, true
			}
		}
		return tries, false
	}
	const born = "1994-03-21"
	_, ok := found(hashText(born), ledger.Salt{})
	require.True(t, ok, "the bare hash is guessed")
	salt := ledger.NewSalt()
	tries, ok := found(salt.Text(born), ledger.Salt{})
	require.False(t, ok)
	require.Greater(t, tries, 40_000)
	_, ok = found(salt.Text(born), salt)
	require.True(t, ok, "whoever has the salt can still compare")
	require.NotEqual(t, salt.Text(born), ledger.NewSalt().Text(born), "each decision has its own")
	require.Nil(t, salt.TextOrNull(nil))
}

// What earlier releases hashed bare still verifies beside what is salted.
func TestBareHashesOfEarlierReleasesStillVerify(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	s.bare = true
	old := s.decide(enrolment, "mask")
	s.bare = false
	salted := s.decide(enrolment, "hover")
	require.Empty(t, s.verify().Problems)
	rows, err := s.super.Query(t.Context(), `SELECT ref_id FROM ledger_salt WHERE centre_id = $1`, s.centre)
	require.NoError(t, err)
	refs, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	require.NoError(t, err)
	require.Equal(t, salted, refs)
	for _, id := range append(old, salted...) {
		s.tamper(`UPDATE verdict SET findings = findings - 1 WHERE id = $1`, id)
	}
	require.Len(t, s.verify().Problems, 2, "either way a change is found")
}

// A hash within a list of objects is compared with the member that it is of.
func TestAHashWithinAListIsCompared(t *testing.T) {
	t.Parallel()
	salt := ledger.NewSalt()
	reason := `{"rule":"x","reason":"short"}`
	for name, c := range map[string]struct {
		entry any
		same  bool
	}{
		"salted": {[]any{map[string]any{"rule": "x", "reason": salt.Text("short")}}, true},
		"bare":   {[]any{map[string]any{"rule": "x", "reason": hashText("short")}}, true},
		"plain":  {[]any{json.RawMessage(reason)}, true},
		"other":  {[]any{map[string]any{"rule": "x", "reason": salt.Text("long")}}, false},
		"more":   {[]any{map[string]any{"rule": "x", "reason": salt.Text("short"), "and": 1}}, false},
		"twice":  {[]any{json.RawMessage(reason), json.RawMessage(reason)}, false},
	} {
		same, err := ledger.Agrees(c.entry, json.RawMessage("["+reason+"]"), salt)
		require.NoError(t, err)
		require.Equal(t, c.same, same, name)
	}
}
