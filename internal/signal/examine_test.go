package signal_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

func TestReadyConventionsAreSound(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range signal.Ready() {
		l := c.Examine()
		require.False(t, l.Has(finding.Forbidden) || l.Has(finding.Caution), "%s: %v", c.Code, l)
		require.False(t, seen[c.Code], c.Code)
		seen[c.Code] = true
		require.NotEmpty(t, c.Name)
	}
}

// The conflicts are facts of the trade: a thumb up is "go up" everywhere, a T
// is half a tank in one place and decompression in another, and a fist alone is
// low on gas, 50 bar or ten.
func TestConflictsOfAConvention(t *testing.T) {
	with := func(change func(*signal.Convention)) signal.Convention {
		c := ready(t, "digits_bar")
		change(&c)
		return c
	}
	tee := ready(t, "tee_bar")
	tee.Region = signal.TeeDecompression
	for _, c := range []struct {
		name     string
		c        signal.Convention
		rule     finding.Rule
		severity finding.Severity
		message  string
	}{
		{"ten as a thumb", with(func(c *signal.Convention) { c.Ten = signal.ThumbUp }),
			signal.RuleTenReadsAsGoUp, finding.Caution,
			`100 bar is shown as a thumb up, which every diver reads as "go up".`},
		{"T where it asks for decompression", tee, signal.RuleCustom, finding.Caution,
			"T of two hands means the number 100 bar here, and by the custom where the T asks for decompression it means decompression."},
		{"fist for ten and for 50 bar", with(func(c *signal.Convention) {
			c.Ten, c.Region, c.Signs = signal.Fist, "", append(c.Signs,
				signal.Sign{Meaning: signal.OnReserve, Gesture: signal.Fist})
		}), signal.RuleTwoMeanings, finding.Caution, "Fist has 2 meanings: the number 100 bar; on reserve."},
		{"fist for ten and for low on gas", with(func(c *signal.Convention) {
			c.Ten, c.Signs = signal.Fist, append(c.Signs,
				signal.Sign{Meaning: signal.LowOnGas, Gesture: signal.Fist})
		}), signal.RuleTwoMeanings, finding.Forbidden, "Fist has 2 meanings: the number 100 bar; low on gas."},
		{"fist for ten where it is low on gas", with(func(c *signal.Convention) { c.Ten = signal.Fist }),
			signal.RuleCustom, finding.Caution,
			"Fist means the number 100 bar here, and by common practice it means low on gas."},
		{"two messages", with(func(c *signal.Convention) {
			c.Signs = append(c.Signs, signal.Sign{Meaning: signal.HalfTank, Gesture: signal.Tee},
				signal.Sign{Meaning: signal.Decompression, Gesture: signal.Tee})
		}), signal.RuleTwoMeanings, finding.Caution, "T of two hands has 2 meanings: half a tank; decompression."},
		{"share on a digit", with(func(c *signal.Convention) {
			c.Signs = append(c.Signs, signal.Sign{Meaning: signal.ShareGas, Gesture: signal.Fingers(2)})
		}), signal.RuleTwoMeanings, finding.Forbidden, "Two fingers up has 2 meanings: the number 20 bar; share gas."},
		{"nobody agreed out of gas", with(func(c *signal.Convention) { c.Signs = c.Signs[:2:2] }),
			signal.RuleNotAgreed, finding.Caution,
			`The convention has no sign for "out of gas".`},
		{"zero and OK", with(func(*signal.Convention) {}), signal.RuleLooksAlike, finding.Note,
			"Ring (the number 0 bar) and Ring, three fingers up (OK) look alike from a distance."},
		{"forearm with one hand", with(func(c *signal.Convention) { c.Style = signal.Forearm }),
			signal.RuleUnusable, finding.Forbidden,
			`The style "forearm" takes two hands, and one is free.`},
		{"ten as two", with(func(c *signal.Convention) { c.Ten = signal.Fingers(2) }), signal.RuleUnusable,
			finding.Forbidden,
			"Two fingers up is the sign for ten and for another number."},
		{"ten where fives are added",
			with(func(c *signal.Convention) {
				c.Style, c.Ten = signal.Fives,
					signal.Fist
			}), signal.RuleUnusable, finding.Forbidden,
			`The style "fives" has no use for a sign for ten.`},
		{"no unit of pressure", with(func(c *signal.Convention) { c.Unit = units.UnitMetre }),
			signal.RuleUnusable, finding.Forbidden, `The unit is "m".`},
		{"an unknown gesture", with(func(c *signal.Convention) { c.Signs = []signal.Sign{{Meaning: signal.OutOfGas, Gesture: "wink"}} }),
			signal.RuleUnusable, finding.Forbidden, `"wink" is no known gesture.`},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := c.c.Examine().Of(c.rule)
			require.NotEmpty(t, l)
			require.Equal(t, c.message, l[0].Message)
			require.Equal(t, c.severity, l[0].Severity)
			require.NotEmpty(t, l[0].Cures)
		})
	}
}

func TestDifferencesBetweenConventions(t *testing.T) {
	here, there := ready(t, "digits_bar"), ready(t, "digits_bar_french")
	require.Empty(t, here.Differences(here))
	require.Equal(t, []signal.Difference{
		{What: "half_tank", Here: "no sign agreed", There: "Hands raised"},
		{What: "on_reserve", Here: "no sign agreed", There: "Fist"},
	}, here.Differences(there))
	d := here.Differences(ready(t, "forearm_psi"))
	require.Equal(t, signal.Difference{What: "unit", Here: "bar", There: "psi"}, d[0])
	require.Equal(t, "170 bar: one finger up, then two fingers sideways", d[1].Here)
	require.Equal(t, "170 bar: one finger on the forearm, then seven fingers", d[1].There)
}

func TestEveryMeaningAndGestureIsKnown(t *testing.T) {
	for _, m := range signal.Meanings() {
		require.True(t, m.Known(), m)
	}
	require.False(t, signal.Meaning("hungry").Known())
	for _, x := range signal.Customs() {
		require.NotEmpty(t, x.Source)
		for _, s := range x.Signs {
			require.True(t, s.Gesture.Known() && s.Meaning.Known())
		}
	}
}

func ExampleConvention_Examine() {
	c := signal.Ready()[1]
	c.Ten = signal.ThumbUp
	for _, f := range c.Examine().Only(finding.Caution) {
		fmt.Println(f.Message, f.Cures[0].Message)
	}
	// Output: 100 bar is shown as a thumb up, which every diver reads as "go up". Show ten as one and zero.
}

func ExampleConvention_Differences() {
	c := signal.Ready()
	for _, d := range c[1].Differences(c[5]) {
		fmt.Printf("%s: %s; elsewhere %s\n", d.What, d.Here, d.There)
	}
	// Output:
	// numbers: 170 bar: one finger up, then two fingers sideways; elsewhere 170 bar: one finger on the forearm, then seven fingers
	// how_much_gas: Palm up, fingers curl; elsewhere Two fingers on the palm
}

// A T asks for half a tank here and for decompression there (trade): whoever
// learned the other is told, gesture by gesture.
func TestAGestureThatSaysSomethingElseElsewhereIsADifference(t *testing.T) {
	here, there := ready(t, "tee_bar"), ready(t, "digits_bar_tee_decompression")
	require.Contains(t, here.Differences(there),
		signal.Difference{What: "tee", Here: "the number 100 bar", There: "decompression"})
	require.Contains(t, there.Differences(here),
		signal.Difference{What: "tee", Here: "decompression", There: "the number 100 bar"})
	for _, c := range signal.Ready() {
		require.Empty(t, c.Differences(c), c.Code)
	}
}
