package nostopform_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/nostop"
	"tankside/internal/nostopform"
)

func answer(t require.TestingT, ask string) api.NoStopDay {
	var in api.NoStopInput
	require.NoError(t, json.Unmarshal([]byte(ask), &in))
	asked, err := nostopform.Read(in)
	require.NoError(t, err)
	return asked.Judge().View(true)
}

// The worked sequence of package nostop's tests, by US Navy Diving Manual Rev 7,
// Tables 9-7 and 9-8: 60 fsw for 40 min is H, 1:40 later G, and 64 + 45 min on the
// row of 40 fsw are L.
func TestASequenceByIntervalsAlone(t *testing.T) {
	a := answer(t, `{"dives": [{"depth": {"value": 60, "unit": "ft"}, "under_time": {"value": 2400, "unit": "s"}},
		{"depth": {"value": 40, "unit": "ft"}, "surface_interval": {"value": 100, "unit": "min"}, "under_time": {"value": 45, "unit": "min"}}]}`)
	require.Equal(t, "L", a.Dives[1].GroupAfter.MustGet())
	require.True(t, a.Dives[1].InLocal.IsNull())
	flying := a.Flying.MustGet()
	require.True(t, flying.EarliestLocal.IsNull())
	require.True(t, flying.Worked.IsNull(), "its steps would name a day that nobody gave")
	require.NotEmpty(t, a.Dives[1].Worked.MustGet())
}

// What the table says in words is null in the form: unlimited (20 fsw), no residual
// nitrogen time (20 fsw after group L), a group that is not known.
func TestWhatDoesNotApplyIsNull(t *testing.T) {
	a := answer(t, `{"look_up": {"depth": {"value": 6, "unit": "m"}, "group": "L"}, "dives": [
		{"depth": {"value": 18, "unit": "m"}, "in_local": "2027-06-05T09:00", "under_time": {"value": 64, "unit": "min"}}]}`)
	row := a.LookedUp.MustGet()
	require.Equal(t, 20, row.RowFsw)
	require.True(t, row.Limit.IsNull())
	require.True(t, row.Longest.IsNull())
	require.True(t, row.ResidualTime.IsNull())
	require.Empty(t, row.Groups)
	require.True(t, a.Dives[0].OutsideTables)
	require.True(t, a.Dives[0].GroupAfter.IsNull())
}

// Times by the clock and intervals between the same dives say the same.
func TestClockAndIntervalsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Date(2027, 6, 5, 0, 0, 0, 0, time.UTC)
		var byClock, byInterval string
		for i := range rapid.IntRange(1, 4).Draw(t, "dives") {
			depth := fmt.Sprintf(`"depth": {"value": %d, "unit": "m"}`, rapid.IntRange(3, 40).Draw(t, "depth"))
			under := rapid.IntRange(1, 60).Draw(t, "under")
			comma, pause := "", ""
			if i > 0 {
				interval := rapid.IntRange(0, 300).Draw(t, "interval")
				at = at.Add(time.Duration(interval) * time.Minute)
				comma, pause = ", ", fmt.Sprintf(`"surface_interval": {"value": %d, "unit": "min"}, `, interval)
			}
			out := at.Add(time.Duration(under) * time.Minute)
			byClock += fmt.Sprintf(`%s{%s, "in_local": %q, "out_local": %q}`, comma, depth,
				at.Format(nostopform.Layout), out.Format(nostopform.Layout))
			byInterval += fmt.Sprintf(`%s{%s, %s"under_time": {"value": %d, "unit": "min"}}`, comma, depth,
				pause, under)
			at = out
		}
		a, b := answer(t, `{"dives": [`+byClock+`]}`), answer(t, `{"dives": [`+byInterval+`]}`)
		for i := range a.Dives {
			b.Dives[i].InLocal, b.Dives[i].OutLocal = a.Dives[i].InLocal, a.Dives[i].OutLocal
		}
		require.Equal(t, a.Dives, b.Dives)
		require.Equal(t, a.Flying.MustGet().Wait, b.Flying.MustGet().Wait)
	})
}

// A margin is a whole number of minutes, rounded up, which is the safe side.
func TestAMarginIsRoundedUp(t *testing.T) {
	var in api.NoStopInput
	require.NoError(t, json.Unmarshal([]byte(`{"look_up": {"depth": {"value": 18, "unit": "m"}}, "settings": {"no_stop_margin": {"value": 301, "unit": "s"}}}`), &in))
	asked, err := nostopform.Read(in)
	require.NoError(t, err)
	require.Equal(t, nostop.Minutes(6), asked.Settings.Margin)
}

func TestWhatDoesNotFitIsAFaultThatPoints(t *testing.T) {
	_, err := nostopform.Read(api.NoStopInput{})
	require.ErrorIs(t, err, fault.Malformed.Err())
	var in api.NoStopInput
	require.NoError(t, json.Unmarshal([]byte(`{"dives": [{"depth": {"value": 18, "unit": "m"}}]}`), &in))
	_, err = nostopform.Read(in)
	f, _ := fault.Of(err)
	require.Equal(t, "/dives/0", f.Findings[0].Pointer)
}
