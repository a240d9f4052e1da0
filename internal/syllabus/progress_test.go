package syllabus_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
)

func skillProgress(t *testing.T, p syllabus.Progress, code string) syllabus.SkillProgress {
	t.Helper()
	i := slices.IndexFunc(p.Skills, func(k syllabus.SkillProgress) bool { return k.Code == code })
	require.GreaterOrEqual(t, i, 0, code)
	return p.Skills[i]
}

func TestProgressTellsHowFarAStudentIs(t *testing.T) {
	s, st := syllabus.BuiltIn(), active()
	state := func(code string) syllabus.State {
		return skillProgress(t, syllabus.ProgressOf(s, st),
			code).State
	}
	require.Equal(t, syllabus.NotTried, state("hover"))
	bad := attempts(*s.Skill("hover"), friday, 0)[0]
	bad.Met, bad.Reason = false, "used the hands"
	st.Attempts = append(st.Attempts, bad)
	require.Equal(t, syllabus.NotYet, state("hover"))
	st.Attempts = append(st.Attempts, attempts(*s.Skill("hover"), friday, 1)[0])
	require.Equal(t, syllabus.Met, state("hover"))
	st.Credits = append(st.Credits, syllabus.Credit{ID: "credit-1", Skill: "hover", On: thursday})
	require.Equal(t, syllabus.Credited, state("hover"))
	st.SignOffs = append(st.SignOffs, syllabus.SignOff{ID: "so-1", Skill: "hover", On: friday})
	require.Equal(t, syllabus.SignedOff, state("hover"))
	st.SignOffs[0].Voided = true
	require.Equal(t, syllabus.Credited, state("hover"), "a voided sign-off is none")
	st.Credits[0].Voided = true
	require.Equal(t, syllabus.Met, state("hover"))
	st.Attempts[1].Voided = true
	require.Equal(t, syllabus.NotYet, state("hover"))
}

func TestProgressNamesWhatBlocks(t *testing.T) {
	s := syllabus.BuiltIn()
	p := syllabus.ProgressOf(s, signedOff(friday, "swim", "gas-report"))
	require.ElementsMatch(t, []string{"descent-open", "float"}, skillProgress(t, p, "gas-report-open").Blocks)
	require.Empty(t, skillProgress(t, p, "gas-report").Blocks, "nothing blocks what stands")
	require.Contains(t, p.Dives[0].Blocks, "pressure")
	require.NotContains(t, p.Dives[0].Blocks, "swim")
	require.Equal(t, 0, p.Dives[0].After)
	require.Equal(t, 1, p.Dives[2].After)
}

func TestProgressOfTheoryKeepsTheBestMark(t *testing.T) {
	s, st := syllabus.BuiltIn(), active()
	part := func() syllabus.TheoryProgress { return syllabus.ProgressOf(s, st).Theory[0] }
	require.Equal(t, syllabus.NotTried, part().State)
	st.Theory = append(st.Theory,
		syllabus.TheoryResult{ID: "1", Part: "pressure", Mark: percent(60), On: thursday})
	require.Equal(t, syllabus.NotYet, part().State)
	st.Theory = append(st.Theory,
		syllabus.TheoryResult{ID: "2", Part: "pressure", Mark: percent(85), On: friday})
	require.Equal(t, syllabus.Met, part().State)
	require.Equal(t, percent(85), part().Best)
	st.Theory[1].Voided = true
	require.Equal(t, syllabus.NotYet, part().State)
	st.Credits = []syllabus.Credit{{ID: "credit-1", Theory: "pressure"}}
	require.Equal(t, syllabus.Credited, part().State)
}

func TestProgressOfDives(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Dives[3].Duration = minutes(10)
	p := syllabus.ProgressOf(s, st)
	require.Equal(t, syllabus.Met, p.Dives[0].State)
	require.Equal(t, syllabus.NotYet, p.Dives[3].State)
	require.NotEmpty(t, p.Dives[3].Flags.Of(syllabus.DiveTooShort))
	require.Equal(t, minutes(75), p.DiveTime, "the short one counts for nothing")
	again := diveDone(4)
	again.ID = "dive-4-again"
	st.Dives = append(st.Dives, again)
	p = syllabus.ProgressOf(s, st)
	require.Equal(t, syllabus.Met, p.Dives[3].State)
	require.Equal(t, "dive-4-again", p.Dives[3].Dive)
	require.Equal(t, minutes(100), p.DiveTime)
}

func TestWhatRestedOnAVoidedSignOffStandsFlagged(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	require.Empty(t, syllabus.Flags(s, st))
	voidIn(&st, "gas-report")
	open := skillProgress(t, syllabus.ProgressOf(s, st), "gas-report-open")
	require.Equal(t, syllabus.SignedOff, open.State, "it stands")
	require.NotEmpty(t, open.Flags.Of(syllabus.BasisGone), "flagged")
	require.NotEmpty(t, syllabus.MayComplete(completing(s, st)).Of(syllabus.BasisGone), "and blocks completion")

	st.SignOffs = append(st.SignOffs,
		syllabus.SignOff{ID: "again", Skill: "gas-report", Signer: "nadia", On: friday})
	require.Empty(t, syllabus.Flags(s, st), "signed again as of its day, the flag is lifted")

	st.SignOffs[len(st.SignOffs)-1].On = "2026-06-08"
	require.NotEmpty(t, syllabus.Flags(s, st).Of(syllabus.OutOfOrder),
		"met in confined water only after open water")
	require.True(t, syllabus.Flags(s, st).Forbids())
}

func TestAPrerequisiteShownAgainLaterIsACaution(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	voidIn(&st, "breath-pivot")
	st.SignOffs = append(st.SignOffs,
		syllabus.SignOff{ID: "again", Skill: "breath-pivot", Signer: "nadia", On: sunday})
	found := syllabus.MayComplete(completing(s, st))
	require.Len(t, found, 1, "hover was shown on Friday")
	require.Equal(t, syllabus.OutOfOrder.ID, found[0].Rule)
	require.Equal(t, finding.Caution, found[0].Severity)
}

func TestVoidedEvidenceFlagsTheSignOff(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Attempts[0].Voided = true
	found := syllabus.Flags(s, st)
	require.Len(t, found, 1)
	require.Equal(t, syllabus.BasisGone.ID, found[0].Rule)
	require.Equal(t, finding.Subject{Type: "skill", ID: st.Attempts[0].Skill}, found[0].Subjects[1])
}

func TestAVoidedDiveFlagsWhatRestsOnIt(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	i := slices.IndexFunc(st.SignOffs,
		func(x syllabus.SignOff) bool { return x.Skill == "emergency-ascent-open" })
	st.SignOffs[i].Evidence = append(st.SignOffs[i].Evidence, "dive-4")
	st.Dives[3].Voided = true
	require.Len(t, syllabus.Flags(s, st).Of(syllabus.BasisGone), 1)
}

func TestADiveBeforeItsTheoryIsACaution(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Theory[0].On = sunday
	found := syllabus.Flags(s, st)
	require.Len(t, found, 2, "the two dives of Saturday")
	require.False(t, found.Forbids(), "it happened; who completes accepts it with a reason")
	require.Len(t, found.Of(syllabus.DiveOutOfOrder), 2)
}
