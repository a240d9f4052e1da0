package plans_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/briefings"
	"tankside/internal/once"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// A briefing takes everybody's pressures from the confirmed plan and shows them
// rounded: a start down, turn and low-gas up, to 10 bar (common practice). What
// it says otherwise is kept, and pointed out where it is less.
func TestABriefingGoesByTheConfirmedPlan(t *testing.T) {
	t.Parallel()
	b := newBay(t)
	b.Clock(time.Date(2026, 6, 7, 8, 0, 0, 0, time.UTC))
	p := b.plan(t, b.ask(12, b.instructor, b.adult))
	_, err := b.plans.Confirm(t.Context(), b.As(b.ines), p.ID, accepted(p.Findings))
	require.NoError(t, err)
	ada := b.one(`SELECT person_id FROM participant WHERE id = @id`, b.adult)
	low := units.Read(10, units.UnitBar)
	out, created, err := b.briefings.Record(t.Context(), b.As(b.ines),
		briefings.NewBriefing{Key: once.New(), SessionID: b.session, Convention: "digits_bar",
			BriefedAt: time.Date(2026, 6, 7, 7, 55, 0, 0, time.UTC), Pressures: briefings.Pressures{Low: &low},
			People: []briefings.NewPerson{{PersonID: b.ines},
				{PersonID: ada, Pressures: briefings.Pressures{Low: &low}},
				{PersonID: b.one(`SELECT person_id FROM participant WHERE id = @id`, b.child)}}})
	require.NoError(t, err)
	require.True(t, created)
	of := map[uuid.UUID]briefings.Person{}
	for _, x := range out.People {
		of[x.PersonID] = x
	}
	ines := of[b.ines].Figures
	require.Len(t, ines, 1)
	require.Equal(t, p.ID, *ines[0].PlanID)
	for _, f := range []*briefings.Figure{ines[0].Turn, ines[0].Low} {
		require.GreaterOrEqual(t, f.Shown.Reading.Compare(f.Given), 0, "never less than planned")
		require.Zero(t, f.Shown.Reading.Value%(10*100), "to 10 bar")
	}
	require.Equal(t, units.Read(210, units.UnitBar), ines[0].Start.Shown.Reading)
	require.Equal(t, signal.Sequence{signal.Fingers(2), signal.Fingers(1)}, ines[0].Start.Shown.Gestures)

	below := out.Findings.Of(briefings.BelowPlan)
	require.Len(t, below, 1, "10 bar is less than any plan leaves")
	require.Equal(t, ada.String(), below[0].Subjects[0].ID)
	require.Equal(t, low, of[ada].Figures[0].Low.Given, "kept as it was said")
	unplanned := out.Findings.Of(briefings.NoConfirmedPlan)
	require.Len(t, unplanned, 1)
	require.Len(t, unplanned[0].Subjects, 1, "Kit alone has no plan, and goes by what the briefing says")
	require.NotNil(t, of[b.ines].BriefedAt, "who gave it has heard it")
	require.Nil(t, of[ada].BriefedAt)
}
