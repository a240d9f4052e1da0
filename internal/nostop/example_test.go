package nostop_test

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// say prints findings with their cures.
func say(l finding.List) {
	for _, f := range l {
		fmt.Printf("%s: %s\n", f.Severity, f.Message)
		for _, c := range f.Cures {
			fmt.Println("  or:", c.Message)
		}
	}
}

func ExampleJudge() {
	p := nostop.Judge([]nostop.Dive{
		dive("first", metres(18), 0, 40),
		dive("second", metres(12), 120, 45),
	}, nostop.Settings{})
	for _, r := range p.Results {
		fmt.Printf("%s: group %s, %d + %d min on the row of %s, group %s, at most %s\n", r.Dive.Key,
			r.Before, r.Residual.Minutes, r.Under, r.Row.Depth, r.After, r.Left)
	}
	w := p.BeforeFlying(nostop.Cabin)
	fmt.Println("no flight before", w.Earliest.Format("2006-01-02 15:04"))
	// Output:
	// first: group -, 0 + 40 min on the row of 60 fsw, group H, at most 63 min
	// second: group G, 64 + 45 min on the row of 40 fsw, group L, at most 99 min
	// no flight before 2026-06-07 05:45
}

func ExampleResult_Worked() {
	p := judge(dive("a", metres(18), 0, 40), dive("b", metres(12), 120, 45))
	for _, s := range p.Results[1].Worked() {
		fmt.Printf("%s: %s\n", s.Title, s.Text)
	}
	// Output:
	// Group at the start: 1:20 (h:mm) on the surface: group G.
	// Row: 12 m / 0.3048 = 39.4 ft: that depth or the next deeper row is 40 fsw.
	// Time: From time in to time out, a minute begun counts whole: 45 min.
	// Residual nitrogen: Group G on the row of 40 fsw: 64 min. 64 + 45 = 109 min.
	// No-stop limit: 163 min on the row of 40 fsw; 109 is within it. The dive itself may last 99 min at most.
	// Group at the end: 109 min on the row of 40 fsw, that time or the next longer: group L.
}

func ExampleRowAt() {
	row, _ := nostop.RowAt(18 * units.Metre)
	g, _ := row.Group(40)
	fmt.Println(row.Depth, row.Limit, g)
	// Output: 60 fsw 63 min H
}

func ExampleShallowRowAt() {
	row, _ := nostop.ShallowRowAt(12.4 * units.Metre)
	fmt.Println(row.Depth, row.Limit)
	// Output: 41 fsw 155 min
}

func ExampleAfterInterval() {
	fmt.Println(nostop.AfterInterval(nostop.H, 80), nostop.AfterInterval(nostop.H, 533))
	// Output: G -
}

func ExampleResidualNitrogen() {
	row, _ := nostop.RowAt(12 * units.Metre)
	fmt.Println(nostop.ResidualNitrogen(nostop.G, row).Minutes)
	// Output:
	// 64 min
}

func ExampleBeforeAltitude() {
	m, _ := nostop.BeforeAltitude(nostop.K, 1500*units.Metre)
	fmt.Println(m.Clock())
	// Output: 7:41
}

func ExampleOnArrival() {
	fmt.Println(nostop.OnArrival(1500 * units.Metre))
	// Output: D true
}

func Example_ruleLimitExceeded() {
	say(judge(dive("a", metres(18), 0, 40), dive("b", metres(18), 100, 40)).Findings())
	// Output:
	// forbidden: Dive 2 of the day (b) counts as 80 min on the row of 60 fsw (40 min under water and 40 min of residual nitrogen), over the no-stop limit of 63 min.
	//   or: Be back at the surface after 23 min.
	//   or: Stay at 15.2 m (50 ft) or above.
	//   or: Stay at the surface for 4:22 (h:mm) before this dive.
}

func Example_ruleNearLimit() {
	say(judge(dive("a", metres(18), 0, 60)).Findings())
	// Output:
	// caution: Dive 1 of the day (a) counts as 60 min on the row of 60 fsw, 3 min before the no-stop limit of 63 min; it should end 5 min before it.
}

func Example_ruleTooDeep() {
	say(judge(dive("a", metres(60), 0, 5)).Findings())
	// Output:
	// forbidden: Dive 1 of the day (a) cannot be planned by these tables: 60 m is deeper than their last row, 190 fsw.
	//   or: Stay at 57.9 m (190 ft) or above.
}

func Example_ruleAltitudeSite() {
	lake := dive("a", metres(10), 0, 20)
	lake.Altitude = metres(450)
	say(judge(lake).Findings())
	// Output:
	// forbidden: Dive 1 of the day (a) cannot be planned by these tables: at 450 m of altitude every depth needs a correction, whose table is not held here.
	//   or: Choose a site at 300 m of altitude or lower.
}

func Example_ruleNotADive() {
	say(judge(dive("a", metres(10), 30, -5)).Findings())
	// Output:
	// forbidden: Dive 1 of the day (a) cannot be planned by these tables: its time out is not after its time in.
}

func Example_ruleOverlap() {
	say(judge(dive("a", metres(10), 0, 30), dive("b", metres(5), 20, 20)).Findings())
	// Output:
	// forbidden: Dive 2 of the day (b) starts before the dive before it has ended: nobody is in two dives at once. Both are reckoned as one.
	//   or: Let another of the crew make one of them, or move it.
}

func Example_ruleOneDive() {
	say(judge(dive("a", metres(10), 0, 20), dive("b", metres(5), 28, 20)).Findings())
	// Output:
	// note: Dive 2 of the day (b) starts 8 min after the dive before it, less than 10 min: both are one dive of 40 min to 10 m.
}

func Example_ruleOutsideBefore() {
	say(judge(dive("a", metres(30), 0, 45),
		dive("b", metres(5), 300, 20)).Findings().Of(nostop.RuleOutsideBefore))
	// Output:
	// forbidden: Dive 2 of the day (b) starts less than 24 h after a dive outside the tables: the residual nitrogen is not known.
	//   or: Dive again 24 h after that dive at the earliest, and ask first.
}

func Example_ruleManyDives() {
	say(nostop.Judge([]nostop.Dive{dive("a", metres(5), 0, 20), dive("b", metres(5), 60, 20)},
		nostop.Settings{DivesADay: 1}).Findings())
	// Output:
	// caution: Dive 2 of the day (b): the centre's number of dives a day is 1, crew and confined water included.
	//   or: Let another of the crew make this dive.
}

func Example_ruleManyAscents() {
	d := dive("a", metres(8), 0, 30)
	d.Ascents = 8
	say(judge(d).Findings())
	// Output:
	// caution: Dive 1 of the day (a) brings the day's ascents to 8, over 6.
	//   or: Practise fewer ascents, or let another of the crew take some.
}

func Example_ruleGroupUnchanged() {
	say(judge(dive("a", metres(15), 0, 85), dive("b", metres(6), 95, 60)).Findings())
	// Output:
	// note: Dive 2 of the day (b) to 6 m has no limit of time for a diver in group L, and leaves the group as it is.
}

func Example_ruleTooSoon() {
	say(judge(dive("a", metres(10), 0, 30)).BeforeFlying(nostop.Cabin).At(at(600)))
	// Output:
	// forbidden: A flight at 2026-06-06 19:00 is too soon after diving: the earliest is 2026-06-06 21:30.
	//   or: Leave at 2026-06-06 21:30 or later.
}

func Example_ruleTooHigh() {
	say(judge(dive("a", metres(10), 0, 30)).BeforeAltitude(metres(3500)).Findings)
	// Output:
	// forbidden: An altitude of 3500 m is outside the table, which goes up to 10 000 ft (3048 m).
	//   or: Choose a way that stays at 10 000 ft or below.
}

func Example_ruleFlyAfterOutside() {
	say(judge(dive("a", metres(30), 0, 45)).BeforeFlying(nostop.Cabin).Findings)
	// Output:
	// caution: The sequence has a dive outside the tables: how long to wait before flying is not in any table. 48 h are our choice; ask a doctor who knows diving.
}
