package offline_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/offline"
	"tankside/internal/people"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
	"tankside/internal/syllabus"
	"tankside/internal/waterlog"
)

// counter is a centre with a course that takes batches: a confined session, an
// open-water session planned with one group, and one student enrolled.
type counter struct {
	*scenetest.Fixture
	offline    *offline.Service
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
	c.offline = offline.New(db, c.desk)
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
