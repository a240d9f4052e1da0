package plans_test

import (
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/nostop"
	"tankside/internal/once"
	"tankside/internal/plans"
	"tankside/internal/planview"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// The instructor has dived 40 min at 18 m when the next group goes down to 18 m
// after 1:40: group G has 40 min of residual nitrogen on the row of 60 fsw, of
// whose 63 min 23 are left (US Navy Diving Manual Rev 7, Tables 9-7 and 9-8). The
// assistant, who has not dived, would have all of them. The plan takes the
// instructor's, and is not confirmed with more.
func TestAPlanTakesWhatTheEarlierDivesOfTheCrewLeave(t *testing.T) {
	w := scenetest.New(t)
	w.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	service := plans.New(w.DB.DB, planview.New(versions.New[syllabus.Syllabus]()))
	sunday, course := time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC), w.Course(syllabus.BuiltIn())
	ines, abel := w.Crew("Ines Instructor", "instructor"), w.Crew("Abel Assistant", "assistant")
	by := w.As(ines)
	morning := w.Session(course, "open", "2026-06-07T08:00:00Z", "closed", 4)
	read := func(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }
	w.LogDive(ines, scenetest.Dive{Participant: w.Participant(morning, nil, ines, nil, "instructor"),
		Dive: w.Dives(morning)[0], In: sunday, Out: sunday.Add(40 * time.Minute), Depth: read(18, "m"),
		Size: read(12, "L"), Start: read(200, "bar"), End: read(140, "bar")})
	next := w.Session(course, "open", "2026-06-07T11:00:00Z", "planned", 4)
	mine := w.Participant(next, nil, ines, nil, "instructor")
	his := w.Participant(next, nil, abel, nil, "instructor")
	w.Exec(`UPDATE participant SET attendance = 'expected' WHERE session_id = @id`, pgx.NamedArgs{"id": next})
	ask := func(minutes float64) gasplan.PlanRequest {
		start := sunday.Add(2*time.Hour + 20*time.Minute)
		diver := gasplan.DiverInput{Cylinder: gasplan.CylinderInput{WaterVolume: &gasplan.Quantity{Value: 15,
			Unit: "L"}}, Start: gasplan.Quantity{Value: 230, Unit: "bar"}}
		one, two := diver, diver
		one.ParticipantID, two.ParticipantID = &mine, &his
		return gasplan.PlanRequest{Dive: gasplan.DiveInput{Depth: gasplan.Quantity{Value: 18, Unit: "m"},
			PlannedTime: gasplan.Quantity{Value: minutes,
				Unit: "min"}, StartsAt: &start}, Divers: []gasplan.DiverInput{one, two}}
	}
	long, _, err := service.Create(t.Context(), by, once.New(), next, ask(25))
	require.NoError(t, err)
	require.Equal(t, 23.0, long.Result.Group.NoStopLimit.Value, "the strictest of the group")
	require.Equal(t, mine.String(), long.Result.Group.NoStopLimitedBy)
	require.Len(t, long.Input.Divers[0].EarlierDives, 1)
	require.Empty(t, long.Input.Divers[1].EarlierDives)
	require.Nil(t, long.Input.Divers[0].BreathingRate,
		"the morning's one dive does not lower it below the novice's")
	require.Equal(t, "novice's rate: a lower one needs 3 dives in open water, and 1 can be learned from",
		long.Result.People[0].RateFrom)
	require.Nil(t, long.Input.Divers[1].BreathingRate, "nothing is known of the assistant's")
	require.Equal(t, "novice's rate", long.Result.People[1].RateFrom)
	require.True(t, long.Findings.Forbids())
	_, err = service.Confirm(t.Context(), by, long.ID, nil)
	require.ErrorIs(t, err, fault.Refused.Err())
	var refused *fault.Fault
	require.True(t, errors.As(err, &refused))
	require.NotEmpty(t, refused.Findings.Of(nostop.RuleLimitExceeded), "%v", refused.Findings)

	short, _, err := service.Create(t.Context(), by, once.New(), next, ask(10))
	require.NoError(t, err)
	require.False(t, short.Findings.Forbids(), "%v", short.Findings)
}
