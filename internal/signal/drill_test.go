package signal_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/signal"
	"tankside/internal/units"
)

func drawGroup(t *rapid.T) []signal.Trainee {
	group := make([]signal.Trainee, rapid.IntRange(1, 25).Draw(t, "size"))
	for i := range group {
		u := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI}).Draw(t, "gauge")
		group[i] = signal.Trainee{ID: fmt.Sprint("student ", i), Gauge: u,
			Missed: rapid.SliceOf(rapid.SampledFrom(signal.Misreadings())).Draw(t, "missed")}
		if rapid.Bool().Draw(t, "planned") {
			group[i].Turn = units.Read(float64(rapid.IntRange(90, 150).Draw(t, "turn")), units.UnitBar)
			group[i].Low = units.Read(float64(rapid.IntRange(40, 85).Draw(t, "low")), units.UnitBar)
		} else if rapid.Bool().Draw(t, "low only") {
			group[i].Low = units.Read(700, units.UnitPSI)
		}
	}
	return group
}

// For any group: every student meets each case that can be given to them and no
// other, what was missed comes back, no
// two cards that follow each other are of one case or show one number, and a
// student never has one case twice running.
func TestAScriptKeepsItsPromises(t *testing.T) {
	all := signal.Ready()
	rapid.Check(t, func(t *rapid.T) {
		group, c := drawGroup(t), rapid.SampledFrom(all).Draw(t, "convention")
		seed := rapid.Uint64().Draw(t, "seed")
		cards, l := signal.Script(seed, c, group)
		require.Empty(t, l)
		met := map[string][]signal.Misreading{}
		for i, card := range cards {
			if own := met[card.Trainee]; len(own) > 0 {
				require.NotEqual(t, own[len(own)-1], card.Case, "twice running for one student")
			}
			met[card.Trainee] = append(met[card.Trainee], card.Case)
			if i > 0 {
				require.NotEqual(t, cards[i-1].Case, card.Case)
				require.NotEqual(t, number(cards[i-1].Reading), number(card.Reading), "cards %d and %d", i-1, i)
			}
		}
		for _, s := range group {
			for _, k := range signal.Misreadings() {
				times := 0
				for _, m := range met[s.ID] {
					if m == k {
						times++
					}
				}
				if slices.Contains(s.LeftOut(), k) {
					require.Zero(t, times, "%s cannot be given", k)
					continue
				}
				require.GreaterOrEqual(t, times, 1)
				if slices.Contains(s.Missed, k) {
					require.GreaterOrEqual(t, times, 2, "%s comes back", k)
				}
			}
		}
		again, _ := signal.Script(seed, c, group)
		require.Equal(t, cards, again)
	})
}

func number(r units.Reading) float64 {
	return units.RoundDown(r.Value.Float(),
		signal.StepOf(r.Unit).Value.Float()) / signal.StepOf(r.Unit).Value.Float()
}

// Each card asks for what its case is about.
func TestCardsAreWhatTheirCaseSays(t *testing.T) {
	group := []signal.Trainee{
		{ID: "a", Gauge: units.UnitPSI, Turn: units.Read(1600, units.UnitPSI),
			Low: units.Read(900, units.UnitPSI)},
		{ID: "b", Gauge: units.UnitBar, Turn: units.Read(100, units.UnitBar),
			Low: units.Read(50, units.UnitBar)},
	}
	for seed := range uint64(50) {
		cards, _ := signal.Script(seed, ready(t, "digits_psi"), group)
		for _, c := range cards {
			n := number(c.Reading)
			require.Equal(t, map[string]units.Unit{"a": units.UnitPSI, "b": units.UnitBar}[c.Trainee],
				c.Reading.Unit)
			switch c.Case {
			case signal.AtLow:
				require.LessOrEqual(t, c.Reading.Compare(map[string]units.Reading{"a": *psi(900),
					"b": *bar(50)}[c.Trainee]), 0)
				require.Contains(t, c.Expect[1], "Low-gas pressure")
			case signal.AtTurn:
				require.LessOrEqual(t, c.Reading.Compare(map[string]units.Reading{"a": *psi(1600),
					"b": *bar(100)}[c.Trainee]), 0)
				require.Contains(t, c.Expect[1], "Turn pressure")
			case signal.HalfTankReading:
				require.InDelta(t, map[string]float64{"a": 15, "b": 10}[c.Trainee], n, 0)
			case signal.OneDigit:
				require.Less(t, n, 10.0)
			case signal.RoundDown:
				require.Greater(t, c.Reading.Value.Float(), n*signal.StepOf(c.Reading.Unit).Value.Float())
			case signal.PartnerOut:
				require.Contains(t, c.Expect[len(c.Expect)-1], "give gas")
			}
			require.NotEmpty(t, c.Show)
		}
	}
}

func TestAScriptForNobodyOrWithoutAUsableConvention(t *testing.T) {
	cards, l := signal.Script(1, ready(t, "digits_psi"), nil)
	require.Empty(t, cards)
	require.Empty(t, l)
	_, l = signal.Script(1, ready(t, "digits_psi"), []signal.Trainee{{ID: "a"}})
	require.True(t, l.Forbids(), "a trainee without a gauge unit")
}

// A change would rewrite every script that was handed out. The cards are this
// program's own; the numbers behind them are checked in TestDiceAreSplitMix64.
func TestTheSameSeedGivesTheSameScriptForGood(t *testing.T) {
	cards, _ := signal.Script(1234567, ready(t, "digits_bar"), []signal.Trainee{{ID: "a", Gauge: units.UnitBar,
		Turn: units.Read(100, units.UnitBar), Low: units.Read(50, units.UnitBar)}})
	var got []string
	for _, c := range cards[:4] {
		got = append(got, fmt.Sprintf("%s %s", c.Case, c.Reading))
	}
	require.Equal(t, []string{"at_turn 87 bar", "partner_low_on_gas 145 bar", "round_down 159 bar",
		"partner_out_of_gas 116 bar"}, got)
}

// A card is about its reading, and a reading about its case: what a student got
// wrong can be brought back.
func TestAReadingHasTheCaseItWasDrawnFor(t *testing.T) {
	for _, c := range []struct {
		r    *units.Reading
		want signal.Misreading
	}{
		{psi(1790), signal.SixToNine}, {psi(1180), signal.RoundDown}, {psi(1100), ""},
		{psi(2000), signal.WithZero}, {psi(800), signal.OneDigit},
		{psi(1540), signal.HalfTankReading}, {bar(100), signal.HalfTankReading}, {bar(170), signal.SixToNine},
		{bar(146), signal.RoundDown},
		{bar(200), signal.WithZero}, {bar(0), signal.OneDigit},
		{&units.Reading{Value: 100, Unit: units.UnitMetre}, ""},
	} {
		require.Equal(t, c.want, signal.MisreadingOf(*c.r), "%s", c.r)
	}
}

// Without a planned pressure nobody is told to turn or to go up by one.
func TestWhatIsNotPlannedIsLeftOut(t *testing.T) {
	cards, l := signal.Script(9, ready(t, "digits_bar"),
		[]signal.Trainee{{ID: "a", Gauge: units.UnitBar, Missed: []signal.Misreading{signal.AtLow}}})
	require.Empty(t, l)
	require.Len(t, cards, len(signal.Misreadings())-2)
	for _, c := range cards {
		for _, e := range c.Expect {
			require.NotContains(t, e, "reached")
		}
	}
}

// Every question's own answer is right, a step more is over-reported, and a
// step less is on the safe side, in every convention.
func TestPracticeIsJudged(t *testing.T) {
	all := everyConvention()
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(all).Draw(t, "convention")
		q, l := signal.Ask(rapid.Uint64().Draw(t, "seed"), c)
		require.Empty(t, l)
		judge := func(steps float64) signal.Verdict {
			seq, refused := c.Encode(units.Read(q.Gauge.Value.Float()+steps*c.Step().Value.Float(), c.Unit))
			require.Empty(t, refused)
			return q.JudgeReport(seq).Verdict
		}
		require.Equal(t, signal.Right, judge(0))
		require.Equal(t, signal.OverReported, judge(1))
		a := q.JudgeReport(nil)
		require.Equal(t, signal.NoAnswer, a.Verdict)
		require.Equal(t, q.Shown, a.Right)
		require.Equal(t, signal.Right, q.JudgeReading(a.RightIs).Verdict)
		more := units.Read(a.RightIs.Value.Float()+1, c.Unit)
		require.Equal(t, signal.OverReported, q.JudgeReading(more).Verdict)
		if q.Gauge.Compare(c.Step()) > 0 {
			require.Equal(t, signal.MisreadLow, judge(-1))
			require.Equal(t, signal.MisreadLow, q.JudgeReading(units.Read(0, c.Unit)).Verdict)
		}
	})
}

func TestPracticeSaysWhyAMessageIsNoNumber(t *testing.T) {
	q, _ := signal.Ask(7, ready(t, "digits_psi"))
	a := q.JudgeReport(signal.Sequence{signal.ThumbUp})
	require.Equal(t, signal.NoAnswer, a.Verdict)
	require.Equal(t, `The gestures say "go up", which is no number.`, a.Findings[0].Message)
}

func ExampleScript() {
	group := []signal.Trainee{
		{ID: "first", Gauge: units.UnitPSI, Turn: units.Read(1500, units.UnitPSI),
			Low: units.Read(800, units.UnitPSI), Missed: []signal.Misreading{signal.RoundDown}},
		{ID: "second", Gauge: units.UnitBar, Turn: units.Read(100, units.UnitBar),
			Low: units.Read(50, units.UnitBar)},
	}
	cards, _ := signal.Script(42, signal.Ready()[0], group)
	c := cards[0]
	fmt.Println(len(cards), "cards, the last again:", cards[len(cards)-1].Case)
	fmt.Println(c.Trainee, c.Case, c.Reading, "by", c.Show)
	fmt.Println(c.Expect[1])
	// Output:
	// 23 cards, the last again: round_down
	// first at_turn 1270 psi by one finger up, then two fingers up
	// Turn pressure (1500 psi) reached: turn the dive.
}

func ExampleAsk() {
	q, _ := signal.Ask(3, signal.Ready()[0])
	a := q.JudgeReport(signal.Sequence{signal.Fingers(3), signal.Ring})
	fmt.Printf("%s: %s; right is %s\n", q.Gauge, a.Verdict, a.Right)
	// Output: 2940 psi: over_reported; right is two fingers up, then four fingers sideways
}
