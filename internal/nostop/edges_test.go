package nostop_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/nostop"
	"tankside/internal/published"
	"tankside/internal/units"
)

// limitCures returns what would bring the last dive within its limit, by code.
func limitCures(t *testing.T, dives ...nostop.Dive) map[string]string {
	t.Helper()
	found := lastOf(judge(dives...)).Findings.Of(nostop.RuleLimitExceeded)
	require.Len(t, found, 1)
	out := map[string]string{}
	for _, c := range found[0].Cures {
		out[c.Code] = c.Message
	}
	return out
}

// US Navy Diving Manual Rev 7: 60 fsw has 63 min, and 40 min there end in group H (Table 9-7); from H no repetitive
// group is left after 8:53 (Table 9-8).
func TestAFullLimitNeedsAnIntervalWithoutResidualNitrogen(t *testing.T) {
	got := limitCures(t, dive("a", metres(18), 0, 40), dive("b", metres(18), 100, 63))
	require.Equal(t, "Stay at the surface for 8:53 (h:mm) before this dive.", got["wait_longer"])
}

// Group J at 190 fsw has more residual nitrogen than the 5 min that the row allows (Tables 9-7 and 9-8): to dive for
// less time is no cure.
func TestNoDiveOfNoTimeIsAdvised(t *testing.T) {
	dives := []nostop.Dive{dive("a", metres(18), 0, 55), dive("b", metres(57.9), 65, 1)}
	require.Zero(t, lastOf(judge(dives...)).Left.At)
	require.NotContains(t, limitCures(t, dives...), "shorten_dive")
}

// US Navy Diving Manual Rev 7, Table 9-6, line J, in the second form of the table.
func TestTheWaitsBeforeEachThousandFeetAreTheTables(t *testing.T) {
	p := judge(dive("a", metres(18), 0, 55)) // 60 fsw, 52 to 57 min: J
	waits := p.BeforeAltitudes()
	all := published.AltitudeWaits(t)
	j := all[slices.IndexFunc(all, func(w published.AltitudeWait) bool { return w.Group == "J" })]
	require.Len(t, waits, len(j.Minutes))
	for i, minutes := range j.Minutes {
		require.Equal(t, nostop.Minutes(minutes), waits[i].Table)
		require.Equal(t, units.Read(float64(i+1)*1000, units.UnitFoot), waits[i].Altitude)
		require.False(t, waits[i].Flying)
	}
}

// Table 9-6 goes by the highest group of the 24 hours before, and 24 hours ago is within them.
func TestWhatEndedADayAgoStillCounts(t *testing.T) {
	highest := func(gap int) nostop.Group {
		p := judge(dive("a", metres(12), 0, 155), dive("b", metres(3), 155+gap-10, 10)) // O (152-163 at 40 fsw), then A
		return p.BeforeAltitude(metres(1500)).Highest
	}
	require.Equal(t, nostop.O, highest(24*60))
	require.Equal(t, nostop.A, highest(24*60+1))
}

// DAN workshop of May 2002: 18 h after several dives or several days; that two days are 48 hours, the last minute
// included, is our reading.
func TestADiveTwoDaysAgoMakesTwo(t *testing.T) {
	wait := func(gap int) nostop.Minutes {
		p := judge(dive("a", metres(5), 0, 20), dive("b", metres(5), gap, 20)) // b ends so long after a
		return p.BeforeFlying(nostop.Cabin).Workshop
	}
	require.Equal(t, nostop.Minutes(18*60), wait(48*60))
	require.Equal(t, nostop.Minutes(12*60), wait(48*60+1))
}

func TestTheLastAltitudeOfTheTableIsNamed(t *testing.T) {
	found := judge(dive("a", metres(5), 0, 20)).BeforeAltitude(metres(3100)).Findings
	require.Len(t, found, 1)
	require.Equal(t, finding.Quantity(units.Read(10_000, units.UnitFoot)), found[0].Limit)
}

// The last value that is taken and the first that is not: 190 fsw and 145 fsw are rows of Table 9-7, 300 ft is the
// manual's height without a correction; 300 m, 24 h and 6 ascents are our choice.
func TestWhatStandsOnABoundIsWithinIt(t *testing.T) {
	lake := func(height, depth units.Reading) nostop.Dive {
		d := dive("a", depth, 0, 2)
		d.Altitude = height
		return d
	}
	feet := func(n float64) units.Reading { return units.Read(n, units.UnitFoot) }
	ascents := func(n int) nostop.Dive {
		d := dive("a", metres(5), 0, 20)
		d.Ascents = n
		return d
	}
	for _, c := range []struct {
		name, want string
		dive       nostop.Dive
	}{
		{"300 m of altitude", "", lake(metres(300), metres(10))},
		{"300.1 m", "altitude_site", lake(metres(300.1), metres(10))},
		{"300 ft, however deep", "", lake(feet(300), feet(150))},
		{"301 ft and 145 ft deep", "", lake(feet(301), feet(145))},
		{"301 ft and 146 ft deep", "altitude_site", lake(feet(301), feet(146))},
		{"a day long", "", dive("a", metres(3), 0, 1440)},
		{"no depth", "not_a_dive", dive("a", metres(0), 0, 20)},
		{"six ascents", "", ascents(6)},
		{"seven ascents", "many_ascents", ascents(7)},
	} {
		require.Equal(t, c.want, ids(judge(c.dive).Findings()), c.name)
	}
	_, ok := nostop.RowAt(0)
	require.False(t, ok, "no row for a depth of nothing")
}

func TestAFindingIsAboutTheDiveThatTheCallerNamed(t *testing.T) {
	for key, want := range map[string][]finding.Subject{"a": {{Type: "dive", ID: "a"}}, "": nil} {
		found := judge(dive(key, metres(18), 0, 60)).Findings()
		require.Len(t, found, 1)
		require.Equal(t, want, found[0].Subjects)
	}
}

func TestWhoIsInAGroupWaitsForNothingToBeThere(t *testing.T) {
	for g := nostop.None; g <= nostop.Z; g++ {
		require.Zero(t, nostop.IntervalTo(g, g), g)
	}
}

// Confined water between two dives is a dive, and a minute of it counts whole (our choice, on the safe side).
func TestASecondUnderWaterIsAMinute(t *testing.T) {
	d := nostop.Dive{Depth: metres(5), In: morning, Out: morning.Add(20*time.Minute + time.Second)}
	require.Equal(t, nostop.Minutes(21), lastOf(judge(d)).Own)
}
