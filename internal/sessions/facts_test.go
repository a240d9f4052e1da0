package sessions_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/sessions"
	"tankside/internal/units"
)

var seen = time.Date(2026, 6, 1, 8, 0, 0, 0, time.UTC)

func (w *weekend) part(t *testing.T, person uuid.UUID) sessions.Participant {
	t.Helper()
	parts, err := w.service.Participants(t.Context(), w.by, w.open.ID)
	require.NoError(t, err)
	for _, p := range parts {
		if p.PersonID == person {
			return p
		}
	}
	t.Fatal("no such participant")
	return sessions.Participant{}
}

func (w *weekend) call(t *testing.T, person uuid.UUID, a sessions.Attendance, at time.Time) (journal.Result,
	finding.List) {
	t.Helper()
	p := w.part(t, person)
	out, found, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
		[]sessions.NewRollCallEntry{{ID: uuid.New(), ParticipantID: &p.ID, Attendance: a, WitnessedAt: at}})
	require.NoError(t, err)
	return out[0], found
}

func TestAnAssistantWhoFallsIllIsAFact(t *testing.T) {
	w := newWeekend(t, 9)
	assistant := w.Crew("Abel Assistant", "assistant")
	require.NoError(t, w.crew(assistant, sessions.Assistant))
	require.NoError(t, w.place(w.enrolments...))
	r, found := w.call(t, assistant, sessions.Absent, seen)
	require.Equal(t, journal.Recorded, r.Status)
	require.NotEmpty(t, found.Of(ratio.TooManyStudents))
	g, err := w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.False(t, g.Cleared)

	_, _, err = w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	refusedBy(t, err, ratio.TooManyStudents)

	w.call(t, assistant, sessions.Present, seen.Add(time.Hour))
	g, err = w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.True(t, g.Cleared)
}

// Nine students need an assistant (three organisations' manuals, seen). That the
// dive ends is our choice.
func TestAGroupInTheWaterThatLostItsClearanceEndsTheDive(t *testing.T) {
	w := newWeekend(t, 9)
	assistant := w.Crew("Abel Assistant", "assistant")
	require.NoError(t, w.crew(assistant, sessions.Assistant))
	require.NoError(t, w.place(w.enrolments...))
	ends := func() (read []bool) {
		t.Helper()
		g, err := w.service.Group(t.Context(), w.by, w.group.ID)
		require.NoError(t, err)
		all, err := w.service.Groups(t.Context(), w.by, w.open.ID)
		require.NoError(t, err)
		day, err := w.service.DayOf(t.Context(), w.by, w.instructor, w.open.OnDay)
		require.NoError(t, err)
		for _, found := range []finding.List{sessions.FoundOf(g), sessions.FoundOf(all[0]),
			day.Sessions[0].Findings} {
			read = append(read, len(found.Of(sessions.EndTheDive)) == 1)
		}
		return read
	}
	yes, no := []bool{true, true, true}, []bool{false, false, false}
	w.call(t, assistant, sessions.Absent, seen)
	require.Equal(t, no, ends(), "nobody is in the water yet")
	w.call(t, assistant, sessions.Present, seen.Add(time.Minute))
	w.Brief(w.open.ID)
	_, _, err := w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.NoError(t, err)
	require.Equal(t, no, ends())
	_, found := w.call(t, assistant, sessions.LeftEarly, seen.Add(2*time.Minute))
	require.Len(t, found.Of(sessions.EndTheDive), 1)
	require.Equal(t, yes, ends())
	_, _, err = w.service.AbandonSession(t.Context(), w.by, w.open.ID, "the assistant fell ill", nil)
	require.NoError(t, err)
	require.Equal(t, no, ends(), "the dive has ended")
}

// Below the age of majority, a guardian's consent (ISO 24803:2017 cl. 4.1, seen);
// a group's instructor is responsible for everybody in the water (training
// organisations' manuals, seen).
func TestARollCallSaysWhoIsThereAndMustNotGetIn(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	minor, come := w.Student("Milo Minor", "2010-05-05"), uuid.New()
	enrolment := w.Enrol(w.course, minor)
	r, _ := w.call(t, w.PersonOf(w.enrolments[0]), sessions.Present, seen)
	require.Empty(t, r.Findings)
	out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
		[]sessions.NewRollCallEntry{{ID: come, Attendance: sessions.Present, WitnessedAt: seen,
			Unexpected: &sessions.Unexpected{PersonID: minor, EnrolmentID: &enrolment,
				Role: sessions.Student}}})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	rules := func(l finding.List) (out []string) {
		for _, f := range l {
			out = append(out, f.Rule)
		}
		return out
	}
	require.Equal(t, []string{roster.MinorConsent.ID, sessions.Ungrouped.ID}, rules(out[0].Findings))
	read := func() []string {
		t.Helper()
		var l finding.List
		require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
			found, err := foundOfCalls(ctx, tx, w.open.ID)
			l = found[come]
			return err
		}))
		return rules(l)
	}
	require.Equal(t, []string{roster.MinorConsent.ID, sessions.Ungrouped.ID}, read())
	w.Paper(minor, "consent", "valid", "2026-01-01", "")
	require.Equal(t, []string{sessions.Ungrouped.ID}, read(), "found anew from what is on record")
	r, _ = w.call(t, minor, sessions.SatOut, seen.Add(time.Minute))
	require.Empty(t, r.Findings, "who sits out does not get into the water")
}

func TestRollCallsArriveInAnyOrder(t *testing.T) {
	w := newWeekend(t, 0)
	w.call(t, w.instructor, sessions.Late, seen.Add(time.Hour))
	w.call(t, w.instructor, sessions.Absent, seen)
	require.Equal(t, sessions.Late, w.part(t, w.instructor).Attendance)
}

func TestANinthStudentInTheWaterIsHeard(t *testing.T) {
	w := newWeekend(t, 9)
	require.NoError(t, w.place(w.enrolments[:8]...))
	ninth := w.Student("Nina Ninth", "1999-09-09")
	enrolment := w.Enrol(w.course, ninth)
	call := sessions.NewRollCallEntry{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: seen,
		Unexpected: &sessions.Unexpected{PersonID: ninth, EnrolmentID: &enrolment, GroupID: &w.group.ID,
			Role: sessions.Student}}
	out, found, err := w.service.CallRoll(t.Context(), w.by, w.open.ID, []sessions.NewRollCallEntry{call})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status)
	require.True(t, found.Forbids())
	out, _, err = w.service.CallRoll(t.Context(), w.by, w.open.ID, []sessions.NewRollCallEntry{call})
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, out[0].Status)
	call.Attendance = sessions.Absent
	out, _, err = w.service.CallRoll(t.Context(), w.by, w.open.ID, []sessions.NewRollCallEntry{call})
	require.NoError(t, err)
	require.Equal(t, "id_reused", out[0].Refusal.Code)
	require.Equal(t, 9, w.Count(`SELECT 1 FROM participant WHERE role = 'student'`))
}

func TestAnOpenSessionIsNotJoinedByTheUnready(t *testing.T) {
	w := newWeekend(t, 1)
	w.Brief(w.open.ID)
	_, _, err := w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.NoError(t, err)
	noWaiver := w.Person("Will Waverless", "1990-01-01", "student")
	w.Paper(noWaiver, "medical", "nothing_flagged", "2026-01-01", "")
	refusedBy(t, w.place(w.Enrol(w.course, noWaiver)), roster.StudentPaper)
	refusedBy(t, w.place(w.enrolments[0]), sessions.NotBriefed)
	w.BriefPerson(w.open.ID, w.PersonOf(w.enrolments[0]))
	require.NoError(t, w.place(w.enrolments[0]))
	s, _, err := w.service.AbandonSession(t.Context(), w.by, w.open.ID, "thunder", nil)
	require.NoError(t, err)
	require.Equal(t, sessions.Abandoned, s.State)
}

func TestAVoidedRollCallCountsNoMore(t *testing.T) {
	w := newWeekend(t, 0)
	r, _ := w.call(t, w.instructor, sessions.Absent, seen)
	w.void(t, r.ID)
	require.Equal(t, sessions.Expected, w.part(t, w.instructor).Attendance)
}

// Queensland (introductory dives): fewer places in poor visibility is the
// instructor's to decide; ISO 24801-3:2014 cl. 11.3 calls under 2 m demanding.
func TestConditionsAreHeardAndJudged(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	low := units.Read(1.5, units.UnitMetre)
	head, created, err := w.service.ReportConditions(t.Context(), w.by,
		sessions.Report{Key: once.New(), SessionID: w.open.ID, Visibility: &low, WitnessedAt: seen})
	require.NoError(t, err)
	require.True(t, created)
	require.True(t, head.Findings.Has(finding.Caution))
	s, err := w.service.Session(t.Context(), w.by, w.open.ID)
	require.NoError(t, err)
	require.Equal(t, "1.5 m", s.Visibility.String())
	far := units.Read(12, units.UnitMetre)
	_, _, err = w.service.ReportConditions(t.Context(), w.by,
		sessions.Report{Key: once.New(), SessionID: w.open.ID, Visibility: &far,
			WitnessedAt: seen.Add(-time.Hour)})
	require.NoError(t, err)
	s, err = w.service.Session(t.Context(), w.by, w.open.ID)
	require.NoError(t, err)
	require.Equal(t, "1.5 m", s.Visibility.String(), "an older report that comes late changes nothing")
}

// The contract asks for neither member, so that one call says who was planned and
// another who came unexpected.
func TestACallThatNamesNobodyIsRefusedAlone(t *testing.T) {
	w := newWeekend(t, 1)
	p := w.part(t, w.instructor)
	out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID, []sessions.NewRollCallEntry{
		{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: seen},
		{ID: uuid.New(), ParticipantID: &p.ID, Attendance: sessions.Present, WitnessedAt: seen},
	})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", out[0].Refusal.Code)
	require.Equal(t, journal.Recorded, out[1].Status)
}

func TestAWitnessIsCrewAndNotFromTheFuture(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	p := w.part(t, w.instructor)
	student := w.Student("Sam Student", "1990-01-01")
	out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID, []sessions.NewRollCallEntry{
		{ID: uuid.New(), ParticipantID: &p.ID, Attendance: sessions.Present, WitnessedAt: seen,
			WitnessedBy: &student},
		{ID: uuid.New(), ParticipantID: &p.ID, Attendance: sessions.Present,
			WitnessedAt: time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC)},
		{ID: uuid.New(), ParticipantID: &p.ID, Attendance: sessions.Present, WitnessedAt: seen},
	})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", out[0].Refusal.Code)
	require.Equal(t, "invalid_request", out[1].Refusal.Code)
	require.Equal(t, journal.Recorded, out[2].Status, "one item's refusal never undoes another's")
}

// foundOfCalls reads a session and returns what is found of its roll calls.
func foundOfCalls(ctx context.Context, tx *pg.Tx, session uuid.UUID) (map[uuid.UUID]finding.List, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Everything)
	return sessions.FoundOfCalls(v), err
}
