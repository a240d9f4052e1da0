package training_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/scenetest"
	"tankside/internal/signal"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// pool is a course with a confined-water session under way and an open-water
// session under way the day after; one instructor and an assistant on both.
type pool struct {
	*scenetest.Fixture
	service     *training.Service
	instructor  uuid.UUID
	assistant   uuid.UUID
	by          actor.Actor // of the instructor
	course      uuid.UUID
	confined    uuid.UUID
	open        uuid.UUID
	dives       []uuid.UUID // of the open-water session
	enrolments  []uuid.UUID
	inConfined  map[uuid.UUID]uuid.UUID // participants by enrolment
	inOpen      map[uuid.UUID]uuid.UUID
	witnessedAt time.Time
}

func newPool(t *testing.T, students int) *pool {
	t.Helper()
	p := &pool{Fixture: scenetest.New(t), inConfined: map[uuid.UUID]uuid.UUID{},
		inOpen: map[uuid.UUID]uuid.UUID{}}
	p.service = training.New(p.DB.DB, versions.New[syllabus.Syllabus](), nothingFound)
	p.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	p.witnessedAt = time.Date(2026, 6, 6, 10, 0, 0, 0, time.UTC)
	p.instructor, p.assistant = p.Crew("Ines Instructor", "instructor"), p.Crew("Abel Assistant", "assistant")
	p.by = p.As(p.instructor)
	p.course = p.Course(syllabus.BuiltIn())
	p.confined = p.Session(p.course, "confined", "2026-06-06T09:00:00Z", "under_way")
	p.open = p.Session(p.course, "open", "2026-06-07T09:00:00Z", "under_way", 1, 2)
	p.dives = p.Dives(p.open)
	for _, s := range []uuid.UUID{p.confined, p.open} {
		g := p.Group(s, "blue", p.instructor)
		p.Participant(s, &g, p.assistant, nil, "assistant")
		for i := range students {
			if s == p.confined {
				p.enrolments = append(p.enrolments,
					p.Enrol(p.course, p.Student(fmt.Sprintf("Student %02d", i+1), "1995-05-05")))
			}
			e := p.enrolments[i]
			part := p.Participant(s, &g, p.PersonOf(e), &e, "student")
			if s == p.confined {
				p.inConfined[e] = part
			} else {
				p.inOpen[e] = part
			}
		}
	}
	return p
}

// attempt records a met attempt with every measure at its limit.
func (p *pool) attempt(t *testing.T, session, participant uuid.UUID, skill string, dive *uuid.UUID) {
	t.Helper()
	k := syllabus.BuiltIn().Skill(skill)
	roles := []*string{nil}
	if len(k.Roles) > 0 {
		roles = nil
		for _, r := range k.Roles {
			roles = append(roles, new(string(r)))
		}
	}
	measures := k.Criterion.Measures
	if len(k.Criterion.EitherOf) > 0 {
		measures = append(slices.Clone(measures), k.Criterion.EitherOf[0].Measures...)
	}
	var list []training.Measured
	for _, m := range measures {
		q := m.AtLeast
		if q == nil {
			q = m.AtMost
		}
		list = append(list, training.Measured{Name: m.Name, Value: q.Value, Unit: q.Unit})
	}
	for _, role := range roles {
		out, err := p.service.LogAttempts(t.Context(), p.by, session,
			[]training.Attempt{{ID: uuid.New(), ParticipantID: participant, DiveID: dive, Skill: skill,
				Role: role, Measures: list, Met: true, WitnessedAt: p.witnessedAt}})
		require.NoError(t, err)
		require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	}
}

func (p *pool) sign(t *testing.T, session uuid.UUID, wishes ...training.Signing) []journal.Result {
	t.Helper()
	for i := range wishes {
		if wishes[i].ID == uuid.Nil {
			wishes[i].ID = uuid.New()
		}
	}
	out, err := p.service.SignOff(t.Context(), p.by, session, wishes)
	require.NoError(t, err)
	return out
}

func gas(participant uuid.UUID, read, said *units.Reading, at time.Time) training.GasCheck {
	return training.GasCheck{ID: uuid.New(), ParticipantID: participant, Reading: read, Signalled: said,
		WitnessedAt: at}
}

// Common practice: a reading is reported rounded down, to 100 psi or 10 bar.
func TestGasChecksAreJudgedAgainstTheOwnGauge(t *testing.T) {
	p := newPool(t, 2)
	part := p.inConfined[p.enrolments[0]]
	p.Exec(`UPDATE participant SET gauge_unit = 'psi' WHERE id = @id`, map[string]any{"id": part})
	bar := p.inConfined[p.enrolments[1]]
	r := func(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }
	future := gas(part, r(1750, "psi"), nil, time.Date(2026, 6, 7, 18, 6, 0, 0, time.UTC))
	checks := []training.GasCheck{
		gas(part, r(1750, "psi"), r(1800, "psi"), p.witnessedAt),
		gas(part, r(1750, "psi"), r(1700, "psi"), p.witnessedAt.Add(time.Minute)),
		gas(bar, r(187, "bar"), r(180, "bar"), p.witnessedAt),
		gas(uuid.New(), r(187, "bar"), r(180, "bar"), p.witnessedAt),
		gas(bar, r(400, "bar"), nil, p.witnessedAt),
		gas(bar, r(5100, "psi"), nil, p.witnessedAt),
		future,
	}
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.confined, checks)
	require.NoError(t, err)
	for i, want := range []string{"", "", "", "unknown_reference", "invalid_request", "invalid_request",
		"invalid_request"} {
		if want == "" {
			require.Equal(t, journal.Recorded, out[i].Status, i)
			continue
		}
		require.Equal(t, want, out[i].Refusal.Code, i)
	}
	list, _, err := p.service.GasChecks(t.Context(), p.by, p.confined, []uuid.UUID{part},
		page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, signal.OverReported, list[0].Verdict)
	require.Equal(t, signal.Right, list[1].Verdict)
	require.Equal(t, "1750 psi", list[0].Reading().String())

	again, err := p.service.LogGasChecks(t.Context(), p.by, p.confined, checks[:2])
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, again[0].Status)
	checks[0].NoAnswer = true
	again, err = p.service.LogGasChecks(t.Context(), p.by, p.confined, checks[:1])
	require.NoError(t, err)
	require.Equal(t, "id_reused", again[0].Refusal.Code)
}

func TestAStudentReadsOnlyTheOwn(t *testing.T) {
	p := newPool(t, 2)
	one := p.As(p.PersonOf(p.enrolments[0]))
	_, err := p.service.Progress(t.Context(), one, p.enrolments[0])
	require.NoError(t, err)
	_, err = p.service.Progress(t.Context(), one, p.enrolments[1])
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, err = p.service.Record(t.Context(), one, p.enrolments[1])
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// Practice (seen): a skill is met in confined water before it is tried in open
// water.
func TestOpenWaterWaitsForConfinedWater(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	skill := openSkill()
	p.attempt(t, p.open, p.inOpen[e], skill, &p.dives[1])
	out := p.sign(t, p.open, training.Signing{EnrolmentID: e, Skill: skill, DiveID: &p.dives[1]})
	require.Equal(t, journal.NotRecorded, out[0].Status)
	require.NotEmpty(t, out[0].Refusal.Findings.Of(syllabus.ConfinedFirst), "%+v", out[0].Refusal.Findings)
}

// openSkill is an open-water skill with a confined-water counterpart.
func openSkill() string {
	for _, k := range syllabus.BuiltIn().Skills {
		if k.Setting == syllabus.Open && k.Repeats != "" && k.EarliestDive <= 2 {
			return k.Code
		}
	}
	panic("no such skill")
}

// first is a confined-water skill that nothing comes before.
func first() string {
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		if k.Setting == syllabus.Confined && len(y.Before(k.Code)) == 0 {
			return k.Code
		}
	}
	panic("no such skill")
}

func TestEightStudentsInOneCall(t *testing.T) {
	p := newPool(t, 8)
	skill := first()
	var wishes []training.Signing
	for _, e := range p.enrolments {
		p.attempt(t, p.confined, p.inConfined[e], skill, nil)
		wishes = append(wishes, training.Signing{ID: uuid.New(), EnrolmentID: e, Skill: skill})
	}
	wishes = append(wishes, training.Signing{ID: uuid.New(), EnrolmentID: uuid.New(), Skill: skill},
		training.Signing{ID: uuid.New(), EnrolmentID: p.enrolments[0], Skill: skill})
	out := p.sign(t, p.confined, wishes...)
	for i := range 8 {
		require.Equal(t, journal.Recorded, out[i].Status, "%+v", out[i].Refusal)
	}
	require.Equal(t, "unknown_reference", out[8].Refusal.Code)
	require.NotEmpty(t, out[9].Refusal.Findings.Of(syllabus.AlreadySigned))
	again := p.sign(t, p.confined, wishes[:8]...)
	for i := range 8 {
		require.Equal(t, journal.AlreadyRecorded, again[i].Status)
	}
	require.Equal(t, 8, p.Count(`SELECT 1 FROM sign_off`))
	require.Equal(t, 8, p.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'sign_off'`))
	require.Equal(t, 8, p.Count(`SELECT 1 FROM decision WHERE kind = 'sign_off'`))
	p.verified(t)
}

// verified holds the ledger against the rows.
func (p *pool) verified(t *testing.T) {
	t.Helper()
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre, ledger.Join(training.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Empty(t, report.Problems)
}

// Québec r. 8 s. 3.1: an assistant may not assess a student (seen).
func TestAnAssistantSignsNothing(t *testing.T) {
	p := newPool(t, 1)
	p.attempt(t, p.confined, p.inConfined[p.enrolments[0]], first(), nil)
	p.by = p.As(p.assistant)
	out := p.sign(t, p.confined, training.Signing{EnrolmentID: p.enrolments[0], Skill: first()})
	require.NotEmpty(t, out[0].Refusal.Findings.Of(syllabus.SignerNotInstructor))
}

func TestAVoidedSignOffIsMadeAgainInTheNextRound(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.attempt(t, p.confined, p.inConfined[e], first(), nil)
	out := p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: first()})
	_, _, err := p.service.VoidSignOff(t.Context(), p.As(p.Crew("Olga Other", "instructor")), out[0].ID,
		"not mine")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	voided, _, err := p.service.VoidSignOff(t.Context(), p.by, out[0].ID, "wrong student")
	require.NoError(t, err)
	require.NotNil(t, voided.VoidedAt)
	_, _, err = p.service.VoidSignOff(t.Context(), p.by, out[0].ID, "again does no harm")
	require.NoError(t, err)
	p.sign(t, p.confined, training.Signing{EnrolmentID: e, Skill: first()})
	list, err := p.service.SignOffs(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Equal(t, []int{1, 2}, []int{list[0].Round, list[1].Round})
	p.verified(t)
}

func TestOfManyWhoSignAtOnceOneStands(t *testing.T) {
	p := newPool(t, 1)
	e := p.enrolments[0]
	p.attempt(t, p.confined, p.inConfined[e], first(), nil)
	var wg sync.WaitGroup
	stands := make(chan journal.Status, 16)
	for range cap(stands) {
		wg.Go(func() {
			out, err := p.service.SignOff(t.Context(), p.by, p.confined,
				[]training.Signing{{ID: uuid.New(), EnrolmentID: e, Skill: first()}})
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
	p := newPool(t, 1)
	e := p.enrolments[0]
	for _, k := range syllabus.BuiltIn().Skills {
		if k.Setting == syllabus.Open {
			continue
		}
		_, created, err := p.service.AcceptCredit(t.Context(), p.by,
			training.NewCredit{Key: once.New(), EnrolmentID: e, What: "skill", Code: &k.Code,
				DoneAtCentre: "North Quay Divers", DoneBy: "N. N.", DoneOn: time.Date(2026, 4, 1, 0, 0, 0, 0,
					time.UTC), Document: "referral 17"})
		require.NoError(t, err)
		require.True(t, created)
	}
	p.attempt(t, p.open, p.inOpen[e], openSkill(), &p.dives[1])
	out := p.sign(t, p.open, training.Signing{EnrolmentID: e, Skill: openSkill(), DiveID: &p.dives[1]})
	require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	progress, err := p.service.Progress(t.Context(), p.by, e)
	require.NoError(t, err)
	require.Equal(t, syllabus.Credited, progress.Skills[0].State)
	p.verified(t)
}
