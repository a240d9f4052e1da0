package sessions_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/roster"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// weekend is a course with a confined session on Saturday morning and an
// open-water session on Saturday afternoon, each with one group.
type weekend struct {
	*scenetest.Fixture
	service        *sessions.Service
	by             actor.Actor
	course         uuid.UUID
	confined, open sessions.Session
	group          sessions.Group // of the open-water session
	instructor     uuid.UUID
	enrolments     []uuid.UUID
	altered        bool // what was decided, by the test
}

// Enrol adds an active enrolment of somebody who has learned everything, since tests here
// are of what else keeps people out of the water.
func (w *weekend) Enrol(course, person uuid.UUID) uuid.UUID {
	e := w.Fixture.Enrol(course, person)
	w.Learned(e, syllabus.BuiltIn())
	return e
}

func newWeekend(t *testing.T, students int) *weekend {
	t.Helper()
	w := &weekend{Fixture: scenetest.New(t)}
	w.service = sessions.New(w.DB.DB, standing.New(versions.New[syllabus.Syllabus]()))
	w.by = w.As(w.Manager)
	t.Cleanup(func() { w.judgedAgain(t) })
	w.Clock(time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC))
	w.course = w.Course(syllabus.BuiltIn())
	pool, bay := w.Site("confined"), w.Site("open")
	w.confined = w.plan(t, ratio.Confined, &pool, "2026-06-06T09:00", "2026-06-06T11:00")
	w.open = w.plan(t, ratio.Open, &bay, "2026-06-06T14:00", "2026-06-06T17:00", 1, 2)
	w.instructor = w.Crew("Ines Instructor", "instructor")
	w.group = w.openGroup(t, w.open, "blue", w.instructor)
	for i := range students {
		w.enrolments = append(w.enrolments,
			w.Enrol(w.course, w.Student(fmt.Sprintf("Student %02d", i+1), "1995-05-05")))
	}
	return w
}

func (w *weekend) plan(t *testing.T, kind ratio.Setting, site *uuid.UUID, from, to string,
	dives ...int) sessions.Session {
	t.Helper()
	n := sessions.NewSession{Key: once.New(), CourseID: w.course, Kind: kind, Title: string(kind) + " " + from,
		SiteID: site,
		Times:  sessions.Times{StartsLocal: from, EndsLocal: to}, TrainingDives: dives}
	out, found, created, err := w.service.PlanSession(t.Context(), w.by, n, nil)
	require.NoError(t, err)
	require.True(t, created)
	require.Empty(t, found)
	return out
}

func (w *weekend) openGroup(t *testing.T, s sessions.Session, name string,
	instructor uuid.UUID) sessions.Group {
	t.Helper()
	g, _, _, err := w.service.OpenGroup(t.Context(), w.by,
		sessions.NewGroup{Key: once.New(), SessionID: s.ID, Name: name, InCharge: instructor}, nil)
	require.NoError(t, err)
	return g
}

func (w *weekend) place(enrolments ...uuid.UUID) error {
	_, _, err := w.service.Place(w.Context(), w.by,
		sessions.Placement{CourseID: w.course, EnrolmentIDs: enrolments, SessionIDs: []uuid.UUID{w.open.ID},
			GroupName: "blue"}, nil)
	return err
}

func (w *weekend) crew(person uuid.UUID, role sessions.Role) error {
	_, _, _, err := w.service.AddParticipant(w.Context(), w.by,
		sessions.NewParticipant{Key: once.New(), SessionID: w.open.ID, GroupID: &w.group.ID, PersonID: person,
			Role: role}, nil)
	return err
}

func refusedBy(t *testing.T, err error, rule finding.Rule) finding.Finding {
	t.Helper()
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, fault.Refused, f.Kind, "%v", err)
	require.NotEmpty(t, f.Findings.Of(rule), "%+v", f.Findings)
	return f.Findings.Of(rule)[0]
}

// Three organisations' manuals: in open water at entry level 8 students to an
// instructor, 10 with one assistant (seen).
func TestANinthStudentNeedsAnAssistant(t *testing.T) {
	w := newWeekend(t, 11)
	require.NoError(t, w.place(w.enrolments[:8]...))
	f := refusedBy(t, w.place(w.enrolments[8]), ratio.TooManyStudents)
	require.InDelta(t, 8, *f.Limit.Value, 0)
	require.InDelta(t, 9, *f.Found.Value, 0)
	require.NoError(t, w.crew(w.Crew("Abel Assistant", "assistant"), sessions.Assistant))
	require.NoError(t, w.place(w.enrolments[8:10]...))
	refusedBy(t, w.place(w.enrolments[10]), ratio.TooManyStudents)
	g, err := w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.Equal(t, []int{10, 10}, []int{g.Students, g.Places})
}

func TestPlacingAgainChangesNothing(t *testing.T) {
	w := newWeekend(t, 2)
	require.NoError(t, w.place(w.enrolments...))
	require.NoError(t, w.place(w.enrolments...))
	require.Equal(t, 3, w.Count(`SELECT 1 FROM participant`))
}

func TestTwoFullGroupsSwap(t *testing.T) {
	w := newWeekend(t, 16)
	red := w.openGroup(t, w.open, "red", w.Crew("Rui Instructor", "instructor"))
	require.NoError(t, w.place(w.enrolments[:8]...))
	_, _, err := w.service.Place(t.Context(), w.by,
		sessions.Placement{CourseID: w.course, EnrolmentIDs: w.enrolments[8:],
			SessionIDs: []uuid.UUID{w.open.ID}, GroupName: "red"}, nil)
	require.NoError(t, err)
	parts, err := w.service.Participants(t.Context(), w.by, w.open.ID)
	require.NoError(t, err)
	of := map[uuid.UUID]uuid.UUID{}
	for _, p := range parts {
		if p.EnrolmentID != nil {
			of[*p.EnrolmentID] = p.ID
		}
	}
	one := []sessions.Move{{ParticipantID: of[w.enrolments[0]], GroupID: &red.ID}}
	_, _, err = w.service.Regroup(t.Context(), w.by, w.open.ID, one, nil)
	refusedBy(t, err, ratio.TooManyStudents)
	_, _, err = w.service.Regroup(t.Context(), w.by, w.open.ID,
		append(one, sessions.Move{ParticipantID: of[w.enrolments[8]], GroupID: &w.group.ID}), nil)
	require.NoError(t, err)
	require.Equal(t, 2, w.Count(`SELECT 1 FROM session_group WHERE students = 8 AND cleared`))
}

func TestWhoMayNotGetIntoTheWaterIsRefused(t *testing.T) {
	w := newWeekend(t, 0)
	flagged := w.Student("Fay Flagged", "1990-01-01")
	w.Paper(flagged, "medical", "physician_needed", "2026-05-01", "")
	enrolment := w.Enrol(w.course, flagged)
	refusedBy(t, w.place(enrolment), roster.MedicalFlagged)
	w.Paper(flagged, "medical", "physician_approved", "2026-05-20", "2027-05-20")
	require.NoError(t, w.place(enrolment))

	minor := w.Student("Minna Minor", "2010-06-07") // 15 on the day
	enrolment = w.Enrol(w.course, minor)
	refusedBy(t, w.place(enrolment), roster.MinorConsent)
	w.Paper(minor, "consent", "valid", "2026-05-20", "2027-05-20")
	require.NoError(t, w.place(enrolment))
}

func TestCrewNeedPapersAndTimeAndRole(t *testing.T) {
	w := newWeekend(t, 0)
	lapsed := w.Person("Lars Lapsed", "1980-01-01", "instructor")
	w.Paper(lapsed, "teaching_status", "valid", "2020-01-01", "2040-01-01")
	w.Paper(lapsed, "first_aid", "valid", "2024-05-01", "2026-05-01")
	f := refusedBy(t, w.crew(lapsed, sessions.Instructor), roster.CrewPaper)
	require.Equal(t, "2026-05-01", f.Found.On)
	require.Equal(t, "2026-06-06", f.Limit.On)

	refusedBy(t, w.crew(w.Crew("Abel Assistant", "assistant"), sessions.Instructor), roster.NotQualified)

	busy := w.Crew("Bo Busy", "instructor")
	w.openGroup(t, w.open, "red", busy)
	other := w.plan(t, ratio.Confined, w.confined.SiteID, "2026-06-06T16:30", "2026-06-06T18:00")
	_, _, _, err := w.service.OpenGroup(t.Context(), w.by,
		sessions.NewGroup{Key: once.New(), SessionID: other.ID, Name: "late", InCharge: busy}, nil)
	refusedBy(t, err, roster.DoubleBooked)
}

func TestOpenWaterComesAfterConfinedWater(t *testing.T) {
	w := newWeekend(t, 0)
	_, _, err := w.service.MoveSession(t.Context(), w.by,
		sessions.Rescheduling{SessionID: w.open.ID,
			Times: sessions.Times{StartsLocal: "2026-06-06T08:00", EndsLocal: "2026-06-06T10:00"}}, nil)
	refusedBy(t, err, roster.OutOfOrder)
	moved, _, err := w.service.MoveSession(t.Context(), w.by,
		sessions.Rescheduling{SessionID: w.open.ID,
			Times: sessions.Times{StartsLocal: "2026-06-07T14:00",
				EndsLocal: "2026-06-07T17:00"}, Reason: "wind"}, nil)
	require.NoError(t, err)
	require.Equal(t, "2026-06-07", moved.Day())
	require.Equal(t, "2026-06-07T13:00:00Z", moved.StartsAt.Format(time.RFC3339))
	require.Equal(t, 1, w.Count(`SELECT 1 FROM outing WHERE on_day = '2026-06-07'`))
}

func TestReplacingTheInstructorIsOneOperation(t *testing.T) {
	w := newWeekend(t, 8)
	require.NoError(t, w.place(w.enrolments...))
	g, _, err := w.service.ReplaceInstructor(t.Context(), w.by,
		sessions.Replacement{GroupID: w.group.ID, PersonID: w.Crew("Nia New", "instructor")}, nil)
	require.NoError(t, err)
	require.True(t, g.Cleared)
	require.Equal(t, 1, w.Count(`SELECT 1 FROM participant WHERE role = 'in_charge'`))
	require.Zero(t, w.Count(`SELECT 1 FROM participant WHERE person_id = '`+w.instructor.String()+`'`))
}

func TestAFactTakesTheClearanceAndADecisionGivesItBack(t *testing.T) {
	w := newWeekend(t, 9)
	assistant := w.Crew("Abel Assistant", "assistant")
	require.NoError(t, w.crew(assistant, sessions.Assistant))
	require.NoError(t, w.place(w.enrolments...))
	w.Exec(`UPDATE participant SET attendance = 'absent' WHERE person_id = @p`, map[string]any{"p": assistant})
	rejudge := func() finding.List {
		var found finding.List
		require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
			found, err = w.service.Rejudge(ctx, w.by, tx, w.open.ID, "roll_call")
			return err
		}))
		return found
	}
	require.True(t, rejudge().Forbids())
	g, err := w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.False(t, g.Cleared)
	require.Equal(t, []int{9, 8}, []int{g.Students, g.Places})

	require.NoError(t, w.crew(w.Crew("Bea Assistant", "assistant"), sessions.Assistant))
	g, err = w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.True(t, g.Cleared)
	require.Equal(t, 2, w.Count(`SELECT 1 FROM clearance`))
	require.Equal(t, 2, w.Count(`SELECT 1 FROM ledger_entry`))
}

func TestThePlanIsAnsweredAgainToTheSameRequest(t *testing.T) {
	w := newWeekend(t, 0)
	site := w.Site("open")
	n := sessions.NewSession{Key: once.New(), CourseID: w.course, Kind: ratio.Open, Title: "again",
		SiteID: &site, Times: sessions.Times{StartsLocal: "2026-06-07T09:00", EndsLocal: "2026-06-07T12:00"}}
	first, _, created, err := w.service.PlanSession(t.Context(), w.by, n, nil)
	require.NoError(t, err)
	require.True(t, created)
	again, _, created, err := w.service.PlanSession(t.Context(), w.by, n, nil)
	require.NoError(t, err)
	require.False(t, created)
	require.Equal(t, first, again)
	n.Key.Digest = []byte("another body")
	_, _, _, err = w.service.PlanSession(t.Context(), w.by, n, nil)
	require.ErrorIs(t, err, fault.Conflict.Err())
}

func TestACautionIsAcceptedOnceForASession(t *testing.T) {
	w := newWeekend(t, 2)
	w.Exec(`UPDATE session SET visibility = '(1.5,m)'`, nil) // ISO 24801-3:2014 cl. 11.3: under 2 m is demanding
	err := w.place(w.enrolments[0])
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, "cautions_open", f.Code)
	caution := f.Findings.Only(finding.Caution)[0]
	accept := []journal.Acceptance{{Rule: caution.Rule, SubjectID: w.group.ID.String(),
		Reason: "two students only, shallow"}}
	_, _, err = w.service.Place(t.Context(), w.by,
		sessions.Placement{CourseID: w.course, EnrolmentIDs: w.enrolments[:1],
			SessionIDs: []uuid.UUID{w.open.ID}, GroupName: "blue"}, accept)
	require.NoError(t, err)
	require.NoError(t, w.place(w.enrolments[1]))
	require.Equal(t, 1, w.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'caution_accepted'`))
}

func TestADayIsOneReading(t *testing.T) {
	w := newWeekend(t, 3)
	require.NoError(t, w.place(w.enrolments...))
	day, err := w.service.DayOf(t.Context(), w.As(w.instructor), w.instructor,
		time.Date(2026, 6, 6, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	require.Len(t, day.Sessions, 1)
	require.Len(t, day.Sessions[0].Participants, 4)
	require.Equal(t, "Ines Instructor", day.Sessions[0].Participants[0].PersonName)
	require.Len(t, day.Sessions[0].Findings, 5,
		"four without a briefing, and one about all who were told no low-gas pressure")
	require.Len(t, day.Sessions[0].Findings.Of(sessions.NotBriefed), 4, "crew included")
	require.Len(t, day.Sessions[0].Findings.Of(readiness.NoLowPressureTold), 1, "of all four")
	w.Brief(w.open.ID)
	day, err = w.service.DayOf(t.Context(), w.As(w.instructor), w.instructor,
		time.Date(2026, 6, 6, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	require.Empty(t, day.Sessions[0].Findings)
}

// Code du sport, annex III-16a: first dives to 6 m, beginners' training to 20 m
// (seen). The site of the scene is 18 m deep.
func TestASiteNoDeeperThanABookHoldsRaisesNoQuestionOfDepth(t *testing.T) {
	w := newWeekend(t, 1)
	w.Exec(`UPDATE centre SET rule_books = '{france,general-open}' WHERE centre_id = @centre`, nil)
	_, _, err := w.service.Place(t.Context(), w.by,
		sessions.Placement{CourseID: w.course, EnrolmentIDs: w.enrolments, SessionIDs: []uuid.UUID{w.open.ID},
			GroupName: "blue"},
		[]journal.Acceptance{{Rule: ratio.ConditionOfBook.ID, SubjectID: w.group.ID.String(),
			Reason: "looked at the bay"}})
	require.NoError(t, err)
	g, err := w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.Empty(t, sessions.FoundOf(g).Of(ratio.DepthNotKnown), "nobody gets below 18 m")
	require.True(t, g.Cleared)

	w.Super(`UPDATE syllabus_version SET level = 'introductory'`)
	require.NoError(t, w.crew(w.Crew("Abel Assistant", "assistant"), sessions.Assistant))
	g, err = w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	deep := sessions.FoundOf(g).Of(ratio.DepthNotKnown)
	require.Len(t, deep, 1)
	require.Equal(t, []string{"6 m", "18 m"}, []string{deep[0].Limit.Text, deep[0].Found.Text})
	require.True(t, g.Cleared, "a deep site is not a deep plan")
}
