package nostop_test

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/nostop"
	"tankside/internal/published"
	"tankside/internal/units"
)

// The checks in this file are against the tables of the US Navy Diving Manual,
// Revision 7 (SS521-AG-PRO-010, Dec 2016), read here a second time with nothing
// but strings.Split, so that a fault of the package's reader shows.

// raw gives the cells of a file without its notes; the first line are headings.
func raw(t testing.TB, file string) [][]string {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	var out [][]string
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if !strings.HasPrefix(line, "#") {
			out = append(out, strings.Split(line, ","))
		}
	}
	return out
}

func number(t testing.TB, s string) nostop.Minutes {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return nostop.Minutes(n)
}

func clock(t testing.TB, s string) nostop.Minutes {
	t.Helper()
	h, m, ok := strings.Cut(s, ":")
	require.True(t, ok, s)
	require.Len(t, m, 2, s)
	return 60*number(t, h) + number(t, m)
}

func group(t testing.TB, s string) nostop.Group {
	t.Helper()
	if s == "NONREPETITIVE" {
		return nostop.None
	}
	g, err := nostop.ParseGroup(s)
	require.NoError(t, err)
	return g
}

func feet(f float64) units.Depth { return units.Read(f, units.UnitFoot).Depth() }

// Table 9-7, every cell of the short form.
func TestLimitsAndGroupsAreThePrintedCells(t *testing.T) {
	all := raw(t, "tables/9-7.csv")
	require.Len(t, all, 25)
	require.Len(t, nostop.Rows(), 24)
	for i, rec := range all[1:] {
		require.Len(t, rec, 18)
		r, ok := nostop.RowAt(feet(float64(number(t, rec[0]))))
		require.True(t, ok)
		require.Equal(t, nostop.Rows()[i], r)
		require.Equal(t, rec[1], strings.TrimSuffix(r.Limit.String(), " min"), r.Depth)
		for col, s := range rec[2:] {
			g := group(t, all[0][col+2])
			require.Equal(t, s != "", r.Has(g), "%s %s", r.Depth, g)
			require.Equal(t, s == "*", r.Longest(g).Unlimited, "%s %s", r.Depth, g)
			if s != "" && s != "*" {
				require.Equal(t, number(t, s), r.Longest(g).At, "%s %s", r.Depth, g)
			}
		}
	}
}

// Table 9-7 in its second form, one line for each group, minute by minute.
func TestShortAndLongFormOfTheLimitsAgree(t *testing.T) {
	lines := map[nostop.FSW]int{}
	for _, l := range published.GroupTimes(t) {
		r, ok := nostop.RowAt(feet(float64(l.FSW)))
		require.True(t, ok)
		require.Equal(t, nostop.FSW(l.FSW), r.Depth)
		lines[r.Depth]++
		want := group(t, l.Group)
		from, to := nostop.Minutes(l.Shortest), nostop.Minutes(l.Longest)
		require.Equal(t, l.Unending, r.Longest(want).Unlimited)
		if l.Unending {
			to = from + 2000
		}
		for m := from; m <= to; m++ {
			got, ok := r.Group(m)
			require.True(t, ok)
			require.Equal(t, want, got, "%s %s", r.Depth, m)
		}
		if l.NoStopLimit {
			require.Equal(t, to, r.Limit.At, r.Depth)
			_, ok := r.Group(to + 1)
			require.False(t, ok, "%s beyond its limit", r.Depth)
		}
	}
	for _, r := range nostop.Rows() {
		n := 0
		for g := nostop.A; g <= nostop.Z; g++ {
			if r.Has(g) {
				n++
			}
		}
		require.Equal(t, n, lines[r.Depth], r.Depth)
	}
}

// Some rows of Table 9-7 typed here by hand, so that the file itself is checked.
func TestSpotRowsOfTheLimits(t *testing.T) {
	for depth, want := range map[float64]string{
		20:  "unlimited A26 B43 C61 D82 E106 F133 G165 H205 I256 J330 K461 L*",
		25:  "1102 min A20 B33 C47 D62 E78 F97 G117 H140 I166 J198 K236 L285 M354 N469 O992 Z1102",
		40:  "163 min A12 B20 C27 D36 E44 F53 G63 H73 I84 J95 K108 L121 M135 N151 O163",
		60:  "63 min A7 B12 C17 D22 E28 F33 G39 H45 I51 J57 K63",
		100: "25 min A4 B6 C9 D12 E15 F18 G21 H25",
		190: "5 min C3 D5",
	} {
		r, _ := nostop.RowAt(feet(depth))
		got := r.Limit.String()
		for g := nostop.A; g <= nostop.Z; g++ {
			if r.Longest(g).Unlimited {
				got += fmt.Sprintf(" %s*", g)
			} else if r.Has(g) {
				got += fmt.Sprintf(" %s%d", g, r.Longest(g).At)
			}
		}
		require.Equal(t, want, got)
	}
}

// Table 9-8, upper part: the printed hours and minutes are the minutes, and the
// intervals of each group follow one another without a gap from 0:10 on.
func TestIntervalsFollowOneAnother(t *testing.T) {
	all := raw(t, "tables/9-8-interval.csv")[1:]
	require.Len(t, all, 152)
	next := map[nostop.Group]nostop.Minutes{}
	for _, rec := range all {
		start, end := group(t, rec[0]), group(t, rec[1])
		from := number(t, rec[2])
		require.Equal(t, clock(t, rec[4]), from)
		if start == end {
			require.Equal(t, nostop.Minutes(10), from)
			next[start] = from
		}
		require.Equal(t, next[start], from, "%s to %s", start, end)
		to := from + 3000
		if end != nostop.None {
			to = number(t, rec[3])
			require.Equal(t, clock(t, rec[5]), to)
		} else {
			require.Empty(t, rec[3])
		}
		for m := from; m <= to; m++ {
			require.Equal(t, end, nostop.AfterInterval(start, m), "%s after %s", start, m)
		}
		if start != end {
			require.Equal(t, from, nostop.IntervalTo(start, end))
		}
		next[start] = to + 1
	}
	for g := nostop.A; g <= nostop.Z; g++ {
		require.Contains(t, next, g)
		require.Equal(t, g, nostop.AfterInterval(g, 9), "less than ten minutes changes nothing")
	}
}

// Table 9-8, lower part, every cell; and its structure: the residual nitrogen
// time of a group is never less than the longest dive that gives the group.
func TestResidualNitrogenTimesAreThePrintedCells(t *testing.T) {
	all := raw(t, "tables/9-8-residual.csv")
	require.Len(t, all, 25)
	thirty, _ := nostop.RowAt(feet(30))
	for i, rec := range all[1:] {
		require.Len(t, rec, 17)
		row := nostop.Rows()[i]
		require.Equal(t, number(t, rec[0]), nostop.Minutes(row.Depth))
		require.Equal(t, nostop.Residual{Row: row}, nostop.ResidualNitrogen(nostop.None, row))
		for col, s := range rec[1:] {
			g := group(t, all[0][col+1])
			got := nostop.ResidualNitrogen(g, row)
			where := fmt.Sprintf("%s group %s", row.Depth, g)
			switch s {
			case "undefined":
				require.True(t, row.Limit.Unlimited, where)
				require.Equal(t, nostop.Residual{Row: row, Undefined: true}, got, where)
			case "use_30fsw":
				require.Equal(t, nostop.FSW(25), row.Depth)
				require.Equal(t, nostop.ResidualNitrogen(g, thirty), got, where)
				require.Equal(t, thirty, got.Row)
			default:
				require.Equal(t, nostop.Residual{Row: row, Minutes: number(t, s)}, got, where)
			}
			if row.Has(g) && !got.Undefined && got.Row == row {
				require.GreaterOrEqual(t, got.Minutes, row.Longest(g).At, where)
			}
		}
	}
}

// Cells of doubt (tables/doubts.csv): what was decided is what is used.
func TestTheCellsOfDoubtAreAsDecided(t *testing.T) {
	require.Len(t, raw(t, "tables/doubts.csv"), 14)
	require.Equal(t, nostop.Minutes(585), nostop.IntervalTo(nostop.I, nostop.None), "I keeps A up to 9:44")
	for _, d := range []float64{160, 170, 180, 190} {
		row, _ := nostop.RowAt(feet(d))
		require.Equal(t, nostop.Minutes(5), nostop.ResidualNitrogen(nostop.B, row).Minutes, row.Depth)
	}
	row, _ := nostop.RowAt(feet(25))
	require.Equal(t, nostop.Minutes(308), nostop.ResidualNitrogen(nostop.O, row).Minutes)
	require.Equal(t, nostop.Minutes(372), nostop.ResidualNitrogen(nostop.Z, row).Minutes)
}

// Table 9-6, every cell in both forms, and the structure that gives it away when
// a cell is mistyped: from one group to the next every altitude adds the same.
func TestWaitsBeforeAltitudeAreThePrintedCells(t *testing.T) {
	all, second := raw(t, "tables/9-6.csv"), published.AltitudeWaits(t)
	require.Len(t, all, 17)
	require.Len(t, second, 16)
	for i, rec := range all[1:] {
		require.Len(t, rec, 11)
		g := group(t, rec[0])
		require.Equal(t, nostop.A+nostop.Group(i), g)
		require.Equal(t, rec[0], second[i].Group)
		var steps []nostop.Minutes
		for k := 1; k <= 10; k++ {
			got, ok := nostop.BeforeAltitude(g, feet(float64(k)*1000))
			require.True(t, ok)
			require.Equal(t, clock(t, rec[k]), got, "%s %d000 ft", g, k)
			require.Equal(t, nostop.Minutes(second[i].Minutes[k-1]), got, "%s %d000 ft", g, k)
			if i > 0 && second[i-1].Minutes[k-1] != 0 {
				steps = append(steps, got-nostop.Minutes(second[i-1].Minutes[k-1]))
			}
		}
		for _, s := range steps {
			require.InDelta(t, float64(steps[0]), float64(s), 1, "group %s", g)
		}
	}
	_, ok := nostop.BeforeAltitude(nostop.A, feet(10001))
	require.False(t, ok)
	w, ok := nostop.BeforeAltitude(nostop.K, feet(1))
	require.True(t, ok)
	require.Equal(t, nostop.Minutes(30), w, "the next higher thousand feet")
}

// Table 9-5, every cell.
func TestGroupsOnArrivalAreThePrintedCells(t *testing.T) {
	all := raw(t, "tables/9-5.csv")
	require.Len(t, all, 11)
	for i, rec := range all[1:] {
		require.Equal(t, nostop.Minutes(1000*(i+1)), number(t, rec[0]))
		for _, above := range []float64{0, -1, -999} {
			got, ok := nostop.OnArrival(feet(float64(number(t, rec[0])) + above))
			require.True(t, ok)
			require.Equal(t, group(t, rec[1]), got)
		}
	}
	g, ok := nostop.OnArrival(0)
	require.True(t, ok)
	require.Equal(t, nostop.None, g)
	_, ok = nostop.OnArrival(feet(10001))
	require.False(t, ok)
}

// Table 2A-1, every cell; the rows it shares with Table 9-7 are the same.
func TestTheTableByTheFootIsThePrintedCells(t *testing.T) {
	all := raw(t, "tables/2A-1.csv")
	require.Len(t, all, 22)
	shared := 0
	for i, rec := range all[1:] {
		require.Len(t, rec, 18)
		depth := number(t, rec[0])
		require.Equal(t, nostop.Minutes(30+i), depth)
		r, ok := nostop.ShallowRowAt(feet(float64(depth)))
		require.True(t, ok)
		require.Equal(t, number(t, rec[1]), r.Limit.At)
		for col, s := range rec[2:] {
			g := group(t, all[0][col+2])
			require.Equal(t, s != "", r.Has(g))
			if s != "" {
				require.Equal(t, number(t, s), r.Longest(g).At, "%s %s", r.Depth, g)
			}
		}
		if whole, _ := nostop.RowAt(feet(float64(depth))); whole.Depth == r.Depth {
			require.Equal(t, whole, r)
			shared++
		}
	}
	require.Equal(t, 5, shared)
	for _, d := range []float64{28.9, 50.1} {
		_, ok := nostop.ShallowRowAt(feet(d))
		require.False(t, ok, d)
	}
}

func TestGroupsReadAsTheyAreWritten(t *testing.T) {
	for g := nostop.None; g <= nostop.Z; g++ {
		back, err := nostop.ParseGroup(g.String())
		require.NoError(t, err)
		require.Equal(t, g, back)
	}
	for _, s := range []string{"", "P", "a", "AB", "Y"} {
		_, err := nostop.ParseGroup(s)
		require.Error(t, err, s)
	}
	require.Equal(t, "Group(99)", nostop.Group(99).String())
}
