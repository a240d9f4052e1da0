package people_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
)

type bench struct {
	*scenetest.Fixture
	people *people.Service
	by     actor.Actor // of the manager, who is an instructor too
}

func newBench(t *testing.T) *bench {
	t.Helper()
	t.Parallel()
	s := scenetest.New(t)
	s.Clock(time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC))
	return &bench{Fixture: s, people: people.New(s.DB.DB), by: s.As(s.Manager)}
}

// in runs what takes part in a transaction of its caller's.
func (b *bench) in(do func(ctx context.Context, tx *pg.Tx) error) error {
	return b.DB.InTx(b.Context(), b.Centre, do)
}

// Eight people find at once that a paper was entered wrongly: it is voided once,
// with one reason, in the rows and in the ledger alike.
func TestAPaperIsVoidedOnceHoweverManyFindIt(t *testing.T) {
	b := newBench(t)
	student := b.Student("Sara Student", "1995-05-05")
	key := once.New()
	require.NoError(t, b.in(func(ctx context.Context, tx *pg.Tx) error {
		_, _, err := b.people.RecordPaper(ctx, b.by, tx,
			people.NewPaper{Key: key, PersonID: student, Kind: "insurance", Outcome: "valid",
				IssuedOn: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)})
		return err
	}))
	reasons := make([]string, 8)
	for i, err := range scenetest.Concurrently(8, func(i int) error {
		return b.in(func(ctx context.Context, tx *pg.Tx) error {
			p, err := b.people.VoidPaper(ctx, b.by, tx, key.ID, fmt.Sprintf("reason %d", i))
			if err == nil {
				reasons[i] = *p.VoidReason
			}
			return err
		})
	}) {
		require.NoError(t, err, "%d", i)
	}
	require.Len(t, slices.Compact(slices.Sorted(slices.Values(reasons))), 1,
		"everybody is told the one reason: %v", reasons)
	require.Equal(t, 1, b.Count(`SELECT 1 FROM paper_void`))
	require.Equal(t, 1, b.Count(`SELECT 1 FROM ledger_entry WHERE kind = '`+string(ledger.PaperVoid)+`'`))
	kept, err := b.people.Papers(t.Context(), b.by, student)
	require.NoError(t, err)
	require.Len(t, kept, 3, "a voided paper stays on the list")
}

// A telephone that lost its answer sends the paper again while the first request
// is still under way.
func TestAPaperSentTwiceAtOnceIsRecordedOnce(t *testing.T) {
	b := newBench(t)
	student, key := b.Student("Sara Student", "1995-05-05"), once.New()
	made := make([]bool, 6)
	for _, err := range scenetest.Concurrently(6, func(i int) error {
		return b.in(func(ctx context.Context, tx *pg.Tx) (err error) {
			_, made[i], err = b.people.RecordPaper(ctx, b.by, tx,
				people.NewPaper{Key: key, PersonID: student, Kind: "consent", Outcome: "valid",
					IssuedOn: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)})
			return err
		})
	}) {
		require.NoError(t, err)
	}
	n := 0
	for _, m := range made {
		if m {
			n++
		}
	}
	require.Equal(t, 1, n, "one of them was told that it was recorded")
	require.Equal(t, 1, b.Count(`SELECT 1 FROM paper WHERE kind = 'consent'`))
}

// Two managers take the role off each other at once: one stays.
func TestTheLastManagerStays(t *testing.T) {
	b := newBench(t)
	second := b.Person("Mia Manager", "1970-01-01", "manager")
	of := []uuid.UUID{second, b.Manager}
	by := []actor.Actor{b.by, b.As(second)}
	errs := scenetest.Concurrently(2, func(i int) error {
		_, err := b.people.TakeRole(t.Context(), by[i], of[i], actor.Manager)
		return err
	})
	require.Equal(t, 1, b.Count(`SELECT 1 FROM person_role WHERE role = 'manager'`))
	require.True(t, (errs[0] == nil) != (errs[1] == nil), "%v", errs)
	for _, err := range errs {
		if err != nil {
			require.ErrorIs(t, err, fault.Conflict.Err())
		}
	}
}

func listOf(n int) []byte {
	var list strings.Builder
	list.WriteString("name,birth_on,gauge_unit,email\n")
	for i := range n {
		fmt.Fprintf(&list, "Student %03d,1995-05-05,psi,s%03d@example.org\n", i, i)
	}
	return []byte(list.String())
}

// A season's list, sent by two who did not know of each other, and a third time
// later: everybody is added once, in the order of the list.
func TestFiveHundredAreTakenInOnce(t *testing.T) {
	b := newBench(t)
	before := b.Count(`SELECT 1 FROM person`)
	key := once.Key{ID: uuid.New(), Digest: []byte("the list")}
	for _, err := range scenetest.Concurrently(2, func(int) error {
		_, _, err := b.people.ImportList(t.Context(), b.by, key, listOf(500))
		return err
	}) {
		if err != nil { // the other one was quicker and holds the ids
			require.ErrorIs(t, err, fault.Conflict.Err())
		}
	}
	require.Equal(t, 500, b.Count(`SELECT 1 FROM person`)-before)
	out, created, err := b.people.ImportList(t.Context(), b.by, key, listOf(500))
	require.NoError(t, err)
	require.False(t, created)
	require.Len(t, out, 500)
	for i, p := range out {
		require.Equal(t, fmt.Sprintf("Student %03d", i), p.Name)
		require.Equal(t, []actor.Role{actor.Student}, p.Roles)
	}
}

func TestAListIsTakenInWholeOrNotAtAll(t *testing.T) {
	b := newBench(t)
	before := b.Count(`SELECT 1 FROM person`)
	bad := strings.Replace(string(listOf(500)), "Student 498,1995-05-05", "Student 498,1995-02-30", 1)
	_, _, err := b.people.ImportList(t.Context(), b.by, once.New(), []byte(bad))
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Len(t, f.Findings, 1)
	require.Equal(t, 500, f.Findings[0].Line, "line 1 has the names")
	require.Equal(t, before, b.Count(`SELECT 1 FROM person`))
	_, _, err = b.people.ImportList(t.Context(), b.by, once.New(), listOf(1001))
	require.ErrorIs(t, err, fault.Malformed.Err())
	require.Equal(t, before, b.Count(`SELECT 1 FROM person`))
}
