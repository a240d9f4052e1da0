package sessions_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/roster"
	"tankside/internal/sessions"
)

// counts records a head count of the open-water session's outing by somebody with
// their own token.
func (w *weekend) counts(t *testing.T, by uuid.UUID, phase string, figure, minute int) sessions.HeadCount {
	t.Helper()
	c, created, err := w.service.CountHeads(t.Context(), w.As(by),
		sessions.NewHeadCount{Key: once.New(), OutingID: *w.open.OutingID, Phase: phase,
			Figure: figure, CountedAt: seen.Add(time.Duration(minute) * time.Minute)})
	require.NoError(t, err)
	require.True(t, created)
	return c
}

// Queensland 2011: a head count before departure by two people (seen).
func TestHeadCountsThatDifferAreAnAlarmUntilAThirdAgrees(t *testing.T) {
	w := newWeekend(t, 2)
	require.NoError(t, w.place(w.enrolments...))
	_, created, err := w.service.AddGuest(t.Context(), w.by, once.New(),
		sessions.Guest{OutingID: *w.open.OutingID, Name: "Skipper", Part: "skipper"})
	require.NoError(t, err)
	require.True(t, created)
	count := func(by uuid.UUID, figure, minute int) roster.CountState {
		t.Helper()
		c := w.counts(t, by, "return", figure, minute)
		require.Equal(t, 4, c.OnList, "an instructor, two students and the skipper")
		require.Equal(t, &by, c.RecordedBy)
		return c.State
	}
	other := w.Crew("Otto Other", "assistant")
	require.Equal(t, roster.CountedOne, count(w.instructor, 4, 0))
	require.Equal(t, roster.Alarm, count(other, 3, 1))
	require.Equal(t, roster.Agreed, count(w.Manager, 4, 2), "a third agrees with the first and the list")
	require.Equal(t, roster.Alarm, count(other, 3, 3), "a later one differs again")
}

func TestACountThatIsEnteredForAnotherIsNoSecondOne(t *testing.T) {
	w := newWeekend(t, 2)
	require.NoError(t, w.place(w.enrolments...))
	require.Equal(t, roster.CountedOne, w.counts(t, w.instructor, "departure", 3, 0).State)
	c, _, err := w.service.CountHeads(t.Context(), w.As(w.instructor),
		sessions.NewHeadCount{Key: once.New(), OutingID: *w.open.OutingID, Phase: "departure",
			Figure: 3, CountedBy: &w.Manager, CountedAt: seen.Add(time.Minute)})
	require.NoError(t, err)
	require.Equal(t, []any{roster.CountedOne, w.Manager, &w.instructor},
		[]any{c.State, c.CountedBy, c.RecordedBy})
	require.Equal(t, roster.Agreed, w.counts(t, w.Manager, "departure", 3, 2).State)
}

func TestAnIncidentEndsNoAlarm(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	require.Equal(t, roster.Alarm, w.counts(t, w.instructor, "departure", 9, 0).State)
	_, _, err := w.service.RecordIncident(t.Context(), w.by,
		sessions.NewIncident{Key: once.New(), OutingID: w.open.OutingID,
			What: "Counted the crew of the next boat.", EndsAlarm: true,
			WitnessedAt: seen.Add(time.Minute), People: []sessions.IncidentPerson{{PersonID: w.instructor,
				Part: "counted"}}})
	require.NoError(t, err)
	v, err := w.service.Outing(t.Context(), w.by, *w.open.OutingID)
	require.NoError(t, err)
	require.Equal(t, roster.Alarm, v.Counts[0].State)
	require.Len(t, v.Aboard, 2)
	w.Brief(w.open.ID)
	_, _, err = w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	refusedBy(t, err, roster.HeadsNotSettled)
	w.counts(t, w.instructor, "departure", 2, 2)
	_, _, err = w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.Contains(t, refusedBy(t, err, roster.HeadsNotSettled).Message, "by one person alone")
	w.counts(t, w.Manager, "departure", 2, 3)
	_, _, err = w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.NoError(t, err)
}

// A student who tells of an incident tells one of the crew, who reports it.
func TestAnIncidentIsWitnessedByCrewOrAManager(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	for who, want := range map[uuid.UUID]string{w.PersonOf(w.enrolments[0]): "unknown_reference",
		w.instructor: "", w.Manager: ""} {
		_, _, err := w.service.RecordIncident(t.Context(), w.by,
			sessions.NewIncident{Key: once.New(), OutingID: w.open.OutingID, What: "A cut on the foot.",
				WitnessedAt: seen, WitnessedBy: &who})
		if want == "" {
			require.NoError(t, err)
			continue
		}
		var f *fault.Fault
		require.ErrorAs(t, err, &f)
		require.Equal(t, want, f.Code)
	}
}

// Whoever is absent or left early is looked for until somebody says that they are
// not aboard. (Our choice.)
func TestWhoIsAbsentIsLookedForUntilSaidNotAboard(t *testing.T) {
	w := newWeekend(t, 2)
	require.NoError(t, w.place(w.enrolments...))
	list := func(at int) int { return w.counts(t, w.instructor, "departure", 3, at).OnList }
	gone := w.part(t, w.PersonOf(w.enrolments[0]))
	say := func(a sessions.Attendance, aboard *bool, minute int) string {
		t.Helper()
		out, _, err := w.service.CallRoll(t.Context(), w.by, w.open.ID,
			[]sessions.NewRollCallEntry{{ID: uuid.New(), ParticipantID: &gone.ID, Attendance: a, Aboard: aboard,
				WitnessedAt: seen.Add(time.Duration(minute) * time.Minute)}})
		require.NoError(t, err)
		if out[0].Refusal != nil {
			return out[0].Refusal.Code
		}
		return ""
	}
	require.Empty(t, say(sessions.Absent, nil, 1))
	require.Equal(t, 3, list(2))
	require.Empty(t, say(sessions.LeftEarly, new(false), 3))
	require.Equal(t, 2, list(4))
	require.Equal(t, 3, list(2), "at its own moment")
	require.Empty(t, say(sessions.Absent, nil, 5))
	require.Equal(t, 2, list(6), "nothing new is said of being aboard")
	require.Equal(t, "invalid_request", say(sessions.Present, new(false), 7))
	require.Empty(t, say(sessions.SatOut, nil, 8))
	require.Equal(t, 3, list(9))
}

// An instructor who falls ill is replaced and stays on the list as absent; one
// who is well leaves it.
func TestWhoeverFellIllAndIsReplacedStaysAsAbsent(t *testing.T) {
	w := newWeekend(t, 1)
	require.NoError(t, w.place(w.enrolments...))
	rui, joao := w.Crew("Rui Instructor", "instructor"), w.Crew("Joao Instructor", "instructor")
	replace := func(by uuid.UUID) []sessions.Participant {
		t.Helper()
		_, _, err := w.service.ReplaceInstructor(t.Context(), w.by,
			sessions.Replacement{GroupID: w.group.ID, PersonID: by}, nil)
		require.NoError(t, err)
		parts, err := w.service.Participants(t.Context(), w.by, w.open.ID)
		require.NoError(t, err)
		return parts
	}
	w.Exec(`INSERT INTO unfit_mark (centre_id, id, person_id, on_day, marked_by, marked_at, body_digest)
		VALUES (@centre, gen_random_uuid(), @who, '2026-06-06', @who, '2026-06-01 07:00Z', '')`, map[string]any{"who": w.instructor})
	require.Len(t, replace(rui), 3)
	ill := w.part(t, w.instructor)
	require.Equal(t, []any{sessions.Absent, sessions.Instructor, false, &w.group.ID},
		[]any{ill.Attendance, ill.Role, ill.Counted, ill.GroupID})
	require.Len(t, replace(joao), 3, "Rui is well and leaves the list")
	w.Brief(w.open.ID)
	_, _, err := w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.NoError(t, err, "nobody asks after somebody who is absent")
}
