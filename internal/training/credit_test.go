package training_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
)

var allOf = page.Request{Limit: 200}

// text reads one value as text.
func (p *pool) text(sql string) (out string) {
	err := p.DB.InTx(p.Context(), p.Centre,
		func(ctx context.Context, tx *pg.Tx) error { return tx.QueryRow(ctx, sql).Scan(&out) })
	if err != nil {
		panic(err)
	}
	return out
}

func (p *pool) accept(e uuid.UUID, edit func(*training.NewCredit)) (training.Credit, error) {
	n := training.NewCredit{Key: once.New(), EnrolmentID: e, What: "skill", DoneAtCentre: "North Quay Divers",
		DoneBy: "N. N.",
		DoneOn: time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC), Document: "referral 17"}
	edit(&n)
	c, _, err := p.service.AcceptCredit(p.Context(), p.by, n)
	return c, err
}

func (p *pool) credit(t *testing.T, e uuid.UUID, skill string) training.Credit {
	t.Helper()
	c, err := p.accept(e, func(n *training.NewCredit) { n.Code = &skill })
	require.NoError(t, err)
	return c
}

func TestWhatACreditIsFor(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	one, none, skill, unknown := 1, 9, "swim", "alchemy"
	for _, x := range []struct {
		name string
		edit func(*training.NewCredit)
		code string
	}{
		{"a skill that the syllabus lacks", func(n *training.NewCredit) { n.Code = &unknown },
			"unknown_reference"},
		{"a theory part that the syllabus lacks",
			func(n *training.NewCredit) { n.What, n.Code = "theory_part", &unknown }, "unknown_reference"},
		{"a training dive that the syllabus lacks",
			func(n *training.NewCredit) {
				n.What, n.TrainingDive = "training_dive",
					&none
			}, "unknown_reference"},
		{"nothing", func(*training.NewCredit) {}, "unknown_reference"},
		{"two things at once", func(n *training.NewCredit) { n.Code, n.TrainingDive = &skill, &one },
			"invalid_request"},
		{"something still to come",
			func(n *training.NewCredit) {
				n.Code, n.DoneOn = &skill,
					time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC)
			}, "invalid_request"},
	} {
		t.Run(x.name, func(t *testing.T) {
			_, err := p.accept(e, x.edit)
			var f *fault.Fault
			require.ErrorAs(t, err, &f)
			require.Equal(t, x.code, f.Code, f.Error())
		})
	}
	require.Zero(t, p.Count(`SELECT 1 FROM credit`))
	_, err := p.accept(uuid.New(), func(n *training.NewCredit) { n.Code = &skill })
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// At 18:00 UTC on the 7th it is the 8th in Auckland: today is not still to come.
func TestTodayIsTheDayAtTheCentre(t *testing.T) {
	p := newPool(t, 1)
	p.Exec(`UPDATE centre SET time_zone = 'Pacific/Auckland'`, nil)
	skill := "swim"
	_, err := p.accept(p.enrolments[0],
		func(n *training.NewCredit) { n.Code, n.DoneOn = &skill, time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC) })
	require.NoError(t, err)
}

func TestACreditStandsOnceUntilItIsVoided(t *testing.T) {
	p := newPool(t, 1)
	e, dive, minutes := p.enrolments[0], 1, 40
	asDive := func(n *training.NewCredit) {
		n.What, n.TrainingDive, n.Minutes = "training_dive", &dive,
			&minutes
	}
	c, err := p.accept(e, asDive)
	require.NoError(t, err)
	_, err = p.accept(e, asDive)
	require.ErrorIs(t, err, fault.Conflict.Err(), "its minutes would count twice")
	v, err := p.service.VoidCredit(t.Context(), p.by, c.ID, "another student's")
	require.NoError(t, err)
	require.NotNil(t, v.VoidedAt)
	v, err = p.service.VoidCredit(t.Context(), p.As(p.Manager), c.ID, "again does no harm")
	require.NoError(t, err)
	require.Equal(t, "another student's", *v.VoidReason)
	_, err = p.accept(e, asDive)
	require.NoError(t, err)
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.InDelta(t, 40, progress.DiveTime.Value.Float(), 0)
	_, err = p.service.VoidCredit(t.Context(), p.As(p.PersonOf(e)), c.ID, "no")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	p.verified(t)
	p.Exec(`UPDATE enrolment SET state = 'withdrawn'`, nil)
	swim := "swim"
	_, err = p.accept(e, func(n *training.NewCredit) { n.Code = &swim })
	require.ErrorIs(t, err, fault.Conflict.Err())
}

// finish gives a student everything: skills by credit, theory passed here, the
// training dives done here, the first two on Sunday and the others the week after.
func (p *pool) finish(t *testing.T, e uuid.UUID) {
	t.Helper()
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		p.credit(t, e, k.Code)
	}
	for i, part := range y.Theory {
		_, _, err := p.service.LogResult(t.Context(), p.by,
			training.Result{ID: uuid.New(), EnrolmentID: e, Part: part.Code, Percent: 100,
				WitnessedAt: p.witnessedAt, Digest: []byte{byte(i)}})
		require.NoError(t, err)
	}
	p.dive(t, p.open, p.dives, e, time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC))
	next := p.Session(p.course, "open", "2026-06-14T09:00:00Z", "under_way", 3, 4)
	g := p.Group(next, "blue", p.instructor)
	p.inOpen[e] = p.Participant(next, &g, p.PersonOf(e), &e, "student")
	p.Clock(time.Date(2026, 6, 14, 18, 0, 0, 0, time.UTC))
	p.dive(t, next, p.Dives(next), e, time.Date(2026, 6, 14, 9, 0, 0, 0, time.UTC))
}

// dive logs dives of 30 min to 10 m, one after the other.
func (p *pool) dive(t *testing.T, session uuid.UUID, dives []uuid.UUID, e uuid.UUID, at time.Time) {
	t.Helper()
	for i, d := range dives {
		in := at.Add(time.Duration(i) * 90 * time.Minute)
		start := p.in(p.inOpen[e], in)
		_, err := p.timesIn(d, start)
		require.NoError(t, err)
		out, err := p.service.LogTimesOut(t.Context(), p.by, d,
			[]training.TimeOut{{ID: uuid.New(), StartID: start.ID, OutAt: in.Add(30 * time.Minute),
				Depth: new(units.Read(10, units.UnitMetre))}})
		require.NoError(t, err)
		require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	}
}

func (p *pool) complete(e uuid.UUID) (out training.Completion, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, _, _, err = p.service.Complete(ctx, p.by, tx, e, once.New(), nil)
		return err
	})
	return out, err
}

// At least 4 training dives of 15 min, 80 min in all (manuals, seen).
func TestACompletionRestsOnTheoryAndDivesToo(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.finish(t, e)
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.InDelta(t, 120, progress.DiveTime.Value.Float(), 0)
	c, err := p.complete(e)
	require.NoError(t, err)
	y := syllabus.BuiltIn()
	require.Len(t, c.RestsOn, len(y.Skills)+len(y.Theory)+len(y.Dives))
	p.verified(t)

	p.Super(`UPDATE theory_result SET percent = 99 WHERE part = '` + y.Theory[0].Code + `'`)
	p.Super(`UPDATE dive_end SET depth_value = 18 WHERE id = (SELECT id FROM dive_end ORDER BY id LIMIT 1)`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre, ledger.Join(training.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 2, "%+v", report.Problems)
	for _, x := range report.Problems {
		require.Equal(t, ledger.EvidenceChanged, x.Code)
	}
}

// A completion is voided by its signer, or by a manager who is an instructor: to manage alone is not
// to judge what a diver can do.
func TestWhoMayVoidACompletion(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.finish(t, e)
	c, err := p.complete(e)
	require.NoError(t, err)
	void := func(by uuid.UUID) (again bool, err error) {
		err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
			_, again, err = p.service.VoidCompletion(ctx, p.As(by), tx, c.ID, "the wrong student")
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
	again, err = void(p.instructor)
	require.NoError(t, err)
	require.True(t, again, "voided before")
}

func TestACompletionIsFlaggedWhenWhatItRestsOnIsVoided(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.finish(t, e)
	_, err := p.complete(e)
	require.NoError(t, err)
	credits, err := p.service.Credits(t.Context(), p.by, e)
	require.NoError(t, err)
	_, err = p.service.VoidCredit(t.Context(), p.by, credits[0].ID, "a forged document")
	require.NoError(t, err)
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Equal(t, "completion", progress.Flags[len(progress.Flags)-1].Subjects[0].Type,
		"and the dives that came after the skill: %v", progress.Flags)
	r, err := p.service.Record(t.Context(), p.by, e)
	require.NoError(t, err)
	require.NotEmpty(t, r.Flags().Of(syllabus.BasisGone))
	list, _, err := p.service.CourseProgress(t.Context(), p.by, p.course)
	require.NoError(t, err)
	require.NotEmpty(t, list[0].Flags.Of(syllabus.BasisGone))
}

func TestACompletionLacksWhateverIsMissing(t *testing.T) {
	p := newPool(t, 1)
	_, err := p.complete(p.enrolments[0])
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	y := syllabus.BuiltIn()
	require.Len(t, f.Findings.Of(syllabus.SkillMissing), len(y.Skills))
	require.Len(t, f.Findings.Of(syllabus.TheoryMissing), len(y.Theory))
	require.Len(t, f.Findings.Of(syllabus.DiveMissing), len(y.Dives))
	require.NotEmpty(t, f.Findings.Of(syllabus.DiveTimeMissing))
}

func TestWhoGetsIntoOpenWaterIsJudgedPlannedOrNot(t *testing.T) {
	p := newPool(t, 1)
	e, child := p.enrolments[0], p.Enrol(p.course, p.Student("Cleo Child", "2017-01-01"))
	enter := func(session, e uuid.UUID) (out []string) {
		require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
			found, err := p.service.MayEnter(ctx, tx, []training.Entrant{{SessionID: session, EnrolmentID: e}})
			for _, f := range found[session] {
				out = append(out, f.Rule)
			}
			return err
		}))
		return out
	}
	bare := p.Session(p.course, "open", "2026-06-14T09:00:00Z", "planned")
	require.Contains(t, enter(bare, e), syllabus.WatermanshipFirst.ID,
		"no dive is planned, and the water is open all the same")
	require.Contains(t, enter(p.confined, child), syllabus.TooYoung.ID)
	third := p.Session(p.course, "open", "2026-06-14T09:00:00Z", "planned", 3, 4)
	p.finish(t, e)
	require.Empty(t, enter(bare, e))
	fourth := p.Session(p.course, "open", "2026-06-21T09:00:00Z", "planned", 1, 2, 3, 4)
	require.Equal(t, []string{syllabus.TooManyDives.ID}, enter(fourth, e),
		"at most 3 training dives a day (one manual, seen)")
	require.NotEmpty(t, enter(third, e), "two dives are on record for that day already")
	require.Empty(t, enter(p.open, e), "the two that are planned here are those on record")
}
