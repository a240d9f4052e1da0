package courses_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/courses"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
)

type bench struct {
	*scenetest.Fixture
	courses *courses.Service
	by      actor.Actor // of the manager, who is an instructor too
	course  uuid.UUID
}

func newBench(t *testing.T, places int) *bench {
	t.Helper()
	t.Parallel()
	s := scenetest.New(t)
	s.Clock(time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC))
	b := &bench{Fixture: s, courses: courses.New(s.DB.DB), by: s.As(s.Manager),
		course: s.Course(syllabus.BuiltIn())}
	s.Exec(`UPDATE course SET places = @places WHERE id = @course`,
		map[string]any{"places": places, "course": b.course})
	return b
}

func (b *bench) active() int { return b.Count(`SELECT 1 FROM enrolment WHERE state = 'active'`) }

// Eight booking pages sell the last two places at the same moment.
func TestTheLastPlacesGoToAsManyAsThereAre(t *testing.T) {
	b := newBench(t, 2)
	var who []uuid.UUID
	for i := range 8 {
		who = append(who, b.Student(fmt.Sprintf("Student %d", i), "1995-05-05"))
	}
	refused := 0
	for _, err := range scenetest.Concurrently(8, func(i int) error {
		_, _, _, err := b.courses.Enrol(t.Context(), b.by,
			courses.NewEnrolment{Key: once.New(), CourseID: b.course, PersonID: who[i]}, nil)
		return err
	}) {
		if err != nil {
			require.ErrorIs(t, err, fault.Refused.Err())
			refused++
		}
	}
	require.Equal(t, 6, refused)
	require.Equal(t, 2, b.active())
}

// Whoever waits is let in when there is a place, and only so many.
func TestThoseWhoWaitDoNotPassTheLimitTogether(t *testing.T) {
	b := newBench(t, 1)
	var waiting []uuid.UUID
	for i := range 4 {
		e, _, _, err := b.courses.Enrol(t.Context(), b.by,
			courses.NewEnrolment{Key: once.New(), CourseID: b.course, Waiting: true,
				PersonID: b.Student(fmt.Sprintf("Student %d", i), "1995-05-05")}, nil)
		require.NoError(t, err)
		require.Equal(t, "waiting", e.State)
		waiting = append(waiting, e.ID)
	}
	let := 0
	for _, err := range scenetest.Concurrently(4, func(i int) error {
		_, _, err := b.courses.Activate(t.Context(), b.by, waiting[i], nil, nil)
		return err
	}) {
		if err == nil {
			let++
		}
	}
	require.Equal(t, 1, let)
	require.Equal(t, 1, b.active())
}

// One booking, sent by a page and by the desk at once, each with an id of its
// own: one of them is told that the person is on the course.
func TestNobodyIsOnACourseTwice(t *testing.T) {
	b := newBench(t, 8)
	student := b.Student("Sara Student", "1995-05-05")
	made := 0
	for _, err := range scenetest.Concurrently(5, func(int) error {
		_, _, _, err := b.courses.Enrol(t.Context(), b.by,
			courses.NewEnrolment{Key: once.New(), CourseID: b.course, PersonID: student}, nil)
		return err
	}) {
		if err == nil {
			made++
			continue
		}
		require.NotEqual(t, fault.Internal, fault.KindOf(err), "%v", err)
	}
	require.Equal(t, 1, made)
	require.Equal(t, 1, b.active())
}

// The same request sent again while the first is under way is answered with what
// the first made.
func TestABookingSentTwiceAtOnceIsOne(t *testing.T) {
	b := newBench(t, 1)
	n := courses.NewEnrolment{Key: once.New(), CourseID: b.course,
		PersonID: b.Student("Sara Student", "1995-05-05")}
	created := make([]bool, 4)
	for _, err := range scenetest.Concurrently(4, func(i int) (err error) {
		_, _, created[i], err = b.courses.Enrol(t.Context(), b.by, n, nil)
		return err
	}) {
		require.NoError(t, err)
	}
	require.Equal(t, 1, b.active())
	one := 0
	for _, c := range created {
		if c {
			one++
		}
	}
	require.Equal(t, 1, one)
}

// Ended while somebody is enrolled: never an active enrolment on a course that
// takes none.
func TestACourseThatEndsTakesNobodyIn(t *testing.T) {
	b := newBench(t, 8)
	student := b.Student("Sara Student", "1995-05-05")
	errs := scenetest.Concurrently(2, func(i int) error {
		if i == 0 {
			return b.DB.InTx(t.Context(), b.Centre, func(ctx context.Context, tx *pg.Tx) error {
				_, err := b.courses.EndCourse(ctx, tx,
					courses.Ending{CourseID: b.course, State: "cancelled", Reason: "no boat"})
				return err
			})
		}
		_, _, _, err := b.courses.Enrol(t.Context(), b.by,
			courses.NewEnrolment{Key: once.New(), CourseID: b.course, PersonID: student}, nil)
		return err
	})
	require.True(t, errs[0] == nil || errs[1] == nil, "%v", errs)
	if errs[1] != nil {
		require.ErrorIs(t, errs[1], fault.Conflict.Err())
	}
	_, _, _, err := b.courses.Enrol(t.Context(), b.by,
		courses.NewEnrolment{Key: once.New(), CourseID: b.course,
			PersonID: b.Student("Late Student", "1995-05-05")}, nil)
	require.Equal(t, errs[0] == nil, err != nil, "%v %v", errs[0], err)
}

// Withdrawing gives the place back, and only once.
func TestWithdrawingTwiceAtOnceGivesOnePlaceBack(t *testing.T) {
	b := newBench(t, 1)
	e := b.Enrol(b.course, b.Student("Sara Student", "1995-05-05"))
	for _, err := range scenetest.Concurrently(3, func(int) error {
		return b.DB.InTx(t.Context(), b.Centre, func(ctx context.Context, tx *pg.Tx) error {
			_, err := b.courses.Withdraw(ctx, tx, e, "moved away", nil)
			return err
		})
	}) {
		require.NoError(t, err, "again does no harm")
	}
	require.Zero(t, b.active())
	_, _, _, err := b.courses.Enrol(t.Context(), b.by,
		courses.NewEnrolment{Key: once.New(), CourseID: b.course,
			PersonID: b.Student("Next Student", "1995-05-05")}, nil)
	require.NoError(t, err)
}
