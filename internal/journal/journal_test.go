package journal_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// bench is a centre with one person who holds a token.
type bench struct {
	db  *pgtest.DB
	by  actor.Actor
	who actor.Actor
}

func newBench(t *testing.T) bench {
	t.Helper()
	b := bench{db: pgtest.New(t), who: actor.Actor{Centre: uuid.New(), Person: uuid.New(), Token: uuid.New()}}
	b.by = b.who
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		for _, sql := range []string{
			`INSERT INTO centre VALUES (@c, 'Test', 'Europe/Lisbon', 'bar', 18, '{}', NULL, '{}', '{}', 12, true, '30 days', 1, @now, @now)`,
			`INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at, updated_at) VALUES (@c, @p, 'Ada', '1990-01-01', 'bar', '', @now, @now)`,
			`INSERT INTO token (centre_id, id, person_id, hash, scopes, issued_at, expires_at, body_digest) VALUES (@c, @t, @p, '', '{}', @now, @now, '')`,
		} {
			args := pgx.NamedArgs{"c": b.who.Centre, "p": b.who.Person, "t": b.who.Token, "now": tx.Now}
			if _, err := tx.Exec(ctx, sql, args); err != nil {
				return err
			}
		}
		return nil
	})
	return b
}

func (b bench) in(t *testing.T, fn func(ctx context.Context, tx *pg.Tx) error) {
	t.Helper()
	require.NoError(t, b.db.InTx(t.Context(), b.who.Centre, fn))
}

func TestADemoCentresClockMovesNow(t *testing.T) {
	b := newBench(t)
	b.in(t, func(_ context.Context, tx *pg.Tx) error {
		require.WithinDuration(t, time.Now().Add(30*24*time.Hour), tx.Now, time.Minute)
		return nil
	})
	require.NoError(t, b.db.InTx(t.Context(), uuid.New(), func(_ context.Context, tx *pg.Tx) error {
		require.WithinDuration(t, time.Now(), tx.Now, time.Minute,
			"of any other centre, the clock is the real one")
		return nil
	}))
}

func TestAnEntryIsRecordedOnceAndVoidedByALaterRow(t *testing.T) {
	b := newBench(t)
	e := journal.Entry{ID: uuid.New(), Kind: journal.Incident, WitnessedBy: b.who.Person,
		WitnessedAt: time.Now().Truncate(time.Microsecond),
		Digest:      []byte("body"), Findings: finding.List{{Rule: "x", Severity: finding.Note, Message: "m"}}}
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		seen, err := journal.Replay(ctx, tx, e.ID, e.Digest)
		require.NoError(t, err)
		require.False(t, seen)
		return journal.Record(ctx, b.who, tx, e)
	})
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		seen, err := journal.Replay(ctx, tx, e.ID, e.Digest)
		require.NoError(t, err)
		require.True(t, seen)
		_, err = journal.Replay(ctx, tx, e.ID, []byte("another"))
		require.ErrorIs(t, err, fault.Conflict.Err())
		digests, err := journal.Digests(ctx, tx, []uuid.UUID{e.ID, uuid.New()})
		require.NoError(t, err)
		require.Equal(t, map[uuid.UUID][]byte{e.ID: e.Digest}, digests)
		h, err := journal.Find(ctx, tx, e.ID)
		require.NoError(t, err)
		require.NoError(t, journal.Void(ctx, b.who, tx, h, "the wrong person"))
		return journal.Void(ctx, b.who, tx, h, "again")
	})
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		h, err := journal.Find(ctx, tx, e.ID)
		require.NoError(t, err)
		require.Equal(t, "the wrong person", *h.VoidReason)
		require.Equal(t, e.Findings, h.Findings)
		require.True(t, e.WitnessedAt.Equal(h.WitnessedAt))
		_, err = journal.Find(ctx, tx, uuid.New())
		require.ErrorIs(t, err, fault.NotFound.Err())
		kept, err := pg.Rows[string](ctx, tx, `SELECT kind FROM ledger_entry WHERE ref_id = @id`,
			pgx.StrictNamedArgs{"id": e.ID})
		require.NoError(t, err)
		require.Equal(t, []string{string(ledger.EntryVoid)}, kept, "the void is in the ledger, once")
		return nil
	})
	r, err := ledger.Verify(t.Context(), b.db.DB, b.who.Centre, journal.Ledger)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	require.Equal(t, 1, r.Rows)
}

func TestNobodyChangesOrDeletesAnEntry(t *testing.T) {
	b := newBench(t)
	for _, sql := range []string{"UPDATE entry SET kind = kind", "DELETE FROM entry",
		"UPDATE entry_void SET reason = ''", "DELETE FROM decision"} {
		err := b.db.InTx(t.Context(), b.who.Centre, func(ctx context.Context, tx *pg.Tx) error {
			_, err := tx.Exec(ctx, sql)
			return err
		})
		require.ErrorContains(t, err, "permission denied", sql)
	}
}

func TestAWitnessMayNotComeFromTheFuture(t *testing.T) {
	now := time.Date(2026, 6, 6, 9, 0, 0, 0, time.UTC)
	require.NoError(t, journal.CheckTime(now, now.Add(5*time.Minute), "/witnessed_at"))
	require.NoError(t, journal.CheckTime(now, now.AddDate(0, 0, -30), "/witnessed_at"))
	err := journal.CheckTime(now, now.Add(5*time.Minute+time.Second), "/witnessed_at")
	require.ErrorIs(t, err, fault.Malformed.Err())
	require.ErrorContains(t, err, "5 min 1 s ahead")
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, map[string]any{"given_at": "2026-06-06T09:05:01Z", "service_at": "2026-06-06T09:00:00Z",
		"limit": map[string]any{"value": 300.0, "unit": "s"},
		"ahead": map[string]any{"value": 301.0, "unit": "s"}}, f.Findings[0].Params)
}

func TestADecisionAsksForItsAcceptances(t *testing.T) {
	person, program := actor.Actor{Person: uuid.New()}, actor.Actor{Program: "booking page"}
	caution := finding.Finding{Rule: "r", Severity: finding.Caution,
		Subjects: []finding.Subject{{Type: "group", ID: "g"}}}
	partner := finding.Finding{Rule: "r", Severity: finding.Caution, Subjects: []finding.Subject{
		{Type: "participant", ID: "diver"}, {Type: "participant", ID: "away"}, {Type: "session", ID: "s"}}}
	forbidden := finding.Finding{Rule: "f", Severity: finding.Forbidden, Message: "no"}
	yes := []journal.Acceptance{{Rule: "r", SubjectID: "g", Reason: "I was there yesterday"}}
	for _, c := range []struct {
		name  string
		who   actor.Actor
		found finding.List
		said  []journal.Acceptance
		code  string
	}{
		{"nothing found", program, nil, nil, ""},
		{"a caution that nobody accepted", person, finding.List{caution}, nil, "cautions_open"},
		{"a caution accepted for another subject", person, finding.List{caution},
			[]journal.Acceptance{{Rule: "r", SubjectID: "h"}}, "cautions_open"},
		{"a caution accepted", person, finding.List{caution}, yes, ""},
		{"a caution about two people accepted by the partner's id", person, finding.List{partner},
			[]journal.Acceptance{{Rule: "r", SubjectID: "away"}}, "cautions_open"},
		{"and by the diver's own", person, finding.List{partner},
			[]journal.Acceptance{{Rule: "r", SubjectID: "diver"}}, ""},
		{"a caution accepted by a program", program, finding.List{caution}, yes, "missing_role"},
		{"what is forbidden cannot be accepted", person, finding.List{caution, forbidden}, yes,
			"rules_refused"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := journal.RequireAccepted(c.who, c.found, c.said)
			if c.code == "" {
				require.NoError(t, err)
				return
			}
			var f *fault.Fault
			require.ErrorAs(t, err, &f)
			require.Equal(t, c.code, f.Code)
		})
	}
}

func TestADecisionKeepsWhatItWasJudgedOn(t *testing.T) {
	b := newBench(t)
	subject := uuid.New()
	caution := finding.Finding{Rule: "r", Severity: finding.Caution,
		Subjects: []finding.Subject{{Type: "group", ID: "g"}}}
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		return journal.Decide(ctx, b.who, tx,
			journal.Decision{Kind: "create_placements", Subject: finding.Subject{Type: "enrolment", ID: subject.String()},
				JudgedOn: map[string]any{"age": 14}, Findings: finding.List{caution}, Accepted: []journal.Acceptance{{Rule: "r", SubjectID: "g", Reason: "why"}}})
	})
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		got, err := pg.Row[string](ctx, tx,
			`SELECT judged_on::text || (findings->0->>'rule') || (accepted->0->>'reason') FROM decision WHERE subject_id = @s`, pgx.StrictNamedArgs{"s": subject})
		require.NoError(t, err)
		require.Equal(t, `{"age": 14}rwhy`, got)
		return nil
	})
}

// Nobody takes on what is no caution, and nobody takes one on before there is
// one: an acceptance counts for later decisions about the subject too.
func TestWhatWasNoCautionWasNotAccepted(t *testing.T) {
	b := newBench(t)
	subject := uuid.New()
	note := finding.Finding{Rule: "n", Severity: finding.Note,
		Subjects: []finding.Subject{{Type: "group", ID: "g"}}}
	said := []journal.Acceptance{{Rule: "r", SubjectID: "g", Reason: "in case"},
		{Rule: "n", SubjectID: "g", Reason: "noted"}}
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		return journal.Decide(ctx, b.who, tx,
			journal.Decision{Kind: "create_placements", Subject: finding.Subject{Type: "session", ID: subject.String()},
				JudgedOn: 1, Findings: finding.List{note}, Accepted: said})
	})
	b.in(t, func(ctx context.Context, tx *pg.Tx) error {
		accepted, err := journal.Accepted(ctx, tx, "session", subject)
		require.NoError(t, err)
		require.Empty(t, accepted)
		entries, err := pg.Row[int](ctx, tx, `SELECT count(*) FROM ledger_entry WHERE subject_id = @s`,
			pgx.StrictNamedArgs{"s": subject})
		require.NoError(t, err)
		require.Zero(t, entries)
		return nil
	})
}
