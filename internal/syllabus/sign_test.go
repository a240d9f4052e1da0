package syllabus_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
)

func TestEverySkillMayBeSignedOffWhenAllIsInOrder(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, k := range s.Skills {
		require.Empty(t, syllabus.MaySign(sign(s, with(s, k.Code, saturday), k.Code, sunday)), k.Code)
	}
}

// Each row is a good case with one thing wrong. The sources are named in the
// rules themselves, and at each row that stands on more than our own choice.
func TestSigningIsRefused(t *testing.T) {
	type c = syllabus.SignOffRequest
	for _, x := range []struct {
		name  string
		skill string
		spoil func(*c)
		rule  finding.Rule
	}{
		{"by an assistant (Québec r. 8 s. 3.1: may not assess a student)", "hover",
			func(c *c) { c.Signer.Instructor = false }, syllabus.SignerNotInstructor},
		{"by a program", "hover", func(c *c) { c.Signer = syllabus.Signer{Program: true, Instructor: true} },
			syllabus.SignerIsProgram},
		{"by an instructor who was not crew", "hover", func(c *c) { c.Signer.Crew = false },
			syllabus.SignerNotCrew},
		{"for a student who was not there", "hover", func(c *c) { c.Absent = true }, syllabus.StudentNotThere},
		{"by one who did not see it", "cramp", func(c *c) { c.Signer.Witnessed, c.Evidence = false, nil },
			syllabus.SignerNotWitness},
		{"on an attempt that only an assistant saw", "hover",
			func(c *c) {
				c.Signer.Witnessed, c.Standing.Attempts[0].WitnessedBy = false,
					"tom"
			}, syllabus.SignerNotWitness},
		{"with first aid lapsed the day before (24 months, manuals)", "hover",
			func(c *c) { c.Signer.Papers[1].Until = saturday }, syllabus.SignerPapers},
		{"with teaching status that starts the day after", "hover",
			func(c *c) { c.Signer.Papers[0].From = "2026-06-08" }, syllabus.SignerPapers},
		{"uninsured", "hover", func(c *c) { c.Signer.Papers = c.Signer.Papers[:2] }, syllabus.SignerPapers},
		{"twice", "hover", func(c *c) {
			c.Standing.SignOffs = append(c.Standing.SignOffs,
				syllabus.SignOff{ID: "x", Skill: "hover", On: saturday})
		}, syllabus.AlreadySigned},
		{"for a waiting enrolment", "hover", func(c *c) { c.Standing.State = syllabus.Waiting },
			syllabus.EnrolmentNotActive},
		{"for a withdrawn enrolment", "hover", func(c *c) { c.Standing.State = syllabus.Withdrawn },
			syllabus.EnrolmentNotActive},
		{"from a session that has not begun", "hover", func(c *c) { c.Session.State = syllabus.Planned },
			syllabus.SessionNotHeld},
		{"from a session that was cancelled", "hover", func(c *c) { c.Session.State = syllabus.Cancelled },
			syllabus.SessionNotHeld},
		{"a confined-water skill in open water", "hover", func(c *c) { c.Session.Setting = syllabus.Open },
			syllabus.WrongSetting},
		{"an open-water skill in the pool", "hover-open", func(c *c) { c.Session.Setting = syllabus.Confined },
			syllabus.WrongSetting},
		{"on a training dive that does not exist", "hover-open", func(c *c) { c.Dive = 9 },
			syllabus.UnknownDive},
		{"an emergency ascent on the first dive (one manual)", "emergency-ascent-open",
			func(c *c) { c.Dive = 1 }, syllabus.TooEarlyDive},
		{"an emergency ascent on no named dive", "emergency-ascent-open", func(c *c) { c.Dive = 0 },
			syllabus.DiveNotNamed},
		{"in open water before confined water (practice)", "gas-receiving-open",
			func(c *c) { voidSkill(c, "gas-receiving") }, syllabus.ConfinedFirst},
		{"in open water before the swim (practice)", "kit-check-open", func(c *c) { voidSkill(c, "swim") },
			syllabus.WatermanshipFirst},
		{"before its prerequisite", "hover", func(c *c) { voidSkill(c, "breath-pivot") },
			syllabus.PrerequisiteOpen},
		{"tried before the confined-water skill was met", "hover-open",
			func(c *c) { c.Standing.Attempts[0].On = friday }, syllabus.OutOfOrder},
		{"without an attempt on record", "hover", func(c *c) { c.Evidence = nil }, syllabus.NoEvidence},
		{"on a voided attempt", "hover", func(c *c) { c.Standing.Attempts[0].Voided = true },
			syllabus.EvidenceUnfit},
		{"on an attempt not met", "hover", func(c *c) { c.Standing.Attempts[0].Met = false },
			syllabus.EvidenceUnfit},
		{"on 29 s of hovering called met (30 s, manuals)", "hover",
			func(c *c) { c.Standing.Attempts[0].Measured["time-hovering"] = seconds(29) }, syllabus.EvidenceUnfit},
		{"on an attempt at something else", "hover", func(c *c) { c.Standing.Attempts[0].Skill = "descent" },
			syllabus.EvidenceUnfit},
		{"on an attempt of another student", "hover", func(c *c) { c.Evidence = []string{"unknown"} },
			syllabus.EvidenceUnfit},
		{"in open water on an attempt in the pool", "hover-open",
			func(c *c) { c.Standing.Attempts[0].Setting = syllabus.Confined }, syllabus.EvidenceUnfit},
		{"on an attempt made later", "hover", func(c *c) { c.Standing.Attempts[0].On = "2026-06-08" },
			syllabus.EvidenceUnfit},
		{"on an attempt two years old", "hover", func(c *c) { c.SignedOn = "2028-06-07" },
			syllabus.EvidenceTooOld},
		{"for a skill that the syllabus does not have", "hover", func(c *c) { c.Skill = "juggling" },
			syllabus.UnknownSkill},
	} {
		t.Run(x.name, func(t *testing.T) {
			s := syllabus.BuiltIn()
			c := sign(s, with(s, x.skill, saturday), x.skill, sunday)
			x.spoil(&c)
			found := syllabus.MaySign(c)
			require.True(t, found.Forbids())
			require.NotEmpty(t, found.Of(x.rule), found)
			for _, f := range found.Of(x.rule) {
				require.NotEmpty(t, f.Message)
				require.NotEmpty(t, f.Source)
				require.NotEmpty(t, f.Subjects)
			}
		})
	}
}

// voidSkill voids the sign-off of a skill.
func voidSkill(c *syllabus.SignOffRequest, skill string) {
	for i := range c.Standing.SignOffs {
		if c.Standing.SignOffs[i].Skill == skill {
			c.Standing.SignOffs[i].Voided = true
		}
	}
}

func TestEverythingWrongIsSaidAtOnce(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, active(), "gas-receiving-open", sunday)
	c.Standing.State, c.Signer, c.Evidence = syllabus.Withdrawn, syllabus.Signer{Person: "tom"}, nil
	c.Session = syllabus.Session{ID: "pool", Setting: syllabus.Confined, State: syllabus.Planned}
	found := syllabus.MaySign(c)
	for _, r := range []finding.Rule{
		syllabus.EnrolmentNotActive, syllabus.SignerNotInstructor, syllabus.SignerNotCrew,
		syllabus.SignerNotWitness,
		syllabus.SessionNotHeld, syllabus.WrongSetting, syllabus.ConfinedFirst, syllabus.WatermanshipFirst,
		syllabus.PrerequisiteOpen, syllabus.NoEvidence,
	} {
		require.NotEmpty(t, found.Of(r), r.ID)
	}
	require.Len(t, found.Of(syllabus.SignerPapers), 3, "teaching status, first aid, insurance")
	require.Len(t, found.Of(syllabus.WatermanshipFirst), 2, "swim, float")
}

func TestAnOpenPrerequisiteIsNamedWithItsCures(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "gas-report-open", saturday), "gas-report-open", sunday)
	voidSkill(&c, "gas-report")
	found := syllabus.MaySign(c)
	require.Len(t, found, 1)
	f := found[0]
	require.Equal(t, syllabus.ConfinedFirst.ID, f.Rule)
	require.Contains(t, f.Message, "gas-report")
	require.Contains(t, f.Subjects, finding.Subject{Type: "prerequisite", ID: "gas-report"})
	require.Equal(t, "sign_prerequisite", f.Cures[0].Code)
	require.Equal(t, "record_credit", f.Cures[1].Code)
}

func TestACreditMeetsAPrerequisite(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "gas-report-open", saturday), "gas-report-open", sunday)
	voidSkill(&c, "gas-report")
	c.Standing.Credits = []syllabus.Credit{{ID: "credit-1", Skill: "gas-report", On: thursday}}
	require.Empty(t, syllabus.MaySign(c))
	c.Standing.Credits[0].Voided = true
	require.NotEmpty(t, syllabus.MaySign(c).Of(syllabus.ConfinedFirst), "a voided credit meets nothing")
}

func TestAnAttemptThatTheSignerWitnessedIsTheirWitness(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "hover", saturday), "hover", sunday)
	c.Signer.Witnessed = false
	require.Empty(t, syllabus.MaySign(c))
}

func TestWhatAssistantsEnteredSupportsTheSigner(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "hover", saturday), "hover", sunday)
	c.Standing.Attempts[0].WitnessedBy = "tom"
	require.Empty(t, syllabus.MaySign(c), "nadia says that she saw it too")
}

func TestASessionAbandonedAfterItBeganStillCounts(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "hover", saturday), "hover", sunday)
	c.Session.State = syllabus.Abandoned
	require.Empty(t, syllabus.MaySign(c))
}

func TestADrillWithTwoRolesNeedsEvidenceInEach(t *testing.T) {
	s := syllabus.BuiltIn()
	s.Skill("shared-ascent").Roles = []syllabus.Role{syllabus.Donor, syllabus.Receiver}
	require.Empty(t, syllabus.Validate(s))
	c := sign(s, with(s, "shared-ascent", saturday), "shared-ascent", sunday)
	require.Len(t, c.Evidence, 2)
	require.Empty(t, syllabus.MaySign(c))
	require.Equal(t, c.Evidence, syllabus.Evidence(s, c.Standing, "shared-ascent", sunday, sunday))
	require.Equal(t, syllabus.Met, skillProgress(t, syllabus.ProgressOf(s, c.Standing), "shared-ascent").State)

	c.Evidence = c.Evidence[:1]
	found := syllabus.MaySign(c)
	require.Len(t, found, 1)
	require.Equal(t, syllabus.NoEvidence.ID, found[0].Rule)
	require.Contains(t, found[0].Message, "as receiver")

	c.Standing.Attempts[1].Voided = true
	require.Equal(t, syllabus.NotYet,
		skillProgress(t, syllabus.ProgressOf(s, c.Standing), "shared-ascent").State)
}

func TestEvidenceIsThatOfTheDayWhereThereIsSome(t *testing.T) {
	s := syllabus.BuiltIn()
	hover := *s.Skill("hover")
	for _, x := range []struct {
		name string
		days []syllabus.Day
		want []string
	}{
		{"of that day alone", []syllabus.Day{saturday}, []string{"attempt-0"}},
		{"of that day, not the try of the day before", []syllabus.Day{friday, saturday}, []string{"attempt-1"}},
		{"of that day, not the one made after it", []syllabus.Day{saturday, sunday}, []string{"attempt-0"}},
		{"of the days before, when there is none of that day", []syllabus.Day{thursday, friday},
			[]string{"attempt-0", "attempt-1"}},
		{"nothing that was made after it", []syllabus.Day{sunday}, nil},
		{"nothing that is two years old (a year: our choice)", []syllabus.Day{"2024-06-06"}, nil},
	} {
		t.Run(x.name, func(t *testing.T) {
			st := active()
			for i, d := range x.days {
				st.Attempts = append(st.Attempts, attempts(hover, d, i)...)
			}
			require.Equal(t, x.want, syllabus.Evidence(s, st, "hover", saturday, sunday))
		})
	}
	require.Nil(t, syllabus.Evidence(s, active(), "juggling", saturday, sunday))
}

func TestAPaperThatWasNeverRecordedIsNamed(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "hover", saturday), "hover", sunday)
	c.Signer.Papers = c.Signer.Papers[:2]
	found := syllabus.MaySign(c).Of(syllabus.SignerPapers)
	require.Len(t, found, 1)
	require.Equal(t, "insurance", found[0].Params["paper"])
	require.Contains(t, found[0].Message, "no insurance on record")
	c.Signer.Papers = append(c.Signer.Papers, syllabus.Paper{Kind: syllabus.Insurance, Until: saturday})
	found = syllabus.MaySign(c).Of(syllabus.SignerPapers)
	require.Contains(t, found[0].Message, "lapsed on 2026-06-06")
	require.Equal(t, string(saturday), found[0].Found.On)
}
