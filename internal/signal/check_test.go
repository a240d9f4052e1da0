package signal_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

func reading(x float64, u units.Unit) *units.Reading { r := units.Read(x, u); return &r }
func psi(x float64) *units.Reading                   { return reading(x, units.UnitPSI) }
func bar(x float64) *units.Reading                   { return reading(x, units.UnitBar) }

// The first rows are common practice: 1750 psi is reported as 1700, never as
// 1800, and 187 bar as 180. The others follow from the rule's own text.
func TestJudgeCheck(t *testing.T) {
	for _, c := range []struct {
		name  string
		check signal.Check
		want  signal.Verdict
		rules []finding.Rule
	}{
		{"1750 psi reported 1700", signal.Check{Reading: psi(1750), Signalled: psi(1700)}, signal.Right, nil},
		{"1750 psi reported 1800", signal.Check{Reading: psi(1750), Signalled: psi(1800)}, signal.OverReported,
			rules(signal.RuleOverReported)},
		{"187 bar reported 180", signal.Check{Reading: bar(187), Signalled: bar(180)}, signal.Right, nil},
		{"187 bar reported 190", signal.Check{Reading: bar(187), Signalled: bar(190)}, signal.OverReported,
			rules(signal.RuleOverReported)},
		{"the reading itself", signal.Check{Reading: bar(187), Signalled: bar(187)}, signal.Right, nil},
		{"a figure between", signal.Check{Reading: psi(1750), Signalled: psi(1720)}, signal.Right, nil},
		{"a step lower", signal.Check{Reading: psi(1750), Signalled: psi(1600)}, signal.MisreadLow,
			rules(signal.RuleMisreadLow)},
		{"just below the rounded figure", signal.Check{Reading: psi(1750), Signalled: psi(1699.99)},
			signal.MisreadLow, rules(signal.RuleMisreadLow)},
		{"a multiple reported as it is", signal.Check{Reading: bar(180), Signalled: bar(180)}, signal.Right,
			nil},
		{"a multiple reported a step lower", signal.Check{Reading: bar(180), Signalled: bar(170)},
			signal.MisreadLow, rules(signal.RuleMisreadLow)},
		{"one step over, read afterwards",
			signal.Check{Reading: psi(1700), Signalled: psi(1800), ReadAfterSignal: true}, signal.Undetermined,
			rules(signal.RuleUndetermined)},
		{"more than a step over, read afterwards",
			signal.Check{Reading: psi(1690), Signalled: psi(1800), ReadAfterSignal: true}, signal.OverReported,
			rules(signal.RuleOverReported)},
		{"an empty gauge", signal.Check{Reading: bar(0), Signalled: bar(0)}, signal.Right, nil},
		{"gauge only", signal.Check{Reading: bar(120)}, signal.Unverified, rules(signal.RuleUnverified)},
		{"signal only", signal.Check{Signalled: bar(120)}, signal.Unverified, rules(signal.RuleUnverified)},
		{"asked, gauge seen, no report", signal.Check{Reading: bar(120), NoAnswer: true}, signal.NoAnswer,
			rules(signal.RuleNoAnswer)},
		{"asked, nothing seen", signal.Check{NoAnswer: true}, signal.NoAnswer, rules(signal.RuleNoAnswer)},
		{"nothing said of either", signal.Check{}, signal.Unverified, rules(signal.RuleUnverified)},
		{"a report outweighs no answer", signal.Check{Reading: bar(187), Signalled: bar(180), NoAnswer: true},
			signal.Right, nil},
		// 120 bar is 1740 psi.
		{"bar gauge, right in psi", signal.Check{Reading: bar(120), Signalled: psi(1700)}, signal.Right,
			rules(signal.RuleOtherUnit)},
		{"bar gauge, too much in psi", signal.Check{Reading: bar(120), Signalled: psi(1800)},
			signal.OverReported, rules(signal.RuleOverReported, signal.RuleOtherUnit)},
		// 187 bar rounds to 180 bar, which is 2611 psi and rounds to 2600.
		{"rounded in both units", signal.Check{Reading: bar(187), Signalled: psi(2600)}, signal.Right,
			rules(signal.RuleOtherUnit)},
		{"less than rounded in both", signal.Check{Reading: bar(187), Signalled: psi(2500)}, signal.MisreadLow,
			rules(signal.RuleMisreadLow, signal.RuleOtherUnit)},
		{"17 meant as bar on a psi gauge", signal.Check{Reading: psi(1750), Signalled: bar(170)},
			signal.OverReported, rules(signal.RuleOverReported, signal.RuleOtherUnit)},
		// 1750 psi is 120.7 bar.
		{"read in another unit than the gauge's",
			signal.Check{Gauge: units.UnitPSI, Reading: bar(120.7), Signalled: psi(1700)}, signal.Right,
			rules(signal.RuleOtherUnit)},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, findings := signal.JudgeCheck(c.check)
			require.Equal(t, c.want, got)
			var ids, want []string
			for _, f := range findings {
				ids = append(ids, f.Rule)
				require.NotEmpty(t, f.Message)
				require.NotEmpty(t, f.Cures)
				require.NotEmpty(t, f.Source)
			}
			for _, r := range c.rules {
				want = append(want, r.ID)
			}
			require.Equal(t, want, ids)
		})
	}
}

func rules(r ...finding.Rule) []finding.Rule { return r }

func TestAFindingOfACheckSaysWhatWasFound(t *testing.T) {
	_, l := signal.JudgeCheck(signal.Check{Reading: psi(1750), Signalled: psi(1800)})
	require.Equal(t, "1800 psi was signalled and the gauge showed 1750 psi; a right report is 1700 psi. The diver believes there is more gas than there is.", l[0].Message)
	require.Equal(t, "1700 psi", l[0].Limit.Text)
	require.Equal(t, "1800 psi", l[0].Found.Text)
	require.False(t, l.Forbids(), "a gas check is a fact and is never refused")
}

// For every reading and report, in either unit: verdicts follow the order of
// the report, the reading rounded down is right, and more gas than there is
// never is.
func TestVerdictsFollowTheReport(t *testing.T) {
	order := map[signal.Verdict]int{signal.MisreadLow: 0, signal.Right: 1, signal.Undetermined: 2,
		signal.OverReported: 3}
	anyUnit := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI})
	rapid.Check(t, func(t *rapid.T) {
		u, v := anyUnit.Draw(t, "gauge"), anyUnit.Draw(t, "signalled in")
		read := units.Reading{Value: units.Decimal(rapid.Int64Range(0, 500_000).Draw(t, "reading")), Unit: u}
		after := rapid.Bool().Draw(t, "read after")
		judge := func(said units.Reading) signal.Verdict {
			got, _ := signal.JudgeCheck(signal.Check{Reading: &read, Signalled: &said, ReadAfterSignal: after})
			return got
		}
		rounded := read.Pressure().RoundDown(v, signal.StepOf(v).Value.Float())
		require.Equal(t, signal.Right, judge(rounded))
		a := units.Reading{Value: units.Decimal(rapid.Int64Range(0, 500_000).Draw(t, "a")), Unit: v}
		b := units.Reading{Value: a.Value + units.Decimal(rapid.Int64Range(0, 20_000).Draw(t, "more")), Unit: v}
		require.LessOrEqual(t, order[judge(a)], order[judge(b)], "%s then %s for %s", a, b, read)
		if a.Compare(read) > 0 && u == v {
			require.NotContains(t, []signal.Verdict{signal.Right, signal.MisreadLow}, judge(a))
		}
	})
}

func TestRulesAreCompleteAndTheirOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range signal.Rules() {
		require.False(t, seen[r.ID], r.ID)
		seen[r.ID] = true
		require.Regexp(t, `^signal\.[a-z_]+$`, r.ID)
		require.NotEmpty(t, r.Title)
		require.NotEmpty(t, r.Text)
		require.NotEmpty(t, r.Source)
		require.NotEmpty(t, r.Severity)
	}
}

func ExampleJudgeCheck() {
	read, said := units.Read(1750, units.UnitPSI), units.Read(1800, units.UnitPSI)
	verdict, findings := signal.JudgeCheck(signal.Check{Reading: &read, Signalled: &said})
	fmt.Println(verdict)
	fmt.Println(findings[0].Message)
	// Output:
	// over_reported
	// 1800 psi was signalled and the gauge showed 1750 psi; a right report is 1700 psi. The diver believes there is more gas than there is.
}

func ExampleStepOf() {
	fmt.Println(signal.StepOf(units.UnitPSI), "or", signal.StepOf(units.UnitBar))
	// Output: 100 psi or 10 bar
}
