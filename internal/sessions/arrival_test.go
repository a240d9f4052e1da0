package sessions_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/sessions"
	"tankside/internal/syllabus"
)

// void voids an entry as package desk does.
func (w *weekend) void(t *testing.T, id uuid.UUID) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
		head, err := journal.Find(ctx, tx, id)
		require.NoError(t, err)
		require.NoError(t, w.service.Hold(ctx, tx, *head.SessionID))
		require.NoError(t, journal.Void(ctx, w.by, tx, head, "somebody else"))
		return w.service.VoidEntry(ctx, w.by, tx, head)
	}))
}

// comes has somebody turn up whom nobody expected.
func (w *weekend) comes(t *testing.T, u sessions.Unexpected, at time.Time) journal.Result {
	t.Helper()
	out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
		[]sessions.NewRollCallEntry{{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: at,
			Unexpected: &u}})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status, "%v", out[0].Refusal)
	return out[0]
}

// The earliest roll call that stands gives the place, as long as nobody decided;
// the groups are judged by it. One that says otherwise is pointed out.
func TestTheEarliestRollCallPlacesWhoCameUnexpected(t *testing.T) {
	w := newWeekend(t, 8)
	require.NoError(t, w.place(w.enrolments...))
	red := w.openGroup(t, w.open, "red", w.Crew("Rui Instructor", "instructor"))
	gil := w.Student("Gil Guest", "1990-01-01")
	one, other := w.Enrol(w.course, gil), w.Enrol(w.Course(syllabus.BuiltIn()), gil)
	cleared := func() []bool {
		groups, err := w.service.Groups(t.Context(), w.by, w.open.ID)
		require.NoError(t, err)
		return []bool{groups[0].Cleared, groups[1].Cleared}
	}
	later := w.comes(t, sessions.Unexpected{PersonID: gil, EnrolmentID: &one, GroupID: &w.group.ID,
		Role: sessions.Student}, seen.Add(2*time.Minute))
	require.Equal(t, []bool{false, true}, cleared(), "a ninth in blue")
	first := w.comes(t, sessions.Unexpected{PersonID: gil, EnrolmentID: &other, GroupID: &red.ID,
		Role: sessions.Student}, seen)
	require.Empty(t, first.Findings)
	require.Equal(t, []bool{true, true}, cleared())
	p := w.part(t, gil)
	require.Equal(t, []any{red.ID, other, sessions.ParticipantID(w.open.ID, gil)},
		[]any{*p.GroupID, *p.EnrolmentID, p.ID})
	crew := w.comes(t, sessions.Unexpected{PersonID: gil, Role: sessions.Assistant}, seen.Add(time.Hour))
	said := crew.Findings.Of(sessions.PlacedOtherwise)
	require.Len(t, said, 1)
	require.Contains(t, said[0].Message,
		`as assistant in no group; an earlier one, which counts, as student in group "red"`)
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
		found, err := foundOfCalls(ctx, tx, w.open.ID)
		require.Empty(t, found[first.ID])
		require.Len(t, found[crew.ID], 1)
		require.Contains(t, found[later.ID][0].Message, "They name different enrolments.")
		return err
	}))

	w.void(t, first.ID)
	p = w.part(t, gil)
	require.Equal(t, []uuid.UUID{w.group.ID, one}, []uuid.UUID{*p.GroupID, *p.EnrolmentID}, "the next earliest")
	require.Equal(t, []bool{false, true}, cleared())

	_, _, err := w.service.Regroup(t.Context(), w.by, w.open.ID,
		[]sessions.Move{{ParticipantID: p.ID, GroupID: &red.ID}}, nil)
	require.NoError(t, err)
	w.comes(t, sessions.Unexpected{PersonID: gil, EnrolmentID: &one, GroupID: &w.group.ID,
		Role: sessions.Student}, seen.Add(-time.Hour))
	require.Equal(t, red.ID, *w.part(t, gil).GroupID, "a decision is moved by no roll call")
	require.Equal(t, []bool{true, true}, cleared())
}

func TestWhoCameUnexpectedIsNotThereOnceEveryRollCallIsVoided(t *testing.T) {
	w := newWeekend(t, 8)
	require.NoError(t, w.place(w.enrolments...))
	gil := w.Student("Gil Guest", "1990-01-01")
	enrolment := w.Enrol(w.course, gil)
	r := w.comes(t, sessions.Unexpected{PersonID: gil, EnrolmentID: &enrolment, GroupID: &w.group.ID,
		Role: sessions.Student}, seen)
	g, err := w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.Equal(t, []any{9, false}, []any{g.Students, g.Cleared})
	w.void(t, r.ID)
	require.Equal(t, sessions.Absent, w.part(t, gil).Attendance)
	g, err = w.service.Group(t.Context(), w.by, w.group.ID)
	require.NoError(t, err)
	require.Equal(t, []any{8, true}, []any{g.Students, g.Cleared})
}

// What is said of an unexpected person is held against what there is, whether
// the person is known by then or not; and a group that a roll call names stays.
func TestARollCallThatPlacesNamesWhatThereIs(t *testing.T) {
	w := newWeekend(t, 0)
	rui := w.Crew("Rui Instructor", "instructor")
	red := w.openGroup(t, w.open, "red", rui)
	elsewhere := w.openGroup(t, w.confined, "blue", w.instructor)
	gil, other := w.Student("Gil Guest", "1990-01-01"), w.Student("Ina Other", "1990-01-01")
	hers := w.Enrol(w.course, other)
	for range 2 {
		for code, u := range map[string]sessions.Unexpected{
			"unknown_reference": {PersonID: gil, GroupID: &elsewhere.ID, Role: sessions.Assistant},
			"invalid_request":   {PersonID: gil, Role: sessions.Student},
		} {
			out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
				[]sessions.NewRollCallEntry{{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: seen,
					Unexpected: &u}})
			require.NoError(t, err)
			require.Equal(t, code, out[0].Refusal.Code)
		}
		out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
			[]sessions.NewRollCallEntry{{ID: uuid.New(), Attendance: sessions.Present, WitnessedAt: seen,
				Unexpected: &sessions.Unexpected{PersonID: gil, Role: sessions.Student, EnrolmentID: &hers}}})
		require.NoError(t, err)
		require.Equal(t, "unknown_reference", out[0].Refusal.Code)
		w.comes(t, sessions.Unexpected{PersonID: gil, Role: sessions.Assistant, GroupID: &red.ID}, seen)
	}
	p := w.part(t, gil)
	_, _, err := w.service.Regroup(t.Context(), w.by, w.open.ID,
		[]sessions.Move{{ParticipantID: p.ID, GroupID: &w.group.ID}}, nil)
	require.NoError(t, err)
	in := w.part(t, rui)
	_, err = w.service.RemoveParticipant(t.Context(), w.by, in.ID, in.Version, nil)
	require.NoError(t, err)
	require.ErrorIs(t, w.service.DeleteGroup(t.Context(), w.by, red.ID, red.Version), fault.Conflict.Err(),
		"empty, and a roll call names it")
}
