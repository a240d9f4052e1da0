package desk_test

import (
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/courses"
	"tankside/internal/fault"
	"tankside/internal/people"
	"tankside/internal/ratio"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
)

// queue lets two use cases wait behind a row that is locked, the first before
// the second, and then lets both go on.
func (c *counter) queue(t *testing.T, locked string, id uuid.UUID, first, second func()) {
	t.Helper()
	watch, err := pgx.Connect(t.Context(), c.DB.SuperURL)
	require.NoError(t, err)
	defer watch.Close(t.Context())
	conn, err := pgx.Connect(t.Context(), c.DB.SuperURL)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	tx, err := conn.Begin(t.Context())
	require.NoError(t, err)
	_, err = tx.Exec(t.Context(), locked, id)
	require.NoError(t, err)
	var both sync.WaitGroup
	for i, do := range []func(){first, second} {
		both.Go(do)
		require.Eventually(t, func() bool {
			var waiting int
			err := watch.QueryRow(t.Context(),
				`SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND datname = current_database()`).Scan(&waiting)
			return err == nil && waiting == i+1
		}, 10*time.Second, 5*time.Millisecond, "use case %d waits for its turn", i+1)
	}
	require.NoError(t, tx.Rollback(t.Context()))
	both.Wait()
}

const (
	lockPerson    = `SELECT FROM person WHERE id = $1 FOR UPDATE`
	lockEnrolment = `SELECT FROM enrolment WHERE id = $1 FOR UPDATE`
)

// full puts four adults into the group: as many as it may have with anyone
// aged 10-14 in it (one manual, 2024, seen).
func (c *counter) full() {
	for range 4 {
		other := c.Student("Other Student", "1990-01-01")
		e := c.Enrol(c.course, other)
		c.Participant(c.open, &c.group, other, &e, "student")
	}
}

func (c *counter) place(t *testing.T) {
	_, _, err := c.sessions.Place(t.Context(), c.by,
		sessions.Placement{CourseID: c.course, EnrolmentIDs: []uuid.UUID{c.enrolled},
			SessionIDs: []uuid.UUID{c.open}}, nil)
	if err != nil {
		t.Errorf("place: %v", err)
	}
}

func (c *counter) makeYoung(t *testing.T) {
	_, _, err := c.desk.ChangePerson(t.Context(), c.by, c.student, 1,
		func(f *people.PersonFields) {
			f.BirthOn = time.Date(2013, 5, 5, 0, 0, 0, 0,
				time.UTC)
		}, "passport seen")
	if err != nil {
		t.Errorf("correct the birth date: %v", err)
	}
}

// The correction had looked for the person's sessions before the placement
// gave one, and would have left it judged by the old age.
func TestABirthDateCorrectedDuringAPlacement(t *testing.T) {
	c := newCounter(t)
	c.full()
	c.queue(t, lockPerson, c.student, func() { c.place(t) }, func() { c.makeYoung(t) })
	require.Equal(t, 1, c.Count(`SELECT 1 FROM session_group WHERE students = 5 AND places = 4 AND NOT cleared`))
}

// The same, when the person turns up without a plan.
func TestABirthDateCorrectedDuringARollCall(t *testing.T) {
	c := newCounter(t)
	c.full()
	call := sessions.NewRollCallEntry{ID: uuid.New(), Attendance: sessions.Present,
		WitnessedAt: time.Date(2026, 6, 7, 7, 0, 0, 0, time.UTC),
		Unexpected: &sessions.Unexpected{PersonID: c.student, EnrolmentID: &c.enrolled, GroupID: &c.group,
			Role: sessions.Student}}
	c.queue(t, lockPerson, c.student, func() {
		if _, _, err := c.sessions.CallRoll(t.Context(), c.by, c.open,
			[]sessions.NewRollCallEntry{call}); err != nil {
			t.Errorf("roll call: %v", err)
		}
	}, func() { c.makeYoung(t) })
	require.Equal(t, 1, c.Count(`SELECT 1 FROM session_group WHERE students = 5 AND places = 4 AND NOT cleared`))
}

// Whichever comes first, nobody who withdrew keeps a planned place.
func TestAWithdrawalDuringAPlacement(t *testing.T) {
	c := newCounter(t)
	c.queue(t, lockEnrolment, c.enrolled, func() { c.place(t) }, func() {
		if _, _, err := c.desk.Withdraw(t.Context(), c.by, c.enrolled, "moved away", nil); err != nil {
			t.Errorf("withdraw: %v", err)
		}
	})
	require.Zero(t, c.Count(`SELECT 1 FROM participant p JOIN enrolment e ON e.id = p.enrolment_id WHERE e.state = 'withdrawn'`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM enrolment WHERE state = 'withdrawn'`))
}

// Nine students need an assistant; then it turns out that the insurance was never
// valid. Only active and insured assistants count towards a ratio (training
// organisations' manuals, seen).
func TestAnAssistantWhosePaperWasVoidedDoesNotOpenTheSession(t *testing.T) {
	c := newCounter(t)
	abel := c.Person("Abel Assistant", "1985-03-01", "assistant")
	for _, kind := range []string{"teaching_status", "first_aid"} {
		c.Paper(abel, kind, "valid", "2020-01-01", "2040-01-01")
	}
	insurance := c.Paper(abel, "insurance", "valid", "2020-01-01", "2040-01-01")
	c.Participant(c.open, &c.group, abel, nil, "assistant")
	for range 9 {
		other := c.Student("Other Student", "1990-01-01")
		e := c.Enrol(c.course, other)
		c.Participant(c.open, &c.group, other, &e, "student")
	}
	_, err := c.desk.VoidPaper(t.Context(), c.by, insurance, "of somebody else")
	require.NoError(t, err)
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, ratio.TooManyStudents)
}

// Whichever comes first, no session of a cancelled course stays planned.
func TestACourseIsCancelledWhileASessionOpens(t *testing.T) {
	c := newCounter(t)
	c.credit(t)
	c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	c.Brief(c.open)
	errs := scenetest.Concurrently(2, func(i int) (err error) {
		if i == 0 {
			_, err = c.desk.EndCourse(t.Context(), c.by,
				courses.Ending{CourseID: c.course, State: "cancelled", Reason: "storm"})
			return err
		}
		_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
		return err
	})
	require.NoError(t, errs[0])
	s, err := c.sessions.Session(t.Context(), c.by, c.open)
	require.NoError(t, err)
	if errs[1] == nil {
		require.Equal(t, sessions.UnderWay, s.State)
		return
	}
	require.ErrorIs(t, errs[1], fault.Conflict.Err())
	require.Equal(t, sessions.Cancelled, s.State)
}
