package syllabus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
)

func completing(s syllabus.Syllabus, st syllabus.Standing) syllabus.CompletionRequest {
	return syllabus.CompletionRequest{Syllabus: s, Standing: st, Signer: nadia(), Age: 30, On: sunday}
}

func TestEverythingDoneMayBeCompleted(t *testing.T) {
	s := syllabus.BuiltIn()
	require.Empty(t, syllabus.MayComplete(completing(s, finished(s))))
}

func TestNothingDoneListsEverything(t *testing.T) {
	s := syllabus.BuiltIn()
	found := syllabus.MayComplete(completing(s, active()))
	require.Len(t, found.Of(syllabus.SkillMissing), len(s.Skills))
	require.Len(t, found.Of(syllabus.TheoryMissing), len(s.Theory))
	require.Len(t, found.Of(syllabus.DiveMissing), len(s.Dives))
	require.Len(t, found.Of(syllabus.DiveTimeMissing), 1)
}

func TestCompletionIsRefused(t *testing.T) {
	type c = syllabus.CompletionRequest
	for _, x := range []struct {
		name  string
		spoil func(*c)
		rule  finding.Rule
	}{
		{"by an assistant", func(c *c) { c.Signer.Instructor = false }, syllabus.SignerNotInstructor},
		{"by a program", func(c *c) { c.Signer = syllabus.Signer{Program: true} }, syllabus.SignerIsProgram},
		{"on lapsed papers", func(c *c) { c.Signer.Papers[0].Until = saturday }, syllabus.SignerPapers},
		{"twice", func(c *c) { c.Standing.State = syllabus.Completed }, syllabus.EnrolmentNotActive},
		{"at 9 years (10, manuals)", func(c *c) { c.Age = 9 }, syllabus.TooYoung},
		{"with a skill only met", func(c *c) { voidIn(&c.Standing, "own-dive") }, syllabus.SkillMissing},
		{"with a theory part at 79 of 80 percent", func(c *c) { c.Standing.Theory[2].Mark = percent(79) },
			syllabus.TheoryMissing},
		{"with a dive of 10 min (15 min, one manual)",
			func(c *c) { c.Standing.Dives[1].Duration = minutes(10) }, syllabus.DiveMissing},
		{"with 79 min in all (80 min, one manual)", func(c *c) {
			for i, d := range []float64{20, 20, 20, 19} {
				c.Standing.Dives[i].Duration = minutes(d)
			}
		}, syllabus.DiveTimeMissing},
		{"with evidence voided", func(c *c) { c.Standing.Attempts[0].Voided = true }, syllabus.BasisGone},
	} {
		t.Run(x.name, func(t *testing.T) {
			s := syllabus.BuiltIn()
			c := completing(s, finished(s))
			x.spoil(&c)
			found := syllabus.MayComplete(c)
			require.True(t, found.Forbids())
			require.NotEmpty(t, found.Of(x.rule), found)
		})
	}
}

func TestCompletionCarriesCautionsAndNotes(t *testing.T) {
	s := syllabus.BuiltIn()
	c := completing(s, finished(s))
	c.Age = 13
	c.Standing.Dives[0].Depth = metres(13)
	voidIn(&c.Standing, "cramp")
	c.Standing.Credits = []syllabus.Credit{{ID: "credit-1", Skill: "cramp", On: thursday}}
	found := syllabus.MayComplete(c)
	require.False(t, found.Forbids(), found)
	require.Len(t, found, 3)
	require.Len(t, found.Of(syllabus.DiveBeyondLimit), 1)
	require.Len(t, found.Of(syllabus.NotWitnessedHere), 1)
	require.Len(t, found.Of(syllabus.JuniorGrade), 1, "full grade at 15 (manuals)")
}

func TestACompletionIsFlaggedWhenItsBasisIsVoided(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Credits = []syllabus.Credit{{ID: "credit-1", Skill: "cramp", On: thursday}}
	basis := []string{"so-hover", "credit-1", st.Theory[0].ID, st.Dives[0].ID}
	require.Empty(t, syllabus.CompletionFlags("completion-1", basis, st))
	voidIn(&st, "hover")
	st.Credits[0].Voided, st.Theory[0].Voided, st.Dives[0].Voided = true, true, true
	found := syllabus.CompletionFlags("completion-1", basis, st)
	require.Len(t, found.Of(syllabus.BasisGone), 4, found)
	require.Equal(t, finding.Subject{Type: "completion", ID: "completion-1"}, found[0].Subjects[0])
}

func TestWhoMayVoid(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, x := range []struct {
		name   string
		by     syllabus.Signer
		reason string
		rule   *finding.Rule
	}{
		{"the signer, though no longer an instructor", syllabus.Signer{Person: "nadia"}, "wrong student", nil},
		{"a manager who is an instructor", syllabus.Signer{Person: "olga", Manager: true, Instructor: true},
			"wrong student", nil},
		{"a manager who does not teach", syllabus.Signer{Person: "olga", Manager: true}, "wrong student",
			&syllabus.VoidByOther},
		{"another instructor", syllabus.Signer{Person: "olga", Instructor: true}, "wrong student",
			&syllabus.VoidByOther},
		{"a program", syllabus.Signer{Program: true}, "wrong student", &syllabus.SignerIsProgram},
		{"the signer without a reason", syllabus.Signer{Person: "nadia"}, " \n", &syllabus.VoidWithoutReason},
	} {
		t.Run(x.name, func(t *testing.T) {
			st := finished(s)
			c := syllabus.VoidRequest{Syllabus: s, Standing: st, SignOff: st.SignOffs[len(st.SignOffs)-1],
				By: x.by, Reason: x.reason}
			found := syllabus.MayVoid(c)
			if x.rule == nil {
				require.Empty(t, found)
			} else {
				require.NotEmpty(t, found.Of(*x.rule))
				require.True(t, found.Forbids())
			}
		})
	}
}

func TestNoProgramVoidsWhatWasSigned(t *testing.T) {
	require.False(t, syllabus.VoidedBy("nadia", syllabus.Signer{Person: "nadia", Program: true}))
	require.False(t, syllabus.VoidedBy("nadia",
		syllabus.Signer{Program: true, Manager: true, Instructor: true}))
}

func TestVoidingNotesWhatRestsOnIt(t *testing.T) {
	s := syllabus.BuiltIn()
	st := finished(s)
	c := syllabus.VoidRequest{Syllabus: s, Standing: st,
		SignOff: syllabus.SignOff{ID: "so-gas-report", Skill: "gas-report",
			Signer: "nadia"}, By: nadia(), Reason: "wrong student"}
	found := syllabus.MayVoid(c)
	require.Len(t, found, 1)
	require.False(t, found.Forbids())
	require.Contains(t, found[0].Subjects, finding.Subject{Type: "sign_off", ID: "so-gas-report-open"})
	require.Contains(t, found[0].Subjects, finding.Subject{Type: "sign_off", ID: "so-low-gas"})
	c.SignOff.Voided = true
	require.NotEmpty(t, syllabus.MayVoid(c).Of(syllabus.VoidedAlready))
}
