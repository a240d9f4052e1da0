package nostop_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/nostop"
	"tankside/internal/published"
)

// oracle is a second implementation of the procedure. It knows no quantity and no
// package but the text of the files, scans every line for every question, and
// goes by the long form of Table 9-7.
type oracle struct {
	long               []published.GroupTime
	interval, residual [][]string
}

func newOracle(t testing.TB) oracle {
	return oracle{published.GroupTimes(t), raw(t, "tables/9-8-interval.csv")[1:],
		raw(t, "tables/9-8-residual.csv")}
}

func num(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 1 << 30 // an empty upper bound has no end
	}
	return n
}

// row returns the next deeper depth of the table, "" below the deepest.
func (o oracle) row(feet int) string {
	for _, l := range o.long {
		if l.FSW >= feet {
			return strconv.Itoa(l.FSW)
		}
	}
	return ""
}

// group returns the letter for a depth and a time, "" beyond the limit.
func (o oracle) group(row string, minutes int) string {
	for _, l := range o.long {
		if strconv.Itoa(l.FSW) == row && l.Shortest <= minutes && (l.Unending || minutes <= l.Longest) {
			return l.Group
		}
	}
	return ""
}

func (o oracle) after(group string, surface int) string {
	for _, l := range o.interval {
		if l[0] == group && num(l[2]) <= surface && surface <= num(l[3]) {
			return l[1]
		}
	}
	return "NONREPETITIVE"
}

func (o oracle) rnt(group, row string) string {
	for _, l := range o.residual[1:] {
		for col, g := range o.residual[0] {
			if l[0] == row && g == group {
				return l[col]
			}
		}
	}
	return "0"
}

// dive gives the group after a dive, "" beyond the limit.
func (o oracle) dive(before string, feet, minutes int) string {
	row := o.row(feet)
	rnt := o.rnt(before, row)
	switch rnt {
	case "undefined":
		return before
	case "use_30fsw":
		row = "30"
		rnt = o.rnt(before, row)
	}
	return o.group(row, minutes+num(rnt))
}

func TestASecondImplementationAgrees(t *testing.T) {
	o := newOracle(t)
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		dives := drawDives(t)
		p := nostop.Judge(dives, nostop.Settings{})
		before, after, feet, under := "NONREPETITIVE", "", 0, 0
		for i, d := range dives {
			depth, own := int(d.Depth.Value/100), int(d.Out.Sub(d.In).Minutes())
			if gap := -1; i > 0 {
				gap = int(d.In.Sub(dives[i-1].Out).Minutes())
				if gap < 10 {
					depth, own = max(depth, feet), own+under
				} else {
					before = o.after(after, gap)
				}
			}
			feet, under = depth, own
			after = o.dive(before, feet, under)
			r := p.Results[i]
			if after == "" {
				require.Len(t, r.Findings.Of(nostop.RuleLimitExceeded), 1)
				return
			}
			require.Empty(t, r.Findings.Of(nostop.RuleLimitExceeded))
			require.Equal(t, after, r.After.String(), "dive %d", i+1)
			compared++
		}
	})
	require.Positive(t, compared)
}

// Every group, row and time, one repetitive dive, against the second reading.
func TestEveryRepetitiveDiveAgreesWithTheSecondReading(t *testing.T) {
	o := newOracle(t)
	for g := nostop.A; g <= nostop.Z; g++ {
		for _, r := range nostop.Rows() {
			for m := 1; m <= 400; m += 3 {
				after, ok := end(g, r, nostop.Minutes(m))
				want := o.dive(g.String(), int(r.Depth), m)
				if ok != (want != "") || ok && after.String() != want {
					t.Fatalf("%s to %s for %d: %q by the second reading, found %s, %t", g, r.Depth, m, want,
						after, ok)
				}
			}
		}
	}
}
