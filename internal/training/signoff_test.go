package training_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
)

// signed insists that every wish was signed.
func (p *pool) signed(t *testing.T, session uuid.UUID, wishes ...training.Signing) []journal.Result {
	t.Helper()
	out := p.sign(t, session, wishes...)
	for _, r := range out {
		require.Equal(t, journal.Recorded, r.Status, "%+v", r.Refusal)
	}
	return out
}

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
	p := newPool(t, 1)
	e := p.enrolments[0]
	before, after := dependent()
	out := p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: after},
		training.Signing{EnrolmentID: e, Skill: before}, training.Signing{EnrolmentID: e, Skill: after})
	refusedBy(t, out[0], syllabus.PrerequisiteOpen)
	require.Equal(t, []journal.Status{journal.Recorded, journal.Recorded},
		[]journal.Status{out[1].Status, out[2].Status})
	list, err := p.service.SignOffs(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Len(t, list, 2)
	for _, o := range list {
		if o.Skill == after {
			require.Equal(t, []uuid.UUID{out[1].ID}, o.RestsOn)
		}
		require.Equal(t, "2026-06-06", o.WitnessedOn.Format(time.DateOnly))
	}
	p.verified(t)
}

// What others entered supports a sign-off; it does not replace the signer's own
// eyes (practice: the instructor assesses).
func TestASignerWasThereWithTheStudent(t *testing.T) {
	skill, _ := dependent()
	for _, x := range []struct {
		name string
		act  func(p *pool, e uuid.UUID) // before Rui, in charge of another group, signs
		rule *finding.Rule
	}{
		{"with another group", func(*pool, uuid.UUID) {}, &syllabus.SignerNotWitness},
		{"with another group, with an attempt that he witnessed", func(p *pool, e uuid.UUID) {
			p.attempt(t, p.confined, p.inConfined[e], skill, nil)
		}, nil},
		{"with another group, with an attempt that the assistant witnessed", func(p *pool, e uuid.UUID) {
			rui := p.by
			p.by = p.As(p.assistant)
			p.attempt(t, p.confined, p.inConfined[e], skill, nil)
			p.by = rui
		}, &syllabus.SignerNotWitness},
		{"with the student, moved to his group", func(p *pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET group_id = (SELECT group_id FROM participant WHERE session_id = @s AND person_id = @p) WHERE enrolment_id = @e AND session_id = @s`,
				map[string]any{"s": p.confined, "p": p.instructor, "e": e})
		}, nil},
		{"absent", func(p *pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET attendance = 'absent' WHERE person_id = @p`,
				map[string]any{"p": p.instructor})
		}, &syllabus.SignerNotCrew},
		{"of whom the student was absent", func(p *pool, e uuid.UUID) {
			p.Exec(`UPDATE participant SET attendance = 'absent' WHERE enrolment_id = @e`,
				map[string]any{"e": e})
		}, &syllabus.StudentNotThere},
		{"of whom the student is on no list", func(p *pool, e uuid.UUID) {
			p.Exec(`DELETE FROM participant WHERE enrolment_id = @e AND session_id = @s`,
				map[string]any{"e": e, "s": p.confined})
		}, &syllabus.StudentNotThere},
	} {
		t.Run(x.name, func(t *testing.T) {
			t.Parallel()
			p := newPool(t, 1)
			p.instructor = p.Crew("Rui Instructor", "instructor")
			p.by = p.As(p.instructor)
			p.Group(p.confined, "red", p.instructor)
			e := p.enrolments[0]
			x.act(p, e)
			out := p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: skill})
			if x.rule != nil {
				refusedBy(t, out[0], *x.rule)
				return
			}
			require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
		})
	}
}

func TestWhoMayAskForASignOff(t *testing.T) {
	p := newPool(t, 1)
	wish := []training.Signing{{ID: uuid.New(), EnrolmentID: p.enrolments[0], Skill: first()}}
	_, err := p.service.SignOff(t.Context(), p.by, uuid.New(), wish)
	require.ErrorIs(t, err, fault.NotFound.Err(), "no such session")
	// Common practice: first aid within 24 months, on the day of the session.
	lapsed := p.Person("Lars Lapsed", "1985-03-01", "instructor")
	p.Paper(lapsed, "teaching_status", "valid", "2020-01-01", "2040-01-01")
	p.Paper(lapsed, "insurance", "valid", "2020-01-01", "2040-01-01")
	p.Paper(lapsed, "first_aid", "valid", "2024-06-05", "2026-06-05")
	p.Group(p.confined, "red", lapsed)
	p.by = p.As(lapsed)
	refusedBy(t, p.sign(t, p.confined, wish...)[0], syllabus.SignerPapers)
}

func TestAnIdSignsInOneSessionOnly(t *testing.T) {
	p := newPool(t, 1)
	skill, _ := dependent()
	wish := training.Signing{ID: uuid.New(), EnrolmentID: p.enrolments[0], Skill: skill}
	p.signed(t, p.confined, wish)
	require.Equal(t, "id_reused", p.sign(t, p.open, wish)[0].Refusal.Code)
	wish.Skill = first()
	require.Equal(t, "id_reused", p.sign(t, p.confined, wish)[0].Refusal.Code)
}

// A session is often signed late, when the student has shown the skill again.
func TestASessionSignedLateRestsOnWhatWasSeenInIt(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.attempt(t, p.confined, p.inConfined[e], first(), nil)
	later := p.Session(p.course, "confined", "2026-06-07T13:00:00Z", "under_way")
	g := p.Group(later, "blue", p.instructor)
	part := p.Participant(later, &g, p.PersonOf(e), &e, "student")
	p.attempt(t, later, part, first(), nil)
	out := p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: first()})
	o, err := p.service.SignOffOf(t.Context(), p.by, out[0].ID)
	require.NoError(t, err)
	require.Len(t, o.Evidence, 1, "the attempt of Saturday, not that of Sunday")
}

func TestEvidenceIsOfTheStudentAndTheSkill(t *testing.T) {
	p := newPool(t, 2)
	p.attempt(t, p.confined, p.inConfined[p.enrolments[1]], first(), nil)
	list, _, err := p.service.Attempts(t.Context(), p.by, p.confined, nil, allOf)
	require.NoError(t, err)
	refusedBy(t, p.sign(t, p.confined,
		training.Signing{EnrolmentID: p.enrolments[0], Skill: first(),
			Evidence: []uuid.UUID{list[0].ID}})[0], syllabus.EvidenceUnfit)
	refusedBy(t, p.sign(t, p.confined,
		training.Signing{EnrolmentID: p.enrolments[1], Skill: first(),
			Evidence: []uuid.UUID{}})[0], syllabus.NoEvidence)
	require.Equal(t, "unknown_reference",
		p.sign(t, p.confined, training.Signing{EnrolmentID: p.enrolments[1], Skill: first(),
			DiveID: &p.dives[0]})[0].Refusal.Code)
}

func TestWhatDependedOnAVoidedSignOffIsFlagged(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	before, after := dependent()
	out := p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: before},
		training.Signing{EnrolmentID: e, Skill: after})
	_, _, err := p.service.VoidSignOff(t.Context(), p.As(p.PersonOf(e)), out[0].ID, "not mine to void")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	_, _, err = p.service.VoidSignOff(t.Context(), p.by, out[0].ID, "   ")
	require.ErrorIs(t, err, fault.Refused.Err())
	_, found, err := p.service.VoidSignOff(t.Context(), p.As(p.Manager), out[0].ID, "it was the other student")
	require.NoError(t, err, "a manager who is an instructor")
	require.NotEmpty(t, found.Of(syllabus.VoidTouches))
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.NotEmpty(t, progress.Flags.Of(syllabus.BasisGone))
	p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: before})
	progress, err = p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Empty(t, progress.Flags, "it stands again as of that day")
	require.Equal(t, 1, p.Count(`SELECT 1 FROM decision WHERE kind = 'void_sign_off'`))
	p.verified(t)
}

// Years later the decision is judged again on what it kept.
func TestASignOffKeepsWhatItWasJudgedOn(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.attempt(t, p.confined, p.inConfined[e], first(), nil)
	out := p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: first()})
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
	require.NoError(t, json.Unmarshal([]byte(p.text(`SELECT (judged_on->'sign_off')::text FROM decision WHERE kind = 'sign_off'`)), &on))
	require.Equal(t, out[0].ID, on.SignOff)
	require.Equal(t, []any{first(), "2026-06-06", "confined", "under_way", true, true, 1},
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
	p := newPool(t, 1)
	e := p.enrolments[0]
	skill, before := gasSkill()
	for _, code := range before {
		p.credit(t, e, code)
	}
	r := func(x float64) *units.Reading { return new(units.Read(x, units.UnitBar)) }
	_, err := p.service.LogGasChecks(t.Context(), p.by, p.confined,
		[]training.GasCheck{gas(p.inConfined[e], r(187), r(180), p.witnessedAt),
			gas(p.inConfined[e], r(150), r(150), p.witnessedAt)})
	require.NoError(t, err)
	p.attempt(t, p.confined, p.inConfined[e], skill, nil)
	p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: skill})
	p.verified(t)
	p.Super(`UPDATE gas_check SET signalled_value = 150 WHERE signalled_value = 180`)
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre, ledger.Join(training.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Len(t, report.Problems, 1)
	require.Equal(t, ledger.EvidenceChanged, report.Problems[0].Code)
}

// Three attempts that were not met, "bolts for the surface", are not signed away in
// silence: the signer accepts them by name and reason, each is shown, and the
// decision stands in the ledger.
func TestFailuresAreAcceptedByTheSigner(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	skill, _ := dependent()
	fail := func(minute int) uuid.UUID {
		a := training.Attempt{ID: uuid.New(), ParticipantID: p.inConfined[e], Skill: skill, Met: false,
			Reason:      new("bolts for the surface"),
			WitnessedAt: p.witnessedAt.Add(time.Duration(minute) * time.Minute)}
		out, err := p.service.LogAttempts(t.Context(), p.by, p.confined, []training.Attempt{a})
		logged(t, out, err)
		return a.ID
	}
	failed := []uuid.UUID{fail(0), fail(1), fail(2)}
	wish := training.Signing{EnrolmentID: e, Skill: skill}
	out := p.sign(t, p.confined, wish)
	refusedBy(t, out[0], syllabus.FailedSince)
	require.Equal(t, "cautions_open", out[0].Refusal.Code)
	for _, id := range failed {
		require.True(t, slices.ContainsFunc(out[0].Refusal.Findings[0].Subjects,
			func(s finding.Subject) bool { return s.ID == id.String() }))
	}
	wish.Accept = []journal.Acceptance{{Rule: syllabus.FailedSince.ID, SubjectID: failed[2].String(),
		Reason: "shown twice on the line, breathing calmly"}}
	p.signed(t, p.confined, wish)
	p.verified(t)
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Empty(t, progress.Flags, "accepted once is accepted")
	require.Equal(t, 1, p.Count(`SELECT FROM decision WHERE kind = 'sign_off' AND accepted::text LIKE '%breathing calmly%'`))
}

// A sign-off from the water cannot know of what another phone still holds: it is
// recorded, and whoever completes accepts the failures, in whichever order both came.
func TestASignOffFromTheWaterIsFlaggedWithItsFailures(t *testing.T) {
	for _, first := range []string{"sign-off", "failure"} {
		t.Run(first+" first", func(t *testing.T) {
			p := newPool(t, 1)
			e := p.enrolments[0]
			skill, _ := dependent()
			p.Clock(p.witnessedAt.Add(2 * time.Hour))
			fail := func() {
				a := training.Attempt{ID: uuid.New(), ParticipantID: p.inConfined[e], Skill: skill,
					Reason: new("bolts"), WitnessedAt: p.witnessedAt}
				out, err := p.service.LogAttempts(t.Context(), p.by, p.confined, []training.Attempt{a})
				logged(t, out, err)
			}
			sign := func() {
				p.signed(t, p.confined, training.Signing{EnrolmentID: e, Skill: skill,
					SignedAt: new(p.witnessedAt.Add(time.Minute))})
			}
			if first == "failure" {
				fail()
				sign()
			} else {
				sign()
				fail()
			}
			progress, err := p.service.Progress(t.Context(), p.by, e)
			require.NoError(t, err)
			require.Len(t, progress.Flags.Of(syllabus.FailedSince), 1)
			require.Equal(t, finding.Caution, progress.Flags.Of(syllabus.FailedSince)[0].Severity)
			p.verified(t)
		})
	}
}
