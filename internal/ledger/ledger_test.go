package ledger_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/ledger"
	"tankside/internal/pg"
)

func TestAnEntrySaysWhoDecidedWhatWhen(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	ids := s.decide(enrolment, "mask", "hover")
	rows, err := s.super.Query(t.Context(), `SELECT seq, kind, ref_id, person_id, token_id, prev, hash,
		convert_from(canonical, 'UTF8') FROM ledger_entry WHERE subject_id = $1 ORDER BY seq`, enrolment)
	require.NoError(t, err)
	last := make([]byte, 32)
	n := 0
	for rows.Next() {
		var seq int
		var kind, canonical string
		var ref, person, token uuid.UUID
		var prev, hash []byte
		require.NoError(t, rows.Scan(&seq, &kind, &ref, &person, &token, &prev, &hash, &canonical))
		n++
		require.Equal(t, n, seq)
		require.Equal(t, "sign_off", kind)
		require.Equal(t, ids[n-1], ref)
		require.Equal(t, s.who.Person, person)
		require.Equal(t, s.who.Token, token)
		require.Equal(t, last, prev)
		require.Contains(t, canonical, fmt.Sprintf(`"prev":"%x"`, prev))
		require.Contains(t, canonical, fmt.Sprintf(`"person":"%s"`, s.who.Person))
		last = hash
	}
	require.NoError(t, rows.Err())
	require.Equal(t, 2, n)

	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, []int{1, 2, 2, 2}, []int{r.Chains, r.Entries, r.Rows, r.Evidence})
	require.WithinDuration(t, time.Now(), r.At, time.Minute)
}

func TestWhatIsRolledBackLeavesNoGap(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	s.decide(enrolment, "mask")
	failed := errors.New("the case failed later")
	require.ErrorIs(t, s.in(func(ctx context.Context, tx *pg.Tx) error {
		e, err := s.verdict(ctx, tx, enrolment, "hover")
		require.NoError(t, err)
		require.NoError(t, ledger.Append(ctx, s.who, tx, e))
		return failed
	}), failed)
	s.decide(enrolment, "ascent")
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, 2, r.Entries)
}

func TestCentresDoNotSeeEachOthersChains(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	s.decide(enrolment, "mask")
	first := s.centre
	s.centre = s.addCentre()
	s.decide(enrolment, "mask", "hover") // the same id in another centre
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, 2, r.Entries)
	s.centre = first
	require.Equal(t, 1, s.verify().Entries)
}

func TestTheServiceCanOnlyAppend(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.decide(uuid.New(), "mask")
	for _, sql := range []string{`UPDATE ledger_entry SET kind = 'x'`, `DELETE FROM ledger_entry`,
		`TRUNCATE ledger_entry`,
		`DELETE FROM ledger_head`} {
		err := s.in(func(ctx context.Context, tx *pg.Tx) error {
			_, err := tx.Exec(ctx, sql)
			return err
		})
		require.ErrorContains(t, err, "permission denied", sql)
	}
}

func TestAppendRefuses(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	s.decide(enrolment, "mask")
	good := ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: enrolment}, Kind: ledger.ClearanceLost,
		Ref: uuid.New(), Body: struct{}{}}
	for _, c := range []struct {
		name   string
		change func(*ledger.Entry)
		want   string
	}{
		{"an unknown kind", func(e *ledger.Entry) { e.Kind = "promotion" }, "known kind"},
		{"no decided row", func(e *ledger.Entry) { e.Ref = uuid.Nil }, "decided row"},
		{"no subject", func(e *ledger.Entry) { e.Subject.ID = uuid.Nil }, "subject"},
		{"a subject of no type", func(e *ledger.Entry) { e.Subject.Type = "" }, "subject"},
		{"a body without canonical form", func(e *ledger.Entry) { e.Body = map[string]int64{"n": 1<<60 + 1} },
			"loses digits"},
	} {
		e := good
		c.change(&e)
		err := s.in(func(ctx context.Context, tx *pg.Tx) error { return ledger.Append(ctx, s.who, tx, e) })
		require.ErrorContains(t, err, c.want, c.name)
	}
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, 1, r.Entries)
}

func TestEvidenceMustBeThere(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	missing := uuid.New()
	require.ErrorContains(t, s.in(func(ctx context.Context, tx *pg.Tx) error {
		_, err := readings.Gather(ctx, tx, missing)
		return err
	}), missing.String())
}

// PostgreSQL writes an instant in the zone of the connection; the digest of
// evidence must not depend on it.
func TestDigestsDoNotDependOnTheZone(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	id := uuid.New()
	s.tamper(`INSERT INTO gauge_reading VALUES ($1, $2, 187.50, '2026-06-06T09:00:00.123456Z')`, s.centre, id)
	digest := func(zone string) (d ledger.Hash) {
		require.NoError(t, s.in(func(ctx context.Context, tx *pg.Tx) error {
			if _, err := tx.Exec(ctx, `SELECT set_config('timezone', $1, true)`, zone); err != nil {
				return err
			}
			e, err := readings.Gather(ctx, tx, id)
			d = e[0].Evidence(ledger.Salt{}).Digest
			return err
		}))
		return d
	}
	utc := digest("UTC")
	require.Equal(t, utc, digest("Asia/Kathmandu"))
	// The digest by hand: what another program would compute from RFC 8785.
	require.Equal(t, hashText(fmt.Sprintf(`{"bar":187.5,"ref":"%s","seen_at":"2026-06-06T09:00:00.123456Z"}`,
		id)), utc)
}

// 16 clients append to 4 chains, several at once and in any order: no chain has
// a gap, and nobody meets a deadlock.
func TestManyClientsLeaveWholeChains(t *testing.T) {
	t.Parallel()
	const clients, rounds = 16, 12
	s := newScene(t)
	chains := []uuid.UUID{uuid.New(), uuid.New(), uuid.New(), uuid.New()}
	var wg sync.WaitGroup
	errs := make(chan error, clients*rounds)
	for range clients {
		wg.Go(func() {
			for range rounds {
				errs <- s.in(func(ctx context.Context, tx *pg.Tx) error {
					var entries []ledger.Entry
					for range 3 {
						e, err := s.verdict(ctx, tx, chains[rand.IntN(len(chains))], "mask")
						if err != nil {
							return err
						}
						entries = append(entries, e)
					}
					return ledger.AppendAll(ctx, s.who, tx, entries)
				})
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	var deadlocks int
	require.NoError(t, s.super.QueryRow(t.Context(),
		`SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()`).Scan(&deadlocks))
	require.Zero(t, deadlocks)
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, clients*rounds*3, r.Entries)
	require.Equal(t, len(chains), r.Chains)
}

// A chain longer than one page of the verifier is walked in one piece.
func TestLongChainsAreWalkedOverPages(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	enrolment := uuid.New()
	entries := make([]ledger.Entry, 2500)
	for i := range entries {
		entries[i] = ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: enrolment},
			Kind: ledger.ClearanceLost,
			Ref:  uuid.New(), Body: map[string]int{"students": i}}
	}
	require.NoError(t, s.in(func(ctx context.Context,
		tx *pg.Tx) error {
		return ledger.AppendAll(ctx, s.who, tx, entries)
	}))
	r := s.verify()
	require.True(t, r.Whole(), r.Problems)
	require.Equal(t, 2500, r.Entries)
	s.tamper(`UPDATE ledger_entry SET hash = sha256('x') WHERE seq IN (1000, 1001, 2500)`)
	var at []int64
	for _, p := range s.verify().Problems {
		require.Equal(t, ledger.EntryChanged, p.Code)
		at = append(at, p.Seq)
	}
	require.Equal(t, []int64{1000, 1001, 2500}, at)
}

func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{1, 8} {
		b.Run(fmt.Sprintf("%d subjects", n), func(b *testing.B) {
			s := newScene(b)
			by := s.who
			subjects := make([]uuid.UUID, n)
			for i := range subjects {
				subjects[i] = uuid.New()
			}
			body := verdict{Skill: "mask", Figure: 12.5, Findings: hashText("x")}
			for b.Loop() {
				entries := make([]ledger.Entry, n)
				for i := range entries {
					entries[i] = ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: subjects[i]},
						Kind: ledger.ClearanceLost, Ref: uuid.New(), Body: body}
				}
				err := s.InTx(b.Context(), s.centre,
					func(ctx context.Context,
						tx *pg.Tx) error {
						return ledger.AppendAll(ctx, by, tx, entries)
					})
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCanonical(b *testing.B) {
	body := verdict{Skill: "mask", Figure: 12.5, Findings: hashText("x"),
		Evidence: []ledger.Evidence{{Type: "reading", ID: uuid.New(), Digest: hashText("x")}}}
	for b.Loop() {
		c, err := ledger.Canonical(body)
		if err != nil || !bytes.HasPrefix(c, []byte(`{"evidence"`)) {
			b.Fatal(err)
		}
	}
}
