package desk_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/people"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
	"tankside/internal/syllabus"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// counter is the desk of a centre with a course: a confined session, an
// open-water session planned with one group, and one student enrolled.
type counter struct {
	*scenetest.Fixture
	desk       *desk.Service
	sessions   *sessions.Service
	waterlog   *waterlog.Service
	assessment *assessment.Service
	by         actor.Actor // of the manager, who is an instructor too
	course     uuid.UUID
	confined   uuid.UUID
	open       uuid.UUID
	group      uuid.UUID // of the open-water session
	student    uuid.UUID
	enrolled   uuid.UUID
}

func newCounter(t *testing.T) *counter {
	t.Helper()
	return newCounterOf(t, scenetest.New(t))
}

func newCounterOf(t *testing.T, scene *scenetest.Fixture) *counter {
	t.Helper()
	c := &counter{Fixture: scene}
	db := c.DB.DB
	c.desk = desk.New(db, centre.New(db), people.New(db), courses.New(db))
	c.sessions, c.waterlog, c.assessment = c.desk.Sessions(), c.desk.Waterlog(), c.desk.Assessment()
	c.by = c.As(c.Manager)
	c.Clock(time.Date(2026, 6, 7, 8, 0, 0, 0, time.UTC))
	c.course = c.Course(syllabus.BuiltIn())
	instructor := c.Crew("Ines Instructor", "instructor")
	c.confined = c.Session(c.course, "confined", "2026-06-06T09:00:00Z", "planned")
	c.open = c.Session(c.course, "open", "2026-06-07T09:00:00Z", "planned", 1, 2)
	c.Group(c.confined, "blue", instructor)
	c.group = c.Group(c.open, "blue", instructor)
	c.student = c.Student("Sara Student", "1995-05-05")
	c.enrolled = c.Enrol(c.course, c.student)
	return c
}

func refusedBy(t *testing.T, err error, rule finding.Rule) {
	t.Helper()
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, fault.Refused, f.Kind, "%v", err)
	require.NotEmpty(t, f.Findings.Of(rule), "%+v", f.Findings)
}

// credit accepts everything that an open-water dive asks for.
func (c *counter) credit(t *testing.T) {
	t.Helper()
	y := syllabus.BuiltIn()
	accept := func(what, code string) {
		_, _, err := c.assessment.AcceptCredit(t.Context(), c.by,
			assessment.NewCredit{Key: once.New(), EnrolmentID: c.enrolled, What: what, Code: &code,
				DoneAtCentre: "Far Bank",
				DoneBy:       "N. N.", DoneOn: time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), Document: "letter"})
		require.NoError(t, err)
	}
	for _, p := range y.Theory {
		accept("theory_part", p.Code)
	}
	for _, k := range y.Skills {
		if k.Setting != syllabus.Open {
			accept("skill", k.Code)
		}
	}
}

func TestASessionOpensWhenEverybodyIsReady(t *testing.T) {
	c := newCounter(t)
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	_, _, err := c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, syllabus.DivePrerequisite)
	c.credit(t)
	lone := c.Student("Lena Lone", "1995-05-05")
	e := c.Enrol(c.course, lone)
	c.Participant(c.open, nil, lone, &e, "student")
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, sessions.Ungrouped)
	c.Exec(`UPDATE participant SET attendance = 'sat_out' WHERE person_id = @p`, map[string]any{"p": lone})
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, sessions.NotBriefed)
	c.Brief(c.open)
	s, _, err := c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	require.NoError(t, err)
	require.Equal(t, sessions.UnderWay, s.State)
	again, _, err := c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	require.NoError(t, err, "opening again does no harm")
	require.Equal(t, s.Version, again.Version)
}

// A session under way is joined only by who could have been in it when it was
// opened. Later training dives go deeper and come in their order (training
// organisations' manuals, seen).
func TestASessionUnderWayIsJoinedInTheOrderOfLearning(t *testing.T) {
	c := newCounter(t)
	later := c.Session(c.course, "open", "2026-06-07T14:00:00Z", "under_way", 4)
	c.Exec(`UPDATE session SET state = 'under_way'`, nil)
	group := c.Group(later, "blue", c.Crew("Rui Instructor", "instructor"))
	c.BriefPerson(later, c.student)
	c.BriefPerson(c.open, c.student)
	join := func(session, group uuid.UUID) error {
		_, _, _, err := c.sessions.AddParticipant(t.Context(), c.by,
			sessions.NewParticipant{Key: once.New(), SessionID: session, GroupID: &group,
				EnrolmentID: &c.enrolled, Role: sessions.Student}, nil)
		return err
	}
	place := func(session uuid.UUID) error {
		_, _, err := c.sessions.Place(t.Context(), c.by,
			sessions.Placement{CourseID: c.course, EnrolmentIDs: []uuid.UUID{c.enrolled},
				SessionIDs: []uuid.UUID{session}}, nil)
		return err
	}
	refusedBy(t, join(c.open, c.group), syllabus.DivePrerequisite)
	refusedBy(t, place(c.open), syllabus.DivePrerequisite)
	c.credit(t)
	refusedBy(t, join(later, group), syllabus.DiveOrder)
	refusedBy(t, place(later), syllabus.DiveOrder)
	_, _, _, err := c.sessions.AddParticipant(t.Context(), c.by,
		sessions.NewParticipant{Key: once.New(), SessionID: c.open, EnrolmentID: &c.enrolled,
			Role: sessions.Student}, nil)
	refusedBy(t, err, sessions.Ungrouped)
	require.NoError(t, place(c.open))

	// Who came unexpected is there, and gets into a group by a decision only.
	came := c.Participant(later, nil, c.student, &c.enrolled, "student")
	move := []sessions.Move{{ParticipantID: came, GroupID: &group}}
	_, _, err = c.sessions.Regroup(t.Context(), c.by, later, move, nil)
	refusedBy(t, err, syllabus.DiveOrder)
	c.Exec(`UPDATE participant SET attendance = 'sat_out' WHERE id = @id`, map[string]any{"id": came})
	_, _, err = c.sessions.Regroup(t.Context(), c.by, later, move, nil)
	require.NoError(t, err, "who sits out does not get into the water")
}

// Whoever reads the day learns all that the opening would refuse, and nothing
// else.
func TestADaySaysWhatTheOpeningWould(t *testing.T) {
	c := newCounter(t)
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	lone := c.Person("Lena Lone", "2010-05-05", "student")
	e := c.Enrol(c.course, lone)
	c.Participant(c.open, nil, lone, &e, "student")
	said := func() finding.List {
		t.Helper()
		day, err := c.sessions.DayOf(t.Context(), c.by, c.student, time.Date(2026, 6, 7, 0, 0, 0, 0, time.UTC))
		require.NoError(t, err)
		require.Len(t, day.Sessions, 1)
		return day.Sessions[0].Findings
	}
	_, _, err := c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	for _, rule := range []finding.Rule{syllabus.DivePrerequisite, sessions.Ungrouped, sessions.NotBriefed,
		roster.MinorConsent, roster.MedicalMissing} {
		refusedBy(t, err, rule)
	}
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.ElementsMatch(t, f.Findings, said())
	c.Exec(`UPDATE participant SET attendance = 'sat_out' WHERE person_id = @p`, map[string]any{"p": lone})
	c.credit(t)
	c.Brief(c.open)
	require.Empty(t, said())
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	require.NoError(t, err)
}

func TestAnUnfitStudentKeepsTheSessionShut(t *testing.T) {
	c := newCounter(t)
	c.credit(t)
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	_, _, err := people.New(c.DB.DB).MarkUnfit(t.Context(), c.by, once.New(), c.student,
		time.Date(2026, 6, 7, 0, 0, 0, 0, time.UTC), nil)
	require.NoError(t, err)
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, roster.NotFit)
}

func TestACancelledCourseCallsItsSessionsOff(t *testing.T) {
	c := newCounter(t)
	c.Exec(`UPDATE session SET state = 'under_way' WHERE id = @id`, map[string]any{"id": c.confined})
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	end := func(state string) (courses.Course, error) {
		return c.desk.EndCourse(t.Context(), c.by,
			courses.Ending{CourseID: c.course, State: state, Reason: "too few students"})
	}
	refused := func(err error, words string) {
		t.Helper()
		require.ErrorIs(t, err, fault.Conflict.Err())
		require.ErrorContains(t, err, words)
	}
	_, err := end("closed")
	refused(err, "2 are planned or under way")
	out, err := end("cancelled")
	require.NoError(t, err)
	require.Equal(t, "cancelled", out.State)
	again, err := end("cancelled")
	require.NoError(t, err)
	require.Equal(t, out, again, "again does no harm")
	off, err := c.sessions.Session(t.Context(), c.by, c.open)
	require.NoError(t, err)
	require.Equal(t, []any{sessions.Cancelled, "too few students"}, []any{off.State, *off.StateReason})
	require.Zero(t, c.Count(`SELECT 1 FROM participant WHERE booked AND session_id = '`+c.open.String()+`'`),
		"nobody is booked by it any more")

	// What is under way goes on, with crew who help; nobody else joins.
	on, err := c.sessions.Session(t.Context(), c.by, c.confined)
	require.NoError(t, err)
	require.Equal(t, sessions.UnderWay, on.State)
	join := sessions.NewParticipant{Key: once.New(), SessionID: c.confined, EnrolmentID: &c.enrolled,
		Role: sessions.Student}
	_, _, _, err = c.sessions.AddParticipant(t.Context(), c.by, join, nil)
	refused(err, "course is cancelled")
	helper := c.Crew("Abel Assistant", "assistant")
	c.BriefPerson(c.confined, helper)
	_, _, _, err = c.sessions.AddParticipant(t.Context(), c.by,
		sessions.NewParticipant{Key: once.New(), SessionID: c.confined, PersonID: helper,
			Role: sessions.Assistant}, nil)
	require.NoError(t, err)
	c.Exec(`UPDATE session SET state = 'planned'`, nil) // as one that was left over
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refused(err, "course is cancelled")
	_, _, _, err = c.sessions.OpenGroup(t.Context(), c.by,
		sessions.NewGroup{Key: once.New(), SessionID: c.open, Name: "red",
			InCharge: c.Crew("Rui Instructor", "instructor")}, nil)
	refused(err, "course is cancelled")
}

func TestWhoWithdrawsLeavesThePlannedSessions(t *testing.T) {
	c := newCounter(t)
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	e, _, err := c.desk.Withdraw(t.Context(), c.by, c.enrolled, "moved away", nil)
	require.NoError(t, err)
	require.Equal(t, "withdrawn", e.State)
	require.Zero(t, c.Count(`SELECT 1 FROM participant WHERE role = 'student'`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM session_group WHERE id = '`+c.group.String()+
		`' AND students = 0`))
	stale := int64(99)
	other := c.Enrol(c.course, c.Student("Otto Other", "1990-01-01"))
	_, _, err = c.desk.Withdraw(t.Context(), c.by, other, "stale", &stale)
	require.ErrorIs(t, err, fault.Stale.Err())
}

func TestATransferCarriesWhatWasLearned(t *testing.T) {
	c := newCounter(t)
	c.credit(t)
	next := uuid.New()
	c.CourseBy(next, c.SyllabusOf(c.course))
	key := once.New()
	e, _, created, err := c.desk.Transfer(t.Context(), c.by, c.enrolled, next, key, nil, nil)
	require.NoError(t, err)
	require.True(t, created)
	require.Equal(t, next, e.CourseID)
	again, _, created, err := c.desk.Transfer(t.Context(), c.by, c.enrolled, next, key, nil, nil)
	require.NoError(t, err)
	require.False(t, created)
	require.Equal(t, e.ID, again.ID)
	p, err := c.assessment.Progress(t.Context(), c.by, e.ID)
	require.NoError(t, err)
	require.Equal(t, syllabus.Credited, p.Skills[0].State)
	require.Equal(t, 1, c.Count(`SELECT 1 FROM enrolment WHERE state = 'transferred'`))
}

// Anyone aged 10-14 in the group: 4 students to an instructor (one manual,
// 2024, seen).
func TestACorrectedBirthDateIsAFact(t *testing.T) {
	c := newCounter(t)
	for range 4 {
		other := c.Student("Other Student", "1990-01-01")
		e := c.Enrol(c.course, other)
		c.Participant(c.open, &c.group, other, &e, "student")
	}
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	_, found, err := c.desk.ChangePerson(t.Context(), c.by, c.student, 1,
		func(f *people.PersonFields) {
			f.BirthOn = time.Date(2013, 5, 5, 0, 0, 0, 0,
				time.UTC)
		}, "passport seen")
	require.NoError(t, err)
	require.NotEmpty(t, found.Of(ratio.TooManyStudents), "%+v", found)
	require.NotEmpty(t, found.Of(roster.MinorConsent), "a minor needs consent: %+v", found)
	require.Equal(t, 1, c.Count(`SELECT 1 FROM session_group WHERE NOT cleared`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'clearance_lost'`))
	_, found, err = c.desk.ChangePerson(t.Context(), c.by, c.student, 2,
		func(f *people.PersonFields) { f.Name = "Sara S." }, "married")
	require.NoError(t, err)
	require.Empty(t, found, "a name changes no ratio")
}

func TestAnIncompleteEnrolmentIsNotCompleted(t *testing.T) {
	c := newCounter(t)
	_, _, _, err := c.desk.Complete(t.Context(), c.by, c.enrolled, once.New(), nil)
	refusedBy(t, err, syllabus.SkillMissing)
	require.Zero(t, c.Count(`SELECT 1 FROM completion`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM enrolment WHERE state = 'active'`))
}

func TestWhatWasWitnessedIsVoidedByWhoMay(t *testing.T) {
	c := newCounter(t)
	part := c.Participant(c.confined, nil, c.student, &c.enrolled, "student")
	id := uuid.New()
	out, err := c.waterlog.LogGasChecks(t.Context(), c.by, c.confined,
		[]waterlog.GasCheck{{ID: id, ParticipantID: part,
			WitnessedAt: time.Date(2026, 6, 6, 9, 0, 0, 0, time.UTC), NoAnswer: true}})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	_, err = c.desk.VoidEntry(t.Context(), c.As(c.student), id, "no")
	require.ErrorIs(t, err, fault.Forbidden.Err())
	head, err := c.desk.Entry(t.Context(), c.As(c.student), id)
	require.NoError(t, err, "a student reads what concerns them")
	require.Nil(t, head.VoidedAt)
	_, err = c.desk.Entry(t.Context(), c.As(c.Student("Nosy Neighbour", "1990-01-01")), id)
	require.ErrorIs(t, err, fault.NotFound.Err())
	head, err = c.desk.VoidEntry(t.Context(), c.by, id, "another student")
	require.NoError(t, err)
	require.NotNil(t, head.VoidedAt)
	_, err = c.desk.VoidEntry(t.Context(), c.by, id, "again does no harm")
	require.NoError(t, err)
	report, err := ledger.Verify(t.Context(), c.DB.DB, c.Centre,
		ledger.Join(waterview.Ledger, assessment.Ledger, journal.Ledger, sessions.Ledger, people.Ledger))
	require.NoError(t, err)
	for _, p := range report.Problems {
		require.Equal(t, ledger.RowAdded, p.Code,
			"only the papers that the scene wrote past the service: %s", p)
	}
}

// A time in is never refused: what papers and fitness have against it is said.
func TestATimeInSaysWhoIsNotReady(t *testing.T) {
	c := newCounter(t)
	c.credit(t)
	minor := c.Student("Milo Minor", "2010-05-05")
	e := c.Enrol(c.course, minor)
	c.Exec(`UPDATE session SET state = 'under_way'`, nil)
	ready, unready := c.Participant(c.open, &c.group, c.student, &c.enrolled, "student"), c.Participant(c.open,
		&c.group, minor, &e, "student")
	c.BriefPerson(c.open, c.student)
	at := time.Date(2026, 6, 7, 8, 0, 0, 0, time.UTC)
	in := func(part uuid.UUID) waterlog.TimeIn {
		return waterlog.TimeIn{ID: uuid.New(), ParticipantID: part, InAt: at}
	}
	dives := c.Dives(c.open)
	out, err := c.desk.LogTimesIn(t.Context(), c.by, dives[0], []waterlog.TimeIn{in(ready), in(unready)})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.Empty(t, out[0].Findings)
	require.Equal(t, journal.Recorded, out[1].Status)
	require.NotEmpty(t, out[1].Findings.Of(roster.MinorConsent), "%+v", out[1].Findings)
	require.NotEmpty(t, out[1].Findings.Of(watercheck.NotBriefed), "%+v", out[1].Findings)

	c.Exec(`INSERT INTO unfit_mark (centre_id, id, person_id, on_day, marked_by, marked_at, body_digest) VALUES (@centre, @id, @person, '2026-06-07', @by, @now, '')`,
		map[string]any{"id": uuid.New(), "person": c.student, "by": c.Manager})
	out, err = c.desk.LogTimesIn(t.Context(), c.by, dives[0], []waterlog.TimeIn{in(ready)})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.NotEmpty(t, out[0].Findings.Of(roster.NotFit), "%+v", out[0].Findings)
	_, err = c.desk.LogTimesIn(t.Context(), c.by, uuid.New(), nil)
	require.ErrorIs(t, err, fault.NotFound.Err())
}
