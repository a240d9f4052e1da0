package assessment_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/waterview"
)

func TestTamperingIsNamed(t *testing.T) {
	p := pooltest.New(t, 2)
	skill := pooltest.First()
	var ids []uuid.UUID
	for _, e := range p.Enrolments {
		p.Attempt(t, p.Confined, p.InConfined[e], skill, nil)
		ids = append(ids, p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: skill})[0].ID)
	}
	p.Verified(t)
	p.Super(`UPDATE sign_off SET signed_by = '` + p.Assistant.String() + `' WHERE id = '` + ids[0].String() +
		`'`)
	p.Super(`UPDATE drill_attempt SET met = false, claimed = false WHERE enrolment_id = '` +
		p.Enrolments[1].String() + `'`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre,
		ledger.Join(waterview.Ledger, assessment.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 2, "%+v", report.Problems)
}

func TestTheoryIsPassedAtItsMark(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	part := syllabus.BuiltIn().Theory[0]
	low, created, err := p.Assessment.LogResult(t.Context(), p.By,
		assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: e, Part: part.Code,
			Percent: part.PassMark.Value.Float() - 0.5, WitnessedAt: p.WitnessedAt, Digest: []byte("a")})
	require.NoError(t, err)
	require.True(t, created)
	require.False(t, low.Passed())
	require.NotEmpty(t, low.Findings.Of(assessment.BelowPassMark))
	high, _, err := p.Assessment.LogResult(t.Context(), p.By,
		assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: e, Part: part.Code,
			Percent:     part.PassMark.Value.Float(),
			WitnessedAt: p.WitnessedAt, Digest: []byte("b")})
	require.NoError(t, err)
	require.True(t, high.Passed())
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Equal(t, syllabus.Met, progress.Theory[0].State)
	_, _, err = p.Assessment.LogResult(t.Context(), p.By,
		assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: e, Part: "alchemy", Percent: 80,
			WitnessedAt: p.WitnessedAt, Digest: []byte("c")})
	require.ErrorIs(t, err, fault.Refused.Err())
}

func TestTheRecordShowsWhatWasDoneAndWhoSawIt(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Attempt(t, p.Confined, p.InConfined[e], pooltest.First(), nil)
	p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: pooltest.First()})
	r, err := p.Record(p.As(p.PersonOf(e)), e)
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
	p := pooltest.New(t, 1)
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e := p.Enrolments[0]
		found, err := p.Standings.Prerequisites(ctx, tx,
			[]standing.Entrant{{SessionID: p.Open, EnrolmentID: e}, {SessionID: p.Confined, EnrolmentID: e}})
		require.NoError(t, err)
		require.True(t, found[p.Open].Forbids(), "nothing was learned yet")
		require.False(t, found[p.Confined].Forbids())
		return nil
	}))
}
