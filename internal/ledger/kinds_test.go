package ledger_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// Whoever creates a thing chooses its id, so that a person and an enrolment may
// have one. Each has a chain of its own, whichever comes first, in one append
// and in several.
func TestTwoKindsOfThingUnderOneIDHaveTwoChains(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	id := uuid.New()
	lost := func(of string) ledger.Entry {
		return ledger.Entry{Subject: ledger.Subject{Type: of, ID: id}, Kind: ledger.ClearanceLost,
			Ref: uuid.New(), Body: struct{}{}}
	}
	add := func(entries ...ledger.Entry) {
		require.NoError(t, s.in(func(ctx context.Context,
			tx *pg.Tx) error {
			return ledger.AppendAll(ctx, s.who, tx, entries)
		}))
	}
	add(lost("person"))
	s.decide(id, "mask")
	add(lost("group"), lost("person"), lost("group"))
	add(lost("person"))

	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, []int{3, 6}, []int{r.Chains, r.Entries})
	rows, err := s.super.Query(t.Context(),
		`SELECT subject_type, seq FROM ledger_head WHERE subject_id = $1 ORDER BY 1`, id)
	require.NoError(t, err)
	heads, err := pgx.CollectRows(rows, pgx.RowToStructByPos[struct {
		Type string
		Seq  int64
	}])
	require.NoError(t, err)
	require.Len(t, heads, 3)
	require.EqualValues(t, []int64{1, 2, 3}, []int64{heads[0].Seq, heads[1].Seq, heads[2].Seq}, "%v", heads)
}
