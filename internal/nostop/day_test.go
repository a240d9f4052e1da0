package nostop_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

func metres(m float64) units.Reading { return units.Read(m, units.UnitMetre) }

// dive is one of so many minutes, so many minutes after the morning's start.
func dive(key string, depth units.Reading, from, under int) nostop.Dive {
	return nostop.Dive{Key: key, Depth: depth, In: at(from), Out: at(from + under)}
}

func judge(dives ...nostop.Dive) nostop.Plan { return nostop.Judge(dives, nostop.Settings{}) }

func ids(l finding.List) string {
	var out []string
	for _, f := range l {
		out = append(out, strings.TrimPrefix(f.Rule, "nostop."))
	}
	return strings.Join(out, " ")
}

// The figures are cells of Tables 9-7 and 9-8 of the US Navy Diving Manual,
// Revision 7; the invented day leads from one to the next.
func TestADayOfAnInstructorWhoGoesDownFourTimes(t *testing.T) {
	p := judge(
		dive("pool", metres(3), 0, 60),    // 10 fsw, 60 min: B (58-101)
		dive("one", metres(12), 120, 30),  // 1:00 keeps B; 40 fsw: 21 + 30 = 51: F (45-53)
		dive("two", metres(17), 220, 25),  // 1:10: F to E; 60 fsw: 29 + 25 = 54: J (52-57), limit 63
		dive("three", metres(12), 400, 5)) // 2:35: J to H (1:45-2:37); 40 fsw: 74 + 5 = 79: I (74-84)
	type row struct {
		fsw                 nostop.FSW
		before              nostop.Group
		residual, total     nostop.Minutes
		left                string
		after               nostop.Group
		ofDay, ascentsOfDay int
	}
	var got []row
	for _, r := range p.Results {
		got = append(got, row{r.Row.Depth, r.Before, r.Residual.Minutes, r.Total, r.Left.String(), r.After,
			r.OfDay, r.Ascents})
	}
	require.Equal(t, []row{
		{10, nostop.None, 0, 60, "unlimited", nostop.B, 1, 1},
		{40, nostop.B, 21, 51, "142 min", nostop.F, 2, 2},
		{60, nostop.E, 29, 54, "34 min", nostop.J, 3, 3},
		{40, nostop.H, 74, 79, "89 min", nostop.I, 4, 4},
	}, got)
	require.Equal(t, "many_dives", ids(p.Findings()), "a fourth dive is a caution and confined water counts")
}

func TestOneCaseForEachFinding(t *testing.T) {
	high := dive("a", metres(10), 0, 20)
	high.Altitude = metres(301)
	deepAt95 := dive("a", units.Read(146, units.UnitFoot), 0, 5)
	deepAt95.Altitude = metres(95)
	shallowAt95 := dive("a", metres(10), 0, 20)
	shallowAt95.Altitude = metres(95)
	done := dive("a", metres(18), 0, 60)
	done.Done = true
	ascents := dive("a", metres(9), 0, 20)
	ascents.Ascents = 7
	for _, c := range []struct {
		name, want string
		dives      []nostop.Dive
	}{
		{"within the limit", "", []nostop.Dive{dive("a", metres(18), 0, 40)}},
		{"exactly the margin before the limit of 63 min", "", []nostop.Dive{dive("a", metres(18), 0, 58)}},
		{"a minute closer", "near_limit", []nostop.Dive{dive("a", metres(18), 0, 59)}},
		{"the limit itself", "near_limit", []nostop.Dive{dive("a", metres(18), 0, 63)}},
		{"a minute over it", "limit_exceeded outside_before",
			[]nostop.Dive{dive("a", metres(18), 0, 64), dive("b", metres(3), 1499, 1)}},
		{"a day after it", "limit_exceeded",
			[]nostop.Dive{dive("a", metres(18), 0, 64), dive("b", metres(3), 64+1440, 1)}},
		{"a dive done close to it is a note", "near_limit", []nostop.Dive{done}},
		{"58 m is over 190 ft", "too_deep", []nostop.Dive{dive("a", metres(58), 0, 5)}},
		{"57.9 m is not", "near_limit", []nostop.Dive{dive("a", metres(57.9), 0, 5)}},
		{"a lake at 301 m", "altitude_site", []nostop.Dive{high}},
		{"over 300 ft and over 145 fsw", "altitude_site", []nostop.Dive{deepAt95}},
		{"over 300 ft but shallow", "", []nostop.Dive{shallowAt95}},
		{"out before in", "not_a_dive", []nostop.Dive{dive("a", metres(10), 10, -5)}},
		{"no depth", "not_a_dive", []nostop.Dive{dive("a", units.Reading{}, 10, 5)}},
		{"a depth in bar", "not_a_dive", []nostop.Dive{dive("a", units.Read(3, units.UnitBar), 10, 5)}},
		{"over a day long", "not_a_dive", []nostop.Dive{dive("a", metres(2), 0, 1441)}},
		{"in two dives at once", "overlap",
			[]nostop.Dive{dive("a", metres(10), 0, 20), dive("b", metres(8), 19, 10)}},
		{"nine minutes on the surface", "one_dive",
			[]nostop.Dive{dive("a", metres(10), 0, 20), dive("b", metres(8), 29, 10)}},
		{"ten minutes", "", []nostop.Dive{dive("a", metres(10), 0, 20), dive("b", metres(8), 30, 10)}},
		{"group L has no figure at 6 m", "group_unchanged",
			[]nostop.Dive{dive("a", metres(15), 0, 85), dive("b", metres(6), 95, 300)}},
		{"seven ascents", "many_ascents", []nostop.Dive{ascents}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, ids(judge(c.dives...).Findings()))
		})
	}
	near := judge(done).Findings()
	require.Equal(t, finding.Note, near[0].Severity)
}

// The manual's own rule for the cells without a figure (Rev 7, paragraph 9-9.1 (8)
// and the notes of Table 9-8).
func TestTheCellsWithoutAFigure(t *testing.T) {
	first := dive("a", metres(15), 0, 85) // 50 fsw, 81-89: L
	r := judge(first, dive("b", metres(6), 95, 300)).Results[1]
	require.True(t, r.Residual.Undefined)
	require.True(t, r.Left.Unlimited)
	require.Equal(t, nostop.L, r.After, "20 fsw leaves the group as it is")

	to160 := dive("a", metres(12), 0, 160) // 40 fsw, 152-163: O
	r = judge(to160, dive("b", metres(7.6), 172, 20)).Results[1]
	require.Equal(t, nostop.O, r.Before)
	require.Equal(t, nostop.FSW(30), r.Row.Depth, "25 fsw in group O is read in the row of 30")
	require.Equal(t, nostop.Minutes(328), r.Total, "308 + 20")
	require.Equal(t, "63 min", r.Left.String(), "371 - 308")
	require.Equal(t, nostop.Z, r.After)
}

// Less than ten minutes on the surface is one dive: times added, greater depth
// (US Navy Diving Manual; rules of the trade).
func TestTwoDivesThatAreOne(t *testing.T) {
	p := judge(dive("a", metres(18), 0, 20), dive("b", metres(9), 29, 15), dive("c", metres(6), 50, 5))
	last := p.Results[2]
	require.True(t, last.Joined)
	require.Equal(t, metres(18), last.Depth)
	require.Equal(t, nostop.Minutes(40), last.Under, "20 + 15 + 5 at 60 fsw")
	require.Equal(t, nostop.H, last.After, "40-45")
	require.Equal(t, "28 min", last.Left.String(), "63 - 35")
	require.Equal(t, 3, last.OfDay, "the centre counts three dives all the same")
}

func TestDivesAsDoneReplaceThePlannedOnes(t *testing.T) {
	planned := []nostop.Dive{dive("a", metres(10), 0, 30), dive("b", metres(10), 120, 30)}
	done := []nostop.Dive{dive("a", metres(16), 0, 41), dive("extra", metres(4), 60, 20)}
	got := nostop.Latest(planned, done)
	require.Len(t, got, 3)
	p := judge(got...)
	require.Equal(t, "a", p.Results[0].Dive.Key)
	require.True(t, p.Results[0].Dive.Done)
	require.Equal(t, metres(16), p.Results[0].Dive.Depth)
	require.Equal(t, "extra", p.Results[1].Dive.Key)
	require.False(t, p.Results[2].Dive.Done)
	require.False(t, done[0].Done, "what was given is not changed")
}

func TestADayIsTheDayOfItsPlace(t *testing.T) {
	late := nostop.Dive{Depth: metres(5), In: morning.Add(14 * time.Hour),
		Out: morning.Add(14*time.Hour + 20*time.Minute)}
	night := nostop.Dive{Depth: metres(5), In: morning.Add(15*time.Hour + time.Minute),
		Out: morning.Add(16 * time.Hour)}
	p := judge(late, night)
	require.Equal(t, 1, p.Results[0].OfDay, "23:00")
	require.Equal(t, 1, p.Results[1].OfDay, "00:01 of the next day")
	late.In, late.Out, night.In, night.Out = late.In.UTC(), late.Out.UTC(), night.In.UTC(), night.Out.UTC()
	require.Equal(t, 2, judge(late, night).Results[1].OfDay, "both on one day in another zone")
}

func TestSettingsAreTheCentres(t *testing.T) {
	dives := []nostop.Dive{dive("a", metres(18), 0, 54), dive("b", metres(5), 240, 20)}
	require.Equal(t, "near_limit many_dives",
		ids(nostop.Judge(dives, nostop.Settings{Margin: 10, DivesADay: 1}).Findings()))
	require.Empty(t, judge(dives...).Findings())
	byFoot := nostop.Judge(dives[:1], nostop.Settings{ByTheFoot: true}).Results[0]
	require.False(t, byFoot.ByFoot, "18 m is not in Table 2A-1")
	short := []nostop.Dive{dive("a", metres(9.4), 0, 100), dive("b", metres(9.4), 160, 30)}
	p := nostop.Judge(short, nostop.Settings{ByTheFoot: true})
	require.Equal(t, nostop.FSW(31), p.Results[0].Row.Depth, "9.4 m are 30.84 ft")
	require.True(t, p.Results[0].ByFoot)
	require.Equal(t, nostop.FSW(35), p.Results[1].Row.Depth, "with residual nitrogen Table 9-7 counts")
}

// DAN workshop of May 2002: 12 h after one no-stop dive, 18 h after several. US
// Navy Diving Manual Rev 7, Table 9-6, column 8000 ft: J 14:13, O 20:05.
func TestTheLongerWaitBeforeFlyingIsGiven(t *testing.T) {
	for _, c := range []struct {
		name  string
		dives []nostop.Dive
		want  nostop.Minutes
	}{
		{"one short dive: the workshop's 12 h", []nostop.Dive{dive("a", metres(10), 0, 20)}, 12 * 60},
		{"one long dive, group J: the table's 14:13", []nostop.Dive{dive("a", metres(18), 0, 55)}, 14*60 + 13},
		{"two dives: the workshop's 18 h",
			[]nostop.Dive{dive("a", metres(18), 0, 55), dive("b", metres(5), 300, 20)}, 18 * 60},
		{"two dives, group O: the table's 20:05",
			[]nostop.Dive{dive("a", metres(3), 0, 20), dive("b", metres(12), 60, 145)}, 20*60 + 5},
		{"yesterday and today", []nostop.Dive{dive("a", metres(10), -1440, 20), dive("b", metres(10), 0, 20)},
			18 * 60},
		{"three days apart is one dive",
			[]nostop.Dive{dive("a", metres(10), -4320, 20), dive("b", metres(10), 0, 20)}, 12 * 60},
		{"outside the tables: 48 h", []nostop.Dive{dive("a", metres(30), 0, 60)}, 48 * 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := judge(c.dives...).BeforeFlying(nostop.Cabin)
			require.Equal(t, c.dives[len(c.dives)-1].Out.Add(c.want.Duration()), w.Earliest)
		})
	}
}

func TestTheHighestGroupOfTheLastDayCounts(t *testing.T) {
	p := judge(dive("a", metres(12), 0, 155), dive("b", metres(3), 155+900, 10)) // O, then 15:00 later none left, A
	require.Equal(t, nostop.A, p.Results[1].After)
	w := p.BeforeAltitude(units.Read(4900, units.UnitFoot))
	require.Equal(t, nostop.O, w.Highest)
	require.Equal(t, nostop.Minutes(12*60+11), w.Table, "Table 9-6, O to 5000 ft")
	require.Zero(t, w.Workshop, "the workshop spoke of flights")
	require.Equal(t, at(155+900+10+12*60+11), w.Earliest)
}

func TestWhereTheWaitIsRefused(t *testing.T) {
	p := judge(dive("a", metres(10), 0, 20))
	w := p.BeforeFlying(nostop.Cabin)
	require.Equal(t, "too_soon_up", ids(w.At(at(20+719))))
	require.Empty(t, w.At(at(20+720)))
	require.Equal(t, "too_high", ids(p.BeforeAltitude(metres(3100)).At(at(100000))))
	require.Equal(t, "too_high", ids(p.BeforeFlying(units.Read(1, units.UnitBar)).At(at(100000))))
	require.Empty(t, p.BeforeAltitude(metres(3048)).Findings, "10 000 ft exactly")
	require.True(t, judge().BeforeFlying(nostop.Cabin).None)
	over := judge(dive("a", metres(30), 0, 60)).BeforeFlying(nostop.Cabin)
	require.Equal(t, "fly_after_outside", ids(over.At(at(100000))))
	seconds := nostop.Dive{Depth: metres(10), In: morning, Out: morning.Add(20*time.Minute + time.Second)}
	require.Equal(t, at(21+720), judge(seconds).BeforeFlying(nostop.Cabin).Earliest,
		"shown to the minute, never early")
}

func TestRulesAreListedOnceEach(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range nostop.Rules() {
		require.False(t, seen[r.ID], r.ID)
		seen[r.ID] = true
		require.True(t, strings.HasPrefix(r.ID, "nostop."))
		for _, s := range []string{r.Title, r.Text, r.Source, string(r.Severity)} {
			require.NotEmpty(t, s, r.ID)
		}
	}
	require.NotContains(t, strings.ToLower(nostop.Advice), "is safe")
}

func TestWorkedStepsSayTheNumbersAndTheirTable(t *testing.T) {
	p := judge(dive("a", metres(18), 0, 30), dive("b", metres(12), 90, 40), dive("c", metres(12), 135, 10),
		dive("d", metres(40), 400, 60))
	var all []string
	for _, r := range p.Results {
		for _, s := range r.Worked() {
			require.NotEmpty(t, s.Source)
			all = append(all, s.Text)
		}
	}
	text := strings.Join(all, "\n")
	for _, want := range []string{
		"18 m / 0.3048 = 59.1 ft: that depth or the next deeper row is 60 fsw.",
		"1:00 (h:mm) on the surface: group E.",
		"Group E on the row of 40 fsw: 45 min. 45 + 40 = 85 min.",
		"163 min on the row of 40 fsw; 85 is within it. The dive itself may last 118 min at most.",
		"5 min on the surface is less than 10 min",
		"With what it is joined to: 50 min.",
		"Z is put in its place",
	} {
		require.Contains(t, text, want)
	}
	var wait []string
	for _, s := range p.BeforeFlying(nostop.Cabin).Worked() {
		wait = append(wait, s.Title+": "+s.Text)
	}
	require.Contains(t, strings.Join(wait, " "),
		"Group Z before 8000 ft of altitude, the next higher thousand feet: 21:01 (h:mm).")
}
