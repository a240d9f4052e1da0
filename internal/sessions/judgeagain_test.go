package sessions_test

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/decision"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/sessions"
)

// judgedAgain judges every decision of the weekend again, at the end of each test of this
// package: whatever happened meanwhile, each comes to the same.
func (w *weekend) judgedAgain(t *testing.T) {
	t.Helper()
	if w.altered || t.Failed() {
		return
	}
	for id, c := range w.compared(t) {
		require.True(t, c.Same(), "decision %s: %+v %v", id, c.Differences, c.Again.Differs)
	}
}

// compared returns the decisions about sessions, each held against its being judged again.
func (w *weekend) compared(t *testing.T) map[uuid.UUID]decision.Comparison {
	t.Helper()
	out := map[uuid.UUID]decision.Comparison{}
	require.NoError(t, w.DB.InTx(context.Background(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
		ids, _, err := journal.DecisionsFrom(ctx, tx, time.Time{}, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC),
			page.Request{Limit: math.MaxInt32})
		if err != nil {
			return err
		}
		for _, id := range ids {
			made, err := journal.FindDecision(ctx, tx, id)
			if err != nil {
				return err
			}
			if !slices.Contains(sessions.DecisionKinds(), made.Kind) {
				require.NotEqual(t, "session", made.SubjectType, "the kind %s is not judged again", made.Kind)
				continue
			}
			on, err := decision.Read(made.JudgedOn)
			if err != nil {
				return err
			}
			again, err := sessions.JudgeAgain(ctx, tx, made, on)
			if err != nil {
				return err
			}
			out[id] = decision.Compare(made.Findings, again, on.Rules)
		}
		return nil
	}))
	return out
}

// Papers that were voided since, and a birth date that was corrected, change nothing and
// are said; a paper whose row somebody took away, or altered, is found.
func TestADecisionIsJudgedByTheRecordsOfItsDay(t *testing.T) {
	w := newWeekend(t, 1)
	child := w.Student("Cleo Child", "2012-06-07")
	consent := w.Paper(child, "consent", "valid", "2026-01-01", "")
	e := w.Enrol(w.course, child)
	require.NoError(t, w.place(append(slices.Clone(w.enrolments), e)...))
	w.Exec(`INSERT INTO paper_void (centre_id, paper_id, reason, voided_by, voided_at)
		VALUES (@centre, @id, 'the wrong child', @by, @now)`, pgx.NamedArgs{"id": consent, "by": w.Manager})
	w.Exec(`UPDATE person SET birth_on = '2017-01-01' WHERE id = @id`, pgx.NamedArgs{"id": child})
	said := ""
	for _, c := range w.compared(t) {
		require.True(t, c.Same(), "%+v", c.Differences)
		for _, s := range c.Again.Since {
			said += s
		}
	}
	require.Contains(t, said, "Paper "+consent.String()+" was voided on")
	require.Contains(t, said, "judged by 13 years")

	w.altered = true
	w.Super(`UPDATE paper SET outcome = 'physician_refused' WHERE kind = 'medical' AND person_id = '` +
		child.String() + `'`)
	require.True(t, w.differs(t, "roster.medical_flagged"))
	w.Super(`DELETE FROM paper_void; DELETE FROM paper WHERE kind = 'consent'`)
	require.True(t, w.differs(t, "roster.minor_consent"))
}

// differs reports whether a finding of a rule is made only when judged again.
func (w *weekend) differs(t *testing.T, rule string) bool {
	t.Helper()
	for _, c := range w.compared(t) {
		for _, d := range c.Differences {
			if d.Now && d.Finding.Rule == rule {
				return true
			}
		}
	}
	return false
}

// A session is judged again by the edition of the centre's own book that was applied, and
// by no other; where that edition is not kept, it is said.
func TestAGroupIsJudgedByTheEditionOfItsDay(t *testing.T) {
	w := newWeekend(t, 2)
	book := func(version, places string) {
		w.Exec(`INSERT INTO rule_book (centre_id, version, content, set_at)
			VALUES (@centre, @version, jsonb_build_object('ID', 'own', 'Title', 'Ours', 'Kind', 'own',
				'Source', 'ours', 'Status', 'set', 'Version', @version::text,
				'Lines', jsonb_build_array(jsonb_build_object('Title', 'all', 'AgeFrom', 10,
					'Settings', '["open"]'::jsonb, 'Levels', '["entry_level"]'::jsonb,
					'Places', @places::jsonb))), @now)`,
			pgx.NamedArgs{"version": version, "places": places})
		w.Exec(`UPDATE centre SET own_book = (SELECT content FROM rule_book WHERE version = @version)`,
			pgx.NamedArgs{"version": version})
	}
	book("2", "[4]")
	require.NoError(t, w.place(w.enrolments...))
	book("3", "[1]")
	w.judgedAgain(t)
	w.altered = true
	w.Super(`DELETE FROM rule_book WHERE version = '2'`)
	var said []string
	for _, c := range w.compared(t) {
		said = append(said, c.Again.Differs...)
	}
	require.Contains(t, said, "Rule book own is not kept in edition 2.")
}

// Kinds of decision that no other test of this package ends with.
func TestWhatIsRearrangedIsJudgedAgain(t *testing.T) {
	w := newWeekend(t, 2)
	other := w.Crew("Rui Instructor", "instructor")
	require.NoError(t, w.place(w.enrolments...))
	_, _, err := w.service.ChangeGroup(t.Context(), w.by, w.group.ID, w.groupVersion(t),
		func(f *sessions.GroupFields) { f.PlacesLowered = new(3) }, nil)
	require.NoError(t, err)
	_, _, err = w.service.ReplaceInstructor(t.Context(), w.by,
		sessions.Replacement{GroupID: w.group.ID, PersonID: other, Stays: true}, nil)
	require.NoError(t, err)
	part := w.part(t, w.instructor)
	_, err = w.service.RemoveParticipant(t.Context(), w.by, part.ID, part.Version, nil)
	require.NoError(t, err)
	_, _, _, err = w.service.OpenGroup(t.Context(), w.by, sessions.NewGroup{Key: once.New(),
		SessionID: w.open.ID, Name: "red", InCharge: w.instructor}, nil)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(w.compared(t)), 7)
}

// groupVersion returns the present version of the group.
func (w *weekend) groupVersion(t *testing.T) (v int64) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		v, err = pg.Row[int64](ctx, tx, `SELECT version FROM session_group WHERE id = @id`,
			pgx.StrictNamedArgs{"id": w.group.ID})
		return err
	}))
	return v
}
