package assessment_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

func refusedBy(t *testing.T, r journal.Result, rule finding.Rule) {
	t.Helper()
	require.Equal(t, journal.NotRecorded, r.Status)
	require.NotEmpty(t, r.Refusal.Findings.Of(rule), "%+v", r.Refusal.Findings)
}

// dependent is a confined-water skill, proved by being seen, that comes after
// exactly one other such skill.
func dependent() (before, after string) {
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		if b := y.Before(k.Code); k.Setting == syllabus.Confined && k.Proof == syllabus.Witnessed &&
			len(b) == 1 {
			if first := y.Skill(b[0]); first.Proof == syllabus.Witnessed && len(y.Before(b[0])) == 0 {
				return b[0], k.Code
			}
		}
	}
	panic("no such skill")
}

func TestWishesOfOneCallSeeThoseBeforeThem(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	before, after := dependent()
	out := p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: after},
		assessment.Signing{EnrolmentID: e, Skill: before}, assessment.Signing{EnrolmentID: e, Skill: after})
	refusedBy(t, out[0], syllabus.PrerequisiteOpen)
	require.Equal(t, []journal.Status{journal.Recorded, journal.Recorded},
		[]journal.Status{out[1].Status, out[2].Status})
	list, err := p.Assessment.SignOffs(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Len(t, list, 2)
	for _, o := range list {
		if o.Skill == after {
			require.Equal(t, []uuid.UUID{out[1].ID}, o.RestsOn)
		}
		require.Equal(t, "2026-06-06", o.WitnessedOn.Format(time.DateOnly))
	}
	p.Verified(t)
}

// What others entered supports a sign-off; it does not replace the signer's own
// eyes (practice: the instructor assesses).
func TestASignerWasThereWithTheStudent(t *testing.T) {
	skill, _ := dependent()
	for _, x := range []struct {
		name string
		act  func(p *pooltest.Pool, e uuid.UUID) // before Rui, in charge of another group, signs
		rule *finding.Rule
	}{
		{"with another group", func(*pooltest.Pool, uuid.UUID) {}, &syllabus.SignerNotWitness},
		{"with another group, with an attempt that he witnessed", func(p *pooltest.Pool, e uuid.UUID) {
			p.Attempt(t, p.Confined, p.InConfined[e], skill, nil)
		}, nil},
		{"with another group, with an attempt that the assistant witnessed", func(p *pooltest.Pool, e uuid.UUID) {
			rui := p.By
			p.By = p.As(p.Assistant)
			p.Attempt(t, p.Confined, p.InConfined[e], skill, nil)
			p.By = rui
		}, &syllabus.SignerNotWitness},
		{"with the student, moved to his group", func(p *pooltest.Pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET group_id = (SELECT group_id FROM participant WHERE session_id = @s AND person_id = @p) WHERE enrolment_id = @e AND session_id = @s`,
				map[string]any{"s": p.Confined, "p": p.Instructor, "e": e})
		}, nil},
		{"absent", func(p *pooltest.Pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET attendance = 'absent' WHERE person_id = @p`,
				map[string]any{"p": p.Instructor})
		}, &syllabus.SignerNotCrew},
		{"of whom the student was absent", func(p *pooltest.Pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET attendance = 'absent' WHERE enrolment_id = @e`,
				map[string]any{"e": e})
		}, &syllabus.StudentNotThere},
		{"of whom the student is on no list", func(p *pooltest.Pool, e uuid.UUID) {
			p.Exec(`DELETE FROM participant WHERE enrolment_id = @e AND session_id = @s`,
				map[string]any{"e": e, "s": p.Confined})
		}, &syllabus.StudentNotThere},
	} {
		t.Run(x.name, func(t *testing.T) {
			t.Parallel()
			p := pooltest.New(t, 1)
			p.Instructor = p.Crew("Rui Instructor", "instructor")
			p.By = p.As(p.Instructor)
			p.Group(p.Confined, "red", p.Instructor)
			e := p.Enrolments[0]
			x.act(p, e)
			out := p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: skill})
			if x.rule != nil {
				refusedBy(t, out[0], *x.rule)
				return
			}
			require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
		})
	}
}

func TestWhoMayAskForASignOff(t *testing.T) {
	p := pooltest.New(t, 1)
	wish := []assessment.Signing{{ID: uuid.New(), EnrolmentID: p.Enrolments[0], Skill: pooltest.First()}}
	_, err := p.Assessment.SignOff(t.Context(), p.By, uuid.New(), wish)
	require.ErrorIs(t, err, fault.NotFound.Err(), "no such session")
	// Common practice: first aid within 24 months, on the day of the session.
	lapsed := p.Person("Lars Lapsed", "1985-03-01", "instructor")
	p.Paper(lapsed, "teaching_status", "valid", "2020-01-01", "2040-01-01")
	p.Paper(lapsed, "insurance", "valid", "2020-01-01", "2040-01-01")
	p.Paper(lapsed, "first_aid", "valid", "2024-06-05", "2026-06-05")
	p.Group(p.Confined, "red", lapsed)
	p.By = p.As(lapsed)
	refusedBy(t, p.Sign(t, p.Confined, wish...)[0], syllabus.SignerPapers)
}

func TestAnIdSignsInOneSessionOnly(t *testing.T) {
	p := pooltest.New(t, 1)
	skill, _ := dependent()
	wish := assessment.Signing{ID: uuid.New(), EnrolmentID: p.Enrolments[0], Skill: skill}
	p.Signed(t, p.Confined, wish)
	require.Equal(t, "id_reused", p.Sign(t, p.Open, wish)[0].Refusal.Code)
	wish.Skill = pooltest.First()
	require.Equal(t, "id_reused", p.Sign(t, p.Confined, wish)[0].Refusal.Code)
}

// A session is often signed late, when the student has shown the skill again.
func TestASessionSignedLateRestsOnWhatWasSeenInIt(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Attempt(t, p.Confined, p.InConfined[e], pooltest.First(), nil)
	later := p.Session(p.CourseID, "confined", "2026-06-07T13:00:00Z", "under_way")
	g := p.Group(later, "blue", p.Instructor)
	part := p.Participant(later, &g, p.PersonOf(e), &e, "student")
	p.Attempt(t, later, part, pooltest.First(), nil)
	out := p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: pooltest.First()})
	o, err := p.Assessment.SignOffOf(t.Context(), p.By, out[0].ID)
	require.NoError(t, err)
	require.Len(t, o.Evidence, 1, "the attempt of Saturday, not that of Sunday")
}

func TestEvidenceIsOfTheStudentAndTheSkill(t *testing.T) {
	p := pooltest.New(t, 2)
	p.Attempt(t, p.Confined, p.InConfined[p.Enrolments[1]], pooltest.First(), nil)
	list, _, err := p.Waterlog.Attempts(t.Context(), p.By, p.Confined, nil, pooltest.AllOf)
	require.NoError(t, err)
	refusedBy(t, p.Sign(t, p.Confined,
		assessment.Signing{EnrolmentID: p.Enrolments[0], Skill: pooltest.First(),
			Evidence: []uuid.UUID{list[0].ID}})[0], syllabus.EvidenceUnfit)
	refusedBy(t, p.Sign(t, p.Confined,
		assessment.Signing{EnrolmentID: p.Enrolments[1], Skill: pooltest.First(),
			Evidence: []uuid.UUID{}})[0], syllabus.NoEvidence)
	require.Equal(t, "unknown_reference",
		p.Sign(t, p.Confined, assessment.Signing{EnrolmentID: p.Enrolments[1], Skill: pooltest.First(),
			DiveID: &p.OpenDives[0]})[0].Refusal.Code)
}

func TestWhatDependedOnAVoidedSignOffIsFlagged(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	before, after := dependent()
	out := p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: before},
		assessment.Signing{EnrolmentID: e, Skill: after})
	_, _, err := p.Assessment.VoidSignOff(t.Context(), p.As(p.PersonOf(e)), out[0].ID, "not mine to void")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	_, _, err = p.Assessment.VoidSignOff(t.Context(), p.By, out[0].ID, "   ")
	require.ErrorIs(t, err, fault.Refused.Err())
	_, found, err := p.Assessment.VoidSignOff(t.Context(), p.As(p.Manager), out[0].ID, "it was the other student")
	require.NoError(t, err, "a manager who is an instructor")
	require.NotEmpty(t, found.Of(syllabus.VoidTouches))
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.NotEmpty(t, progress.Flags.Of(syllabus.BasisGone))
	p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: before})
	progress, err = p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Empty(t, progress.Flags, "it stands again as of that day")
	require.Equal(t, 1, p.Count(`SELECT 1 FROM decision WHERE kind = 'void_sign_off'`))
	p.Verified(t)
}

// Years later the decision is judged again on what it kept.
func TestASignOffKeepsWhatItWasJudgedOn(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	p.Attempt(t, p.Confined, p.InConfined[e], pooltest.First(), nil)
	out := p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: pooltest.First()})
	var on struct {
		SignOff     uuid.UUID `json:"sign_off_id"`
		Skill       string    `json:"skill"`
		WitnessedOn string    `json:"witnessed_on"`
		Setting     string    `json:"setting"`
		State       string    `json:"session_state"`
		Number      int       `json:"syllabus_number"`
		Signer      struct {
			Instructor bool `json:"is_instructor"`
			Crew       bool `json:"was_crew"`
			Papers     []struct {
				ID   uuid.UUID `json:"id"`
				Kind string    `json:"kind"`
			} `json:"papers"`
		} `json:"signer"`
		Evidence []ledger.Evidence `json:"evidence"`
	}
	require.NoError(t, json.Unmarshal([]byte(p.Text(`SELECT (judged_on->'sign_off')::text FROM decision WHERE kind = 'sign_off'`)), &on))
	require.Equal(t, out[0].ID, on.SignOff)
	require.Equal(t, []any{pooltest.First(), "2026-06-06", "confined", "under_way", true, true, 1},
		[]any{on.Skill, on.WitnessedOn, on.Setting, on.State, on.Signer.Instructor, on.Signer.Crew, on.Number})
	require.Len(t, on.Signer.Papers, 4)
	require.NotEqual(t, uuid.Nil, on.Signer.Papers[0].ID)
	require.Len(t, on.Evidence, 1)
}

// gasSkill is a confined-water skill that touches gas, with what comes before it.
func gasSkill() (string, []string) {
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		if k.TouchesGas && k.Setting == syllabus.Confined {
			return k.Code, y.Before(k.Code)
		}
	}
	panic("no such skill")
}

func TestASkillThatTouchesGasRestsOnTheGasChecksToo(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	skill, before := gasSkill()
	for _, code := range before {
		p.Credit(t, e, code)
	}
	r := func(x float64) *units.Reading { return new(units.Read(x, units.UnitBar)) }
	_, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Confined,
		[]waterlog.GasCheck{pooltest.Gas(p.InConfined[e], r(187), r(180), p.WitnessedAt),
			pooltest.Gas(p.InConfined[e], r(150), r(150), p.WitnessedAt)})
	require.NoError(t, err)
	p.Attempt(t, p.Confined, p.InConfined[e], skill, nil)
	p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: skill})
	p.Verified(t)
	p.Super(`UPDATE gas_check SET signalled = '(150,bar)' WHERE (signalled).value = 180`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre,
		ledger.Join(waterview.Ledger, assessment.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 1)
	require.Equal(t, ledger.EvidenceChanged, report.Problems[0].Code)
}

// Three attempts that were not met, "bolts for the surface", are not signed away in
// silence: the signer accepts them by name and reason, each is shown, and the
// decision stands in the ledger.
func TestFailuresAreAcceptedByTheSigner(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	skill, _ := dependent()
	fail := func(minute int) uuid.UUID {
		a := waterlog.Attempt{ID: uuid.New(), ParticipantID: p.InConfined[e], Skill: skill, Met: false,
			Reason:      new("bolts for the surface"),
			WitnessedAt: p.WitnessedAt.Add(time.Duration(minute) * time.Minute)}
		out, err := p.Waterlog.LogAttempts(t.Context(), p.By, p.Confined, []waterlog.Attempt{a})
		pooltest.Logged(t, out, err)
		return a.ID
	}
	failed := []uuid.UUID{fail(0), fail(1), fail(2)}
	wish := assessment.Signing{EnrolmentID: e, Skill: skill}
	out := p.Sign(t, p.Confined, wish)
	refusedBy(t, out[0], syllabus.FailedSince)
	require.Equal(t, "cautions_open", out[0].Refusal.Code)
	for _, id := range failed {
		require.True(t, slices.ContainsFunc(out[0].Refusal.Findings[0].Subjects,
			func(s finding.Subject) bool { return s.ID == id.String() }))
	}
	wish.Accept = []journal.Acceptance{{Rule: syllabus.FailedSince.ID, SubjectID: failed[2].String(),
		Reason: "shown twice on the line, breathing calmly"}}
	p.Signed(t, p.Confined, wish)
	p.Verified(t)
	progress, err := p.Assessment.Progress(t.Context(), p.By, e)
	require.NoError(t, err)
	require.Empty(t, progress.Flags, "accepted once is accepted")
	require.Equal(t, 1, p.Count(`SELECT FROM decision WHERE kind = 'sign_off' AND accepted::text LIKE '%breathing calmly%'`))
}

// Two sign-offs of one student in one call are accepted with a reason each, and each is
// shown with its own.
func TestEachSignOffShowsTheReasonOfItsOwn(t *testing.T) {
	p := pooltest.New(t, 1)
	e := p.Enrolments[0]
	before, after := dependent()
	wishes := []assessment.Signing{{EnrolmentID: e, Skill: before}, {EnrolmentID: e, Skill: after}}
	for _, w := range wishes {
		out, err := p.Waterlog.LogAttempts(t.Context(), p.By, p.Confined, []waterlog.Attempt{{ID: uuid.New(),
			ParticipantID: p.InConfined[e], Skill: w.Skill, Reason: new("bolts"), WitnessedAt: p.WitnessedAt}})
		pooltest.Logged(t, out, err)
	}
	for i, reason := range []string{"shown on the line", "shown in mid-water"} {
		wishes[i].ID = uuid.New()
		wishes[i].Accept = []journal.Acceptance{{Rule: syllabus.FailedSince.ID, SubjectID: e.String(), Reason: reason}}
	}
	p.Signed(t, p.Confined, wishes...)
	list, err := p.Assessment.SignOffs(t.Context(), p.By, e)
	require.NoError(t, err)
	shown := map[uuid.UUID]string{}
	for _, o := range list {
		shown[o.ID] = o.Findings.Of(syllabus.FailedSince)[0].Accepted.Reason
	}
	require.Equal(t, map[uuid.UUID]string{wishes[0].ID: "shown on the line", wishes[1].ID: "shown in mid-water"}, shown)
}

// A sign-off from the water cannot know of what another phone still holds: it is
// recorded, and whoever completes accepts the failures, in whichever order both came.
func TestASignOffFromTheWaterIsFlaggedWithItsFailures(t *testing.T) {
	for _, first := range []string{"sign-off", "failure"} {
		t.Run(first+" first", func(t *testing.T) {
			p := pooltest.New(t, 1)
			e := p.Enrolments[0]
			skill, _ := dependent()
			p.Clock(p.WitnessedAt.Add(2 * time.Hour))
			fail := func() {
				a := waterlog.Attempt{ID: uuid.New(), ParticipantID: p.InConfined[e], Skill: skill,
					Reason: new("bolts"), WitnessedAt: p.WitnessedAt}
				out, err := p.Waterlog.LogAttempts(t.Context(), p.By, p.Confined, []waterlog.Attempt{a})
				pooltest.Logged(t, out, err)
			}
			sign := func() {
				p.Signed(t, p.Confined, assessment.Signing{EnrolmentID: e, Skill: skill,
					SignedAt: new(p.WitnessedAt.Add(time.Minute))})
			}
			if first == "failure" {
				fail()
				sign()
			} else {
				sign()
				fail()
			}
			progress, err := p.Assessment.Progress(t.Context(), p.By, e)
			require.NoError(t, err)
			require.Len(t, progress.Flags.Of(syllabus.FailedSince), 1)
			require.Equal(t, finding.Caution, progress.Flags.Of(syllabus.FailedSince)[0].Severity)
			p.Verified(t)
		})
	}
}
