package assessment_test

import (
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/syllabus"
)

func TestAStudentReadsOnlyTheOwn(t *testing.T) {
	p := pooltest.New(t, 2)
	one := p.As(p.PersonOf(p.Enrolments[0]))
	_, err := p.Assessment.Progress(t.Context(), one, p.Enrolments[0])
	require.NoError(t, err)
	_, err = p.Assessment.Progress(t.Context(), one, p.Enrolments[1])
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, err = p.Record(one, p.Enrolments[1])
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// Practice (seen): a skill is met in confined water before it is tried in open
// water.
func TestOpenWaterWaitsForConfinedWater(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	skill := pooltest.OpenSkill()
	p.Attempt(t, p.Open, p.InOpen[e], skill, &p.OpenDives[1])
	out := p.Sign(t, p.Open, assessment.Signing{EnrolmentID: e, Skill: skill, DiveID: &p.OpenDives[1]})
	require.Equal(t, journal.NotRecorded, out[0].Status)
	require.NotEmpty(t, out[0].Refusal.Findings.Of(syllabus.ConfinedFirst), "%+v", out[0].Refusal.Findings)
}

func TestEightStudentsInOneCall(t *testing.T) {
	p := pooltest.New(t, 8)
	skill := pooltest.First()
	var wishes []assessment.Signing
	for _, e := range p.Enrolments {
		p.Attempt(t, p.Confined, p.InConfined[e], skill, nil)
		wishes = append(wishes, assessment.Signing{ID: uuid.New(), EnrolmentID: e, Skill: skill})
	}
	wishes = append(wishes, assessment.Signing{ID: uuid.New(), EnrolmentID: uuid.New(), Skill: skill},
		assessment.Signing{ID: uuid.New(), EnrolmentID: p.Enrolments[0], Skill: skill})
	out := p.Sign(t, p.Confined, wishes...)
	for i := range 8 {
		require.Equal(t, journal.Recorded, out[i].Status, "%+v", out[i].Refusal)
	}
	require.Equal(t, "unknown_reference", out[8].Refusal.Code)
	require.NotEmpty(t, out[9].Refusal.Findings.Of(syllabus.AlreadySigned))
	again := p.Sign(t, p.Confined, wishes[:8]...)
	for i := range 8 {
		require.Equal(t, journal.AlreadyRecorded, again[i].Status)
	}
	require.Equal(t, 8, p.Count(`SELECT 1 FROM sign_off`))
	require.Equal(t, 8, p.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'sign_off'`))
	require.Equal(t, 8, p.Count(`SELECT 1 FROM decision WHERE kind = 'sign_off'`))
	p.Verified(t)
}

// Québec r. 8 s. 3.1: an assistant may not assess a student (seen).
func TestAnAssistantSignsNothing(t *testing.T) {
	p := pooltest.New(t, 1)
	p.Attempt(t, p.Confined, p.InConfined[p.Enrolments[0]], pooltest.First(), nil)
	p.By = p.As(p.Assistant)
	out := p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: p.Enrolments[0], Skill: pooltest.First()})
	require.NotEmpty(t, out[0].Refusal.Findings.Of(syllabus.SignerNotInstructor))
}

func TestAVoidedSignOffIsMadeAgainInTheNextRound(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Attempt(t, p.Confined, p.InConfined[e], pooltest.First(), nil)
	out := p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: pooltest.First()})
	_, _, err := p.Assessment.VoidSignOff(t.Context(), p.As(p.Crew("Olga Other", "instructor")), out[0].ID,
		"not mine")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	voided, _, err := p.Assessment.VoidSignOff(t.Context(), p.By, out[0].ID, "wrong student")
	require.NoError(t, err)
	require.NotNil(t, voided.VoidedAt)
	_, _, err = p.Assessment.VoidSignOff(t.Context(), p.By, out[0].ID, "again does no harm")
	require.NoError(t, err)
	p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: pooltest.First()})
	list, err := p.Assessment.SignOffs(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Equal(t, []int{1, 2}, []int{list[0].Round, list[1].Round})
	p.Verified(t)
}

func TestOfManyWhoSignAtOnceOneStands(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Attempt(t, p.Confined, p.InConfined[e], pooltest.First(), nil)
	var wg sync.WaitGroup
	stands := make(chan journal.Status, 16)
	for range cap(stands) {
		wg.Go(func() {
			out, err := p.Assessment.SignOff(t.Context(), p.By, p.Confined,
				[]assessment.Signing{{ID: uuid.New(), EnrolmentID: e, Skill: pooltest.First()}})
			if err == nil {
				stands <- out[0].Status
			}
		})
	}
	wg.Wait()
	close(stands)
	n := map[journal.Status]int{}
	for s := range stands {
		n[s]++
	}
	require.Equal(t, map[journal.Status]int{journal.Recorded: 1, journal.NotRecorded: 15}, n)
}

func TestCreditsSatisfyPrerequisites(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	for _, k := range syllabus.BuiltIn().Skills {
		if k.Setting == syllabus.Open {
			continue
		}
		_, created, err := p.Assessment.AcceptCredit(t.Context(), p.By,
			assessment.NewCredit{Key: once.New(), EnrolmentID: e, What: "skill", Code: &k.Code,
				DoneAtCentre: "North Quay Divers", DoneBy: "N. N.", DoneOn: time.Date(2026, 4, 1, 0, 0, 0, 0,
					time.UTC), Document: "referral 17"})
		require.NoError(t, err)
		require.True(t, created)
	}
	p.Attempt(t, p.Open, p.InOpen[e], pooltest.OpenSkill(), &p.OpenDives[1])
	out := p.Sign(t, p.Open, assessment.Signing{EnrolmentID: e, Skill: pooltest.OpenSkill(), DiveID: &p.OpenDives[1]})
	require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Equal(t, syllabus.Credited, progress.Skills[0].State)
	p.Verified(t)
}
