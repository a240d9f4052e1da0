package nostop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// end gives the group after a dive of so many minutes by a diver who starts it
// in a group; false beyond the limit.
func end(start nostop.Group, r nostop.Row, m nostop.Minutes) (nostop.Group, bool) {
	res := nostop.ResidualNitrogen(start, r)
	g, ok := res.Row.Group(m + res.Minutes)
	if res.Undefined {
		g = start
	}
	return g, ok
}

// A deeper dive of the same time never gives an earlier group: over all groups,
// rows and times. The printed tables break it in two places, where a residual
// nitrogen time falls by a minute from one row to the next and meets the last
// minute of a group there; they stay as printed.
func TestDeeperNeverGivesAnEarlierGroup(t *testing.T) {
	type place struct {
		start nostop.Group
		time  nostop.Minutes
		row   nostop.FSW
	}
	var broken []place
	for g := nostop.None; g <= nostop.Z; g++ {
		for m := nostop.Minutes(1); m < 1200; m++ {
			last, lastOK := nostop.None, true
			for _, r := range nostop.Rows() {
				after, ok := end(g, r, m)
				if ok && !lastOK {
					t.Fatalf("%s allows %s to group %s, a shallower row does not", r.Depth, m, g)
				}
				if ok && after < last {
					broken = append(broken, place{g, m, r.Depth})
				}
				last, lastOK = after, ok
			}
		}
	}
	require.Equal(t, []place{{nostop.A, 3, 170}, {nostop.E, 1, 120}}, broken)
}

// A longer dive never gives an earlier group, and a diver who starts in an
// earlier group, which is what a longer surface interval gives, never ends in a
// later one: over all groups, rows and times.
func TestLongerAndLaterInTheAlphabetNeverGiveLess(t *testing.T) {
	for _, r := range nostop.Rows() {
		for g := nostop.None; g <= nostop.Z; g++ {
			last := nostop.None
			for m := nostop.Minutes(1); m < 1200; m++ {
				after, ok := end(g, r, m)
				if !ok {
					break
				}
				if after < last {
					t.Fatalf("%s, %s, group %s: %s after %s in a minute less", r.Depth, m, g, after, last)
				}
				last = after
				if more, ok := end(g+1, r, m); ok && g < nostop.Z && more < after {
					t.Fatalf("%s, %s: %s from group %s, and %s from the next", r.Depth, m, after, g, more)
				}
			}
		}
	}
	for g := nostop.A; g <= nostop.Z; g++ {
		for m := nostop.Minutes(0); m < 1000; m++ {
			if nostop.AfterInterval(g, m+1) > nostop.AfterInterval(g, m) {
				t.Fatalf("group %s after %s is later than a minute before", g, m+1)
			}
		}
	}
}

var morning = time.Date(2026, 6, 6, 9, 0, 0, 0, time.FixedZone("", 2*3600))

func at(m int) time.Time { return morning.Add(time.Duration(m) * time.Minute) }

// drawDives gives a sequence of possible dives, each after the one before it.
func drawDives(t *rapid.T) []nostop.Dive {
	var out []nostop.Dive
	clock := 0
	for range rapid.IntRange(1, 6).Draw(t, "dives") {
		clock += rapid.IntRange(0, 300).Draw(t, "interval")
		under := rapid.IntRange(1, 90).Draw(t, "under")
		depth := rapid.IntRange(2, 140).Draw(t, "feet")
		out = append(out, nostop.Dive{Depth: units.Read(float64(depth), units.UnitFoot), In: at(clock),
			Out: at(clock + under)})
		clock += under
	}
	return out
}

func TestPropertiesOfADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dives := drawDives(t)
		p := nostop.Judge(dives, nostop.Settings{})
		for i, r := range p.Results {
			requireSound(t, r)
			if r.Outside && r.Row.Depth > 0 && !r.Row.Limit.Allows(r.Total) {
				require.Len(t, r.Findings.Of(nostop.RuleLimitExceeded), 1)
			}
			if i > 0 && r.Surface >= 10 {
				require.LessOrEqual(t, r.Before, p.Results[i-1].After)
			}
		}
		require.Equal(t, p, nostop.Judge(reversed(dives), nostop.Settings{}), "the order given does not matter")
	})
}

func reversed(d []nostop.Dive) []nostop.Dive {
	out := make([]nostop.Dive, 0, len(d))
	for i := range d {
		out = append(out, d[len(d)-1-i])
	}
	return out
}

// requireSound holds for every result whatever was put in.
func requireSound(t require.TestingT, r nostop.Result) {
	for _, m := range []nostop.Minutes{r.Surface, r.Own, r.Under, r.Residual.Minutes, r.Total, r.Left.At} {
		require.GreaterOrEqual(t, m, nostop.Minutes(0))
	}
	require.GreaterOrEqual(t, r.Under, r.Own)
	require.True(t, r.After >= nostop.None && r.After <= nostop.Z)
	require.True(t, r.Before >= nostop.None && r.Before <= nostop.Z)
	require.GreaterOrEqual(t, r.OfDay, 1)
	require.NotEmpty(t, r.Worked())
	if r.Outside {
		require.Equal(t, nostop.Z, r.After)
		require.True(t, r.Findings.Forbids(), "outside the tables without a reason")
	}
}

// What is left is exact: a dive of that length is within the limit, one of a
// minute more is not.
func TestWhatIsLeftIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dives := drawDives(t)
		last := &dives[len(dives)-1]
		r := lastOf(nostop.Judge(dives, nostop.Settings{}))
		if r.Left.Unlimited || r.Row.Depth == 0 || r.Left.At == 0 {
			return
		}
		last.Out = last.In.Add(r.Left.At.Duration())
		require.Empty(t, lastOf(nostop.Judge(dives, nostop.Settings{})).Findings.Of(nostop.RuleLimitExceeded))
		last.Out = last.Out.Add(time.Second)
		require.Len(t, lastOf(nostop.Judge(dives, nostop.Settings{})).Findings.Of(nostop.RuleLimitExceeded), 1)
	})
}

func lastOf(p nostop.Plan) nostop.Result { return p.Results[len(p.Results)-1] }

// Each cure cures by itself.
func TestEachCureOfALimitCures(t *testing.T) {
	cured := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		dives := drawDives(t)
		p := nostop.Judge(dives, nostop.Settings{})
		for i, r := range p.Results {
			for _, f := range r.Findings.Of(nostop.RuleLimitExceeded) {
				for _, c := range f.Cures {
					tried := apply(t, dives[:i+1], p, c)
					got := lastOf(nostop.Judge(tried, nostop.Settings{}))
					require.Empty(t, got.Findings.Of(nostop.RuleLimitExceeded), c.Message)
					cured[c.Code]++
				}
			}
		}
	})
	require.Len(t, cured, 3, "all three cures were seen")
}

// apply does to the last dive what the cure's message says.
func apply(t *rapid.T, dives []nostop.Dive, p nostop.Plan, c finding.Cure) []nostop.Dive {
	out := append([]nostop.Dive(nil), dives...)
	i := len(out) - 1
	d := &out[i]
	var a, b int
	var x float64
	switch c.Code {
	case "shorten_dive":
		scan(t, c.Message, "Be back at the surface after %d min.", &a)
		d.Out = d.In.Add(time.Duration(a) * time.Minute)
	case "stay_shallower":
		scan(t, c.Message, "Stay at %f m (%d ft) or above.", &x, &a)
		d.Depth = units.Read(x, units.UnitMetre)
	case "wait_longer":
		scan(t, c.Message, "Stay at the surface for %d:%d (h:mm) before this dive.", &a, &b)
		under := d.Out.Sub(d.In)
		d.In = p.Results[i-1].Dive.Out.Add(time.Duration(60*a+b) * time.Minute)
		d.Out = d.In.Add(under)
	default:
		t.Fatalf("unknown cure %q", c.Code)
	}
	return out
}

// More minutes between two dives, from ten on, never give the second a later
// group. (Below ten they are one dive by the manual, and that may be more or
// less than the residual nitrogen time of ten minutes.)
func TestALongerIntervalNeverGivesALaterGroup(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dives := drawDives(t)[:1]
		second := drawDives(t)[0]
		under := second.Out.Sub(second.In)
		wait := rapid.IntRange(10, 1200).Draw(t, "wait")
		more := rapid.IntRange(0, 300).Draw(t, "more")
		after := func(m int) nostop.Result {
			d := second
			d.In = dives[0].Out.Add(time.Duration(m) * time.Minute)
			d.Out = d.In.Add(under)
			return lastOf(nostop.Judge([]nostop.Dive{dives[0], d}, nostop.Settings{}))
		}
		less, longer := after(wait), after(wait+more)
		require.LessOrEqual(t, longer.After, less.After)
		require.True(t, less.Left.Unlimited || longer.Left.Unlimited || longer.Left.At >= less.Left.At)
	})
}

// A dive of the same depth said in metres never has more time or an earlier
// group than said in feet: what a gauge rounds, and the safe side of the
// conversion, never help.
func TestMetresAreNeverMorePermissiveThanFeet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ft := float64(rapid.IntRange(1, 190).Draw(t, "feet"))
		metres := units.RoundUp(feet(ft).In(units.UnitMetre), 0.01)
		under := rapid.IntRange(1, 300).Draw(t, "under")
		foot := rapid.Bool().Draw(t, "by the foot")
		judge := func(depth units.Reading) nostop.Result {
			d := nostop.Dive{Depth: depth, In: morning, Out: at(under)}
			return lastOf(nostop.Judge([]nostop.Dive{d}, nostop.Settings{ByTheFoot: foot}))
		}
		m, f := judge(units.Read(metres, units.UnitMetre)), judge(units.Read(ft, units.UnitFoot))
		require.GreaterOrEqual(t, m.After, f.After)
		require.True(t, f.Left.Unlimited || m.Left.At <= f.Left.At)
	})
}

// 33 fsw are one atmosphere, the Navy's planning figure, and 10 m of sea water
// one bar: the pressure at a depth in metres never means more feet of sea water
// than the conversion by length gives. So with the definition, 33.066 fsw.
func TestTheConversionOfMetresIsOnTheSafeSide(t *testing.T) {
	for m := 1; m <= 60; m++ {
		d := units.Depth(float64(m))
		for _, perAtm := range []float64{33, 33.066} {
			byPressure := float64(m) * 0.1 / 1.01325 * perAtm
			require.Greater(t, nostop.Feet(d), byPressure)
		}
	}
}

// The table by the foot never gives less time than the next deeper row of Table
// 9-7, and never an earlier group at the row they share.
func TestByTheFootIsWithinTheWholeTable(t *testing.T) {
	for f := 30.0; f <= 50; f++ {
		foot, _ := nostop.ShallowRowAt(feet(f))
		row, _ := nostop.RowAt(feet(f))
		require.GreaterOrEqual(t, foot.Limit.At, row.Limit.At)
		for m := nostop.Minutes(1); m <= row.Limit.At; m++ {
			a, _ := foot.Group(m)
			b, _ := row.Group(m)
			require.LessOrEqual(t, a, b)
		}
	}
}

// Waiting longer before a flight never makes it too soon, a higher cabin never
// makes it earlier, and a flight is never earlier than going up by road.
func TestPropertiesOfTheWait(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := nostop.Judge(drawDives(t), nostop.Settings{})
		low := rapid.IntRange(0, 10000).Draw(t, "low")
		high := rapid.IntRange(low, 10000).Draw(t, "high")
		a := p.BeforeFlying(units.Read(float64(low), units.UnitFoot))
		b := p.BeforeFlying(units.Read(float64(high), units.UnitFoot))
		road := p.BeforeAltitude(units.Read(float64(high), units.UnitFoot))
		require.False(t, b.Earliest.Before(a.Earliest))
		require.False(t, b.Earliest.Before(road.Earliest))
		require.True(t, a.At(a.Earliest.Add(-time.Second)).Forbids())
		require.False(t, a.At(a.Earliest).Forbids())
		require.Equal(t, a.Earliest, a.From.Add(max(a.Table, a.Workshop).Duration()))
		require.NotEmpty(t, a.Worked())
	})
}
