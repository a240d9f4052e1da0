package assessment_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/waterview"
)

func TestWhatACreditIsFor(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	one, none, skill, unknown := 1, 9, "swim", "alchemy"
	for _, x := range []struct {
		name string
		edit func(*assessment.NewCredit)
		code string
	}{
		{"a skill that the syllabus lacks", func(n *assessment.NewCredit) { n.Code = &unknown },
			"unknown_reference"},
		{"a theory part that the syllabus lacks",
			func(n *assessment.NewCredit) { n.What, n.Code = "theory_part", &unknown }, "unknown_reference"},
		{"a training dive that the syllabus lacks",
			func(n *assessment.NewCredit) {
				n.What, n.TrainingDive = "training_dive",
					&none
			}, "unknown_reference"},
		{"nothing", func(*assessment.NewCredit) {}, "unknown_reference"},
		{"two things at once", func(n *assessment.NewCredit) { n.Code, n.TrainingDive = &skill, &one },
			"invalid_request"},
		{"something still to come",
			func(n *assessment.NewCredit) {
				n.Code, n.DoneOn = &skill,
					time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC)
			}, "invalid_request"},
	} {
		t.Run(x.name, func(t *testing.T) {
			_, err := p.Accept(e, x.edit)
			var f *fault.Fault
			require.ErrorAs(t, err, &f)
			require.Equal(t, x.code, f.Code, f.Error())
		})
	}
	require.Zero(t, p.Count(`SELECT 1 FROM credit`))
	_, err := p.Accept(uuid.New(), func(n *assessment.NewCredit) { n.Code = &skill })
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// At 18:00 UTC on the 7th it is the 8th in Auckland: today is not still to come.
func TestTodayIsTheDayAtTheCentre(t *testing.T) {
	p := pooltest.New(t, 1)
	p.Exec(`UPDATE centre SET time_zone = 'Pacific/Auckland'`, nil)
	skill := "swim"
	_, err := p.Accept(p.Enrolments[0],
		func(n *assessment.NewCredit) { n.Code, n.DoneOn = &skill, time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC) })
	require.NoError(t, err)
}

func TestACreditStandsOnceUntilItIsVoided(t *testing.T) {
	p := pooltest.New(t, 1)
	e, dive, minutes := p.Enrolments[0], 1, 40
	asDive := func(n *assessment.NewCredit) {
		n.What, n.TrainingDive, n.Minutes = "training_dive", &dive,
			&minutes
	}
	c, err := p.Accept(e, asDive)
	require.NoError(t, err)
	_, err = p.Accept(e, asDive)
	require.ErrorIs(t, err, fault.Conflict.Err(), "its minutes would count twice")
	v, err := p.Assessment.VoidCredit(t.Context(), p.By, c.ID, "another student's")
	require.NoError(t, err)
	require.NotNil(t, v.VoidedAt)
	v, err = p.Assessment.VoidCredit(t.Context(), p.As(p.Manager), c.ID, "again does no harm")
	require.NoError(t, err)
	require.Equal(t, "another student's", *v.VoidReason)
	_, err = p.Accept(e, asDive)
	require.NoError(t, err)
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.InDelta(t, 40, progress.DiveTime.Value.Float(), 0)
	_, err = p.Assessment.VoidCredit(t.Context(), p.As(p.PersonOf(e)), c.ID, "no")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	p.Verified(t)
	p.Exec(`UPDATE enrolment SET state = 'withdrawn'`, nil)
	swim := "swim"
	_, err = p.Accept(e, func(n *assessment.NewCredit) { n.Code = &swim })
	require.ErrorIs(t, err, fault.Conflict.Err())
}

// At least 4 training dives of 15 min, 80 min in all (manuals, seen).
func TestACompletionRestsOnTheoryAndDivesToo(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Finish(t, e)
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.InDelta(t, 120, progress.DiveTime.Value.Float(), 0)
	c, err := p.Complete(e)
	require.NoError(t, err)
	y := syllabus.BuiltIn()
	require.Len(t, c.RestsOn, len(y.Skills)+len(y.Theory)+len(y.Dives))
	p.Verified(t)

	p.Super(`UPDATE theory_result SET percent = 99 WHERE part = '` + y.Theory[0].Code + `'`)
	p.Super(`UPDATE time_out SET depth = '(18,m)' WHERE id = (SELECT id FROM time_out ORDER BY id LIMIT 1)`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre,
		ledger.Join(waterview.Ledger, assessment.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 2, "%+v", report.Problems)
	for _, x := range report.Problems {
		require.Equal(t, ledger.EvidenceChanged, x.Code)
	}
}

// A completion is voided by its signer, or by a manager who is an instructor: to manage alone is not
// to judge what a diver can do.
func TestWhoMayVoidACompletion(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Finish(t, e)
	c, err := p.Complete(e)
	require.NoError(t, err)
	void := func(by uuid.UUID) (again bool, err error) {
		err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
			_, again, err = p.Assessment.VoidCompletion(ctx, p.As(by), tx, c.ID, "the wrong student")
			return err
		})
		return again, err
	}
	for name, roles := range map[string][]string{"Marta": {"manager"}, "Mads": {"manager", "assistant"},
		"Rui": {"instructor"}, "Aino": {"assistant"}} {
		_, err := void(p.Crew(name, roles...))
		f, _ := fault.Of(err)
		require.NotNil(t, f, name)
		require.Equal(t, "missing_role", f.Code, name)
	}
	again, err := void(p.Crew("Bia", "manager", "instructor"))
	require.NoError(t, err)
	require.False(t, again)
	again, err = void(p.Instructor)
	require.NoError(t, err)
	require.True(t, again, "voided before")
}

func TestACompletionIsFlaggedWhenWhatItRestsOnIsVoided(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Finish(t, e)
	_, err := p.Complete(e)
	require.NoError(t, err)
	credits, err := p.Assessment.Credits(t.Context(), p.By, e)
	require.NoError(t, err)
	_, err = p.Assessment.VoidCredit(t.Context(), p.By, credits[0].ID, "a forged document")
	require.NoError(t, err)
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Equal(t, "completion", progress.Flags[len(progress.Flags)-1].Subjects[0].Type,
		"and the dives that came after the skill: %v", progress.Flags)
	r, err := p.Record(p.By, e)
	require.NoError(t, err)
	require.NotEmpty(t, r.Flags().Of(syllabus.BasisGone))
	list, _, err := p.Assessment.CourseProgress(t.Context(), p.By, p.CourseID)
	require.NoError(t, err)
	require.NotEmpty(t, list[0].Flags.Of(syllabus.BasisGone))
}

func TestACompletionLacksWhateverIsMissing(t *testing.T) {
	p := pooltest.New(t, 1)
	_, err := p.Complete(p.Enrolments[0])
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	y := syllabus.BuiltIn()
	require.Len(t, f.Findings.Of(syllabus.SkillMissing), len(y.Skills))
	require.Len(t, f.Findings.Of(syllabus.TheoryMissing), len(y.Theory))
	require.Len(t, f.Findings.Of(syllabus.DiveMissing), len(y.Dives))
	require.NotEmpty(t, f.Findings.Of(syllabus.DiveTimeMissing))
}

func TestWhoGetsIntoOpenWaterIsJudgedPlannedOrNot(t *testing.T) {
	p := pooltest.New(t, 1)
	e, child := p.Enrolments[0], p.Enrol(p.CourseID, p.Student("Cleo Child", "2017-01-01"))
	enter := func(session, e uuid.UUID) (out []string) {
		require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
			found, err := p.Standings.Prerequisites(ctx, tx, []standing.Entrant{{SessionID: session, EnrolmentID: e}})
			for _, f := range found[session] {
				out = append(out, f.Rule)
			}
			return err
		}))
		return out
	}
	bare := p.Session(p.CourseID, "open", "2026-06-14T09:00:00Z", "planned")
	require.Contains(t, enter(bare, e), syllabus.WatermanshipFirst.ID,
		"no dive is planned, and the water is open all the same")
	require.Contains(t, enter(p.Confined, child), syllabus.TooYoung.ID)
	third := p.Session(p.CourseID, "open", "2026-06-14T09:00:00Z", "planned", 3, 4)
	p.Finish(t, e)
	require.Empty(t, enter(bare, e))
	fourth := p.Session(p.CourseID, "open", "2026-06-21T09:00:00Z", "planned", 1, 2, 3, 4)
	require.Equal(t, []string{syllabus.TooManyDives.ID}, enter(fourth, e),
		"at most 3 training dives a day (one manual, seen)")
	require.NotEmpty(t, enter(third, e), "two dives are on record for that day already")
	require.Empty(t, enter(p.Open, e), "the two that are planned here are those on record")
}
