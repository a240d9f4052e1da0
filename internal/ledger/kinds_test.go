package ledger_test

import (
	"context"
	"io/fs"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/migrations"
)

// Whoever creates a thing chooses its id, so that a person and an enrolment may
// have one. Each has a chain of its own, whichever comes first, in one append
// and in several.
func TestTwoKindsOfThingUnderOneIDHaveTwoChains(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	id := uuid.New()
	lost := func(of string) ledger.Entry {
		return ledger.Entry{Subject: ledger.Subject{Type: of, ID: id}, Kind: ledger.ClearanceLost, Ref: uuid.New(), Body: struct{}{}}
	}
	add := func(entries ...ledger.Entry) {
		require.NoError(t, s.in(func(ctx context.Context, tx *pg.Tx) error { return ledger.AppendAll(ctx, tx, entries) }))
	}
	add(lost("person"))
	s.decide(id, "mask")
	add(lost("group"), lost("person"), lost("group"))
	add(lost("person"))

	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, []int{3, 6}, []int{r.Chains, r.Entries})
	rows, err := s.super.Query(t.Context(), `SELECT subject_type, seq FROM ledger_head WHERE subject_id = $1 ORDER BY 1`, id)
	require.NoError(t, err)
	heads, err := pgx.CollectRows(rows, pgx.RowToStructByPos[struct {
		Type string
		Seq  int64
	}])
	require.NoError(t, err)
	require.Len(t, heads, 3)
	require.EqualValues(t, []int64{1, 2, 3}, []int64{heads[0].Seq, heads[1].Seq, heads[2].Seq}, "%v", heads)
}

// Chains that were written when an id had one chain alone are found whole after
// the migration, hash by hash, and go on.
func TestChainsFromBeforeTheMigrationStayWhole(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	a, b := uuid.New(), uuid.New()
	s.decide(a, "mask", "hover")
	s.decide(b, "mask")
	hashes := func() []string {
		rows, err := s.super.Query(t.Context(), `SELECT encode(hash, 'hex') FROM ledger_entry ORDER BY subject_id, seq`)
		require.NoError(t, err)
		out, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		return out
	}
	before := hashes()

	owner, err := pgx.Connect(t.Context(), s.OwnerURL)
	require.NoError(t, err)
	defer owner.Close(context.Background())
	for _, step := range []string{"000028_kinds_apart.down.sql", "000028_kinds_apart.up.sql"} {
		sql, err := fs.ReadFile(migrations.Files, step)
		require.NoError(t, err)
		_, err = owner.Exec(t.Context(), string(sql))
		require.NoError(t, err, step)
	}
	require.Equal(t, before, hashes())
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	s.decide(a, "ascent")
	r = s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, 4, r.Entries)
}
