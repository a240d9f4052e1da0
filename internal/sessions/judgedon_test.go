package sessions_test

import (
	"context"
	"encoding/json"
	"slices"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/sessions"
	"tankside/internal/units"
)

// kept is what a decision says that it was judged on, as somebody reads it who
// knows the table alone.
type kept struct {
	Course     uuid.UUID `json:"course_id"`
	Setting    string    `json:"setting"`
	Level      string    `json:"level"`
	Day        string    `json:"day"`
	Site       uuid.UUID `json:"site_id"`
	Conditions struct {
		Visibility *struct {
			Value float64 `json:"value"`
			Unit  string  `json:"unit"`
		} `json:"visibility"`
	} `json:"conditions"`
	Demands *struct {
		StudentPapers []string `json:"student_papers"`
		MedicalSince  string   `json:"medical_since"`
		Majority      int      `json:"age_of_majority"`
	} `json:"demands"`
	Crew, Students []struct {
		Person  uuid.UUID   `json:"person_id"`
		Role    string      `json:"role"`
		Age     *int        `json:"age"`
		Group   *uuid.UUID  `json:"group_id"`
		Counted bool        `json:"counted"`
		Papers  []uuid.UUID `json:"papers"`
	}
	Groups []struct {
		Ages  []int           `json:"ages"`
		Books []ratio.Edition `json:"books"`
	} `json:"groups"`
	Schedule *struct {
		Water  string `json:"water"`
		Dives  []int  `json:"dives"`
		Beside []struct {
			Session uuid.UUID `json:"session_id"`
		} `json:"beside"`
	} `json:"schedule"`
}

// newest returns the newest decision of a kind about a session, parsed and as text.
func (w *weekend) newest(t *testing.T, session uuid.UUID, kind string) (k kept, text string) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		text, err = pg.Row[string](ctx, tx,
			`SELECT (judged_on->'session')::text FROM decision WHERE kind = @kind AND subject_id = @id ORDER BY decided_at DESC LIMIT 1`,
			pgx.StrictNamedArgs{"kind": kind, "id": session})
		return err
	}))
	require.NoError(t, json.Unmarshal([]byte(text), &k))
	return k, text
}

// papers returns the ids of papers of a person, of these kinds, in order.
func (w *weekend) papers(t *testing.T, person uuid.UUID, kinds ...string) (ids []uuid.UUID) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		ids, err = pg.Rows[uuid.UUID](ctx, tx,
			`SELECT id FROM paper WHERE person_id = @id AND kind = ANY (@kinds) ORDER BY id`,
			pgx.StrictNamedArgs{"id": person, "kinds": kinds})
		return err
	}))
	require.NotEmpty(t, ids)
	return ids
}

// Years later it can be shown what a decision was judged on: who was there, with
// which papers, how old, in which water, by which edition of which book.
func TestADecisionAboutASessionKeepsWhatItWasJudgedOn(t *testing.T) {
	w := newWeekend(t, 2)
	assistant := w.Crew("Abel Assistant", "assistant")
	child := w.Student("Cleo Child", "2012-06-07") // 13 on Saturday, and 14 on Sunday
	w.Paper(child, "consent", "valid", "2026-01-01", "")
	w.Paper(child, "insurance", "valid", "2026-01-01", "") // that nobody asks of a student
	w.enrolments = append(w.enrolments, w.Enrol(w.course, child))

	planned, _ := w.newest(t, w.open.ID, "create_session")
	require.Equal(t, []string{w.course.String(), "open", "entry_level", "2026-06-06", w.open.SiteID.String()},
		[]string{planned.Course.String(), planned.Setting, planned.Level, planned.Day, planned.Site.String()})
	require.Equal(t, "open", planned.Schedule.Water)
	require.Equal(t, []int{1, 2}, planned.Schedule.Dives)
	require.Len(t, planned.Schedule.Beside, 1)
	require.Equal(t, w.confined.ID, planned.Schedule.Beside[0].Session)

	require.NoError(t, w.crew(assistant, sessions.Assistant))
	require.NoError(t, w.place(w.enrolments...))
	_, _, err := w.service.ReportConditions(t.Context(), w.by,
		sessions.Report{Key: once.New(), SessionID: w.open.ID, Visibility: new(units.Read(33, units.UnitFoot)),
			WitnessedAt: seen})
	require.NoError(t, err)
	_, _, err = w.service.Regroup(t.Context(), w.by, w.open.ID,
		[]sessions.Move{{ParticipantID: w.part(t, child).ID, GroupID: nil}}, nil)
	require.NoError(t, err)
	_, _, err = w.service.Regroup(t.Context(), w.by, w.open.ID,
		[]sessions.Move{{ParticipantID: w.part(t, child).ID, GroupID: &w.group.ID}}, nil)
	require.NoError(t, err)
	w.Brief(w.open.ID)
	_, _, err = w.service.OpenSession(t.Context(), w.by, w.open.ID, nil, nil)
	require.NoError(t, err)

	for _, kind := range []string{"create_participant", "create_placements", "move_participants", "open_session"} {
		k, text := w.newest(t, w.open.ID, kind)
		require.Equal(t, "2026-06-06", k.Day, kind)
		require.NotContains(t, text, "Cleo", kind)
		require.NotContains(t, text, "flagged", "what a medical says stands with the paper alone")
		require.Equal(t, []string{"waiver"}, k.Demands.StudentPapers)
		require.Equal(t, []any{"2025-06-06", 18}, []any{k.Demands.MedicalSince, k.Demands.Majority})
		roles := map[uuid.UUID]string{}
		for _, c := range k.Crew {
			roles[c.Person] = c.Role
			require.Equal(t, w.papers(t, c.Person, "teaching_status", "first_aid", "insurance"), c.Papers, kind)
		}
		require.Equal(t, map[uuid.UUID]string{w.instructor: "in_charge", assistant: "assistant"}, roles, kind)
		require.Equal(t, []ratio.Edition{{ID: "general-open", Version: "1"},
			{ID: "general-confined", Version: "1"}, {ID: "general-minors",
				Version: "1"}}, k.Groups[0].Books, kind)
		if kind == "create_participant" {
			continue // of the assistant, before anybody was placed
		}
		ages := map[uuid.UUID]int{}
		for _, s := range k.Students {
			ages[s.Person] = *s.Age
			require.Equal(t, w.papers(t, s.Person, "medical", "consent", "waiver"), s.Papers, kind)
			require.True(t, s.Counted && s.Group != nil && *s.Group == w.group.ID)
		}
		require.Equal(t, map[uuid.UUID]int{w.PersonOf(w.enrolments[0]): 31, w.PersonOf(w.enrolments[1]): 31,
			child: 13}, ages, kind)
		require.Equal(t, []int{13, 31, 31}, slices.Sorted(slices.Values(k.Groups[0].Ages)), kind)
		if kind == "create_placements" {
			require.Nil(t, k.Conditions.Visibility, "nobody had looked yet")
			continue
		}
		require.Equal(t, 33.0, k.Conditions.Visibility.Value, kind)
		require.Equal(t, "ft", k.Conditions.Visibility.Unit)
	}
}

// Moved to another day, a session is judged by the ages of that day; and what it
// was judged on is in the ledger's hand where somebody took on a caution.
func TestAMoveKeepsTheAgesOfTheNewDay(t *testing.T) {
	w := newWeekend(t, 0)
	child := w.Student("Cleo Child", "2012-06-07")
	w.Paper(child, "consent", "valid", "2026-01-01", "")
	require.NoError(t, w.place(w.Enrol(w.course, child)))
	w.Exec(`UPDATE session SET temperature = '(8,degC)' WHERE id = @id`,
		pgx.NamedArgs{"id": w.open.ID})
	_, _, err := w.service.MoveSession(t.Context(), w.by,
		sessions.Rescheduling{SessionID: w.open.ID, Reason: "wind",
			Times: sessions.Times{StartsLocal: "2026-06-07T14:00", EndsLocal: "2026-06-07T17:00"}},
		[]journal.Acceptance{{Rule: ratio.ConditionOfBook.ID, SubjectID: w.group.ID.String(),
			Reason: "dry suits"}})
	require.NoError(t, err)
	k, _ := w.newest(t, w.open.ID, "move_session")
	require.Equal(t, "2026-06-07", k.Day)
	require.Equal(t, 14, *k.Students[0].Age)
	require.NotNil(t, k.Schedule)
	r, err := ledger.Verify(t.Context(), w.DB.DB, w.Centre, journal.Ledger)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	require.Equal(t, 1, r.Rows)
	w.altered = true
	w.Super(`UPDATE decision SET judged_on = jsonb_set(judged_on, '{session,students,0,age}', '15') WHERE kind = 'move_session'`)
	r, err = ledger.Verify(t.Context(), w.DB.DB, w.Centre, journal.Ledger)
	require.NoError(t, err)
	require.Len(t, r.Problems, 1)
}
