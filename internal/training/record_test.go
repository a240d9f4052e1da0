package training_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
)

func TestTamperingIsNamed(t *testing.T) {
	p := newPool(t, 2)
	skill := first()
	var ids []uuid.UUID
	for _, e := range p.enrolments {
		p.attempt(t, p.confined, p.inConfined[e], skill, nil)
		ids = append(ids, p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: skill})[0].ID)
	}
	p.verified(t)
	p.Super(`UPDATE sign_off SET signed_by = '` + p.assistant.String() + `' WHERE id = '` + ids[0].String() +
		`'`)
	p.Super(`UPDATE drill_attempt SET met = false, claimed = false WHERE enrolment_id = '` +
		p.enrolments[1].String() + `'`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre, ledger.Join(training.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 2, "%+v", report.Problems)
}

func TestTheoryIsPassedAtItsMark(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	part := syllabus.BuiltIn().Theory[0]
	low, created, err := p.service.LogResult(t.Context(), p.by,
		training.Result{ID: uuid.New(), EnrolmentID: e, Part: part.Code,
			Percent: part.PassMark.Value.Float() - 0.5, WitnessedAt: p.witnessedAt, Digest: []byte("a")})
	require.NoError(t, err)
	require.True(t, created)
	require.False(t, low.Passed())
	require.NotEmpty(t, low.Findings.Of(training.BelowPassMark))
	high, _, err := p.service.LogResult(t.Context(), p.by,
		training.Result{ID: uuid.New(), EnrolmentID: e, Part: part.Code, Percent: part.PassMark.Value.Float(),
			WitnessedAt: p.witnessedAt, Digest: []byte("b")})
	require.NoError(t, err)
	require.True(t, high.Passed())
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Equal(t, syllabus.Met, progress.Theory[0].State)
	_, _, err = p.service.LogResult(t.Context(), p.by,
		training.Result{ID: uuid.New(), EnrolmentID: e, Part: "alchemy", Percent: 80,
			WitnessedAt: p.witnessedAt, Digest: []byte("c")})
	require.ErrorIs(t, err, fault.Refused.Err())
}

func TestTheRecordShowsWhatWasDoneAndWhoSawIt(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.attempt(t, p.confined, p.inConfined[e], first(), nil)
	p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: first()})
	r, err := p.service.Record(t.Context(), p.As(p.PersonOf(e)), e)
	require.NoError(t, err)
	require.Len(t, r.Sessions, 2)
	require.Equal(t, "Ines Instructor", *r.Sessions[0].InCharge)
	require.Equal(t, "Ines Instructor", r.SignOffs[0].SignedName)
	require.NotEmpty(t, r.Attempts)
	require.Len(t, r.Chain, 1)
	require.Empty(t, r.Flags())
	var none finding.List
	require.Equal(t, none, r.Progress.Flags)
}

func TestWhoMayEnterTheWater(t *testing.T) {
	p := newPool(t, 1)
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e := p.enrolments[0]
		found, err := p.service.MayEnter(ctx, tx,
			[]training.Entrant{{SessionID: p.open, EnrolmentID: e}, {SessionID: p.confined, EnrolmentID: e}})
		require.NoError(t, err)
		require.True(t, found[p.open].Forbids(), "nothing was learned yet")
		require.False(t, found[p.confined].Forbids())
		return nil
	}))
}
