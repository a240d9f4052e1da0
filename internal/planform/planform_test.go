package planform_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/gasplan"
	"tankside/internal/planform"
)

// everything is an input with every member that the contract knows.
const everything = `{
	"dive": {"depth": {"value": 18, "unit": "m"}, "mean_depth": {"value": 12, "unit": "m"}, "planned_time": {"value": 20, "unit": "min"},
		"least_time": {"value": 15, "unit": "min"}, "site_max_depth": {"value": 22, "unit": "m"}, "altitude": {"value": 10, "unit": "m"}, "water": "fresh",
		"visibility": {"value": 8, "unit": "m"}, "current": {"value": 0.1, "unit": "m/s"},
			"water_temperature": {"value": 14, "unit": "degC"},
		"starts_at": "2027-06-05T09:30:00+01:00", "ascents": 2},
	"divers": [
		{"key": "ines", "participant_id": "0198f3c0-0000-7000-8000-000000000030", "name": "Ines",
			"cylinder": {"water_volume": {"value": 11.1, "unit": "L"},
			"working_pressure": {"value": 207, "unit": "bar"}, "count": 2}, "oxygen": {"value": 32, "unit": "percent"}, "start": {"value": 200, "unit": "bar"},
			"filled_at": {"value": 25, "unit": "degC"}, "gauge_unit": "bar", "breathing_rate": {"value": 18, "unit": "L/min"}, "team": "blue",
			"depth_limits": [{"depth": {"value": 18, "unit": "m"}, "because": "training dive 2", "source": "the syllabus"}],
			"oxygen_today": {"value": 10, "unit": "percent"},
			"earlier_dives": [{"depth": {"value": 3, "unit": "m"}, "in_at": "2027-06-05T07:00:00+01:00", "out_at": "2027-06-05T07:40:00+01:00", "ascents": 4, "altitude": {"value": 0, "unit": "m"}}]},
		{"key": "sofia", "name": "sofia", "cylinder": {"rated_capacity": {"value": 80, "unit": "cu_ft"}, "rated_pressure": {"value": 3000, "unit": "psi"}, "rated_by": "ideal", "count": 1},
			"oxygen": {"value": 21, "unit": "percent"}, "start": {"value": 2900, "unit": "psi"}, "gauge_unit": "psi", "team": "blue"}],
	"settings": {"law": "ideal", "stress": 1.8, "sort_out": {"value": 2, "unit": "min"},
		"ascent_speed": {"value": 30, "unit": "ft/min"},
		"stop_depth": {"value": 15, "unit": "ft"}, "stop_time": {"value": 180, "unit": "s"}, "reserve": {"value": 15, "unit": "bar"}, "floor": {"value": 60, "unit": "bar"},
		"turn_rule": "thirds", "oxygen_limit": {"value": 1.4, "unit": "atm"}, "no_stop_margin": {"value": 3, "unit": "min"}, "dives_a_day": 4, "ascents_a_day": 8}}`

// No member of the contract is lost on the way in, into storage, and out again.
func TestAnInputComesBackAsItWasSent(t *testing.T) {
	var r api.PlanInput
	require.NoError(t, json.Unmarshal([]byte(everything), &r))
	stored, err := json.Marshal(planform.Input(r))
	require.NoError(t, err)
	require.JSONEq(t, everything, string(stored), "plans are stored in the form of the contract")
	var in gasplan.Input
	require.NoError(t, json.Unmarshal(stored, &in))
	back, err := json.Marshal(planform.InputView(in))
	require.NoError(t, err)
	require.JSONEq(t, everything, string(back))

	plan, err := gasplan.Calculate(in)
	require.NoError(t, err)
	worked, err := gasplan.Explain(in)
	require.NoError(t, err)
	v := planform.View(in, plan, worked)
	require.Equal(t, "ines", v.People[0].Key)
	require.Len(t, v.Worked.MustGet(), 2)
	require.True(t, planform.View(in, plan, nil).Worked.IsNull())
	require.Equal(t, gasplan.Caution, v.Caution)
}
