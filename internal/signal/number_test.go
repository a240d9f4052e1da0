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

// everyConvention gives the ready conventions and every other usable way to
// show numbers: unit, hands, style and sign for ten.
func everyConvention() []signal.Convention {
	all := signal.Ready()
	for _, u := range []units.Unit{units.UnitBar, units.UnitPSI} {
		for _, h := range []signal.Hands{signal.OneHand, signal.TwoHands} {
			for _, s := range signal.Styles() {
				for _, ten := range []signal.Gesture{"", signal.Fist, signal.ThumbUp, signal.BothHands(10)} {
					c := signal.Convention{Unit: u, Hands: h, Style: s, Ten: ten}
					c.Code = fmt.Sprintf("%s-%d-%s-%s", s, h, u, ten)
					if !c.Examine().Forbids() {
						all = append(all, c)
					}
				}
			}
		}
	}
	return all
}

func ready(t testing.TB, code string) signal.Convention {
	t.Helper()
	for _, c := range signal.Ready() {
		if c.Code == code {
			return c
		}
	}
	t.Fatalf("no convention %q", code)
	return signal.Convention{}
}

// Common practice: 2600 psi is two on the forearm and six fingers with two
// hands, 2 then 6 with one; 170 bar is 1 then 7; half a tank by T is 100 bar or
// 1500 psi; 1800 psi in fives is 5, 5, 5 and 3. 6 to 9 with one hand are one to
// four fingers sideways (shapes from memory).
func TestNumbersOnTheHands(t *testing.T) {
	f, side, both := signal.Fingers, signal.Sideways, signal.BothHands
	for _, c := range []struct {
		name, convention, reading string
		want                      signal.Sequence
	}{
		{"2600 psi on the forearm", "forearm_psi", "2600 psi", signal.Sequence{signal.OnForearm(2), both(6)}},
		{"2600 psi with one hand", "digits_psi", "2600 psi", signal.Sequence{f(2), side(1)}},
		{"170 bar with one hand", "digits_bar", "170 bar", signal.Sequence{f(1), side(2)}},
		{"half a tank in bar", "tee_bar", "100 bar", signal.Sequence{signal.Tee}},
		{"half a tank in psi", "tee_psi", "1500 psi", signal.Sequence{signal.Tee}},
		{"170 bar by T", "tee_bar", "170 bar", signal.Sequence{signal.Tee, both(7)}},
		{"230 bar takes two T", "tee_bar", "230 bar", signal.Sequence{signal.Tee, signal.Tee, f(3)}},
		{"2700 psi by T", "tee_psi", "2700 psi", signal.Sequence{signal.Tee, f(1), f(2)}},
		{"1800 psi in fives", "fives_psi", "1800 psi", signal.Sequence{f(5), f(5), f(5), f(3)}},
		{"1750 psi is rounded down", "digits_psi", "1750 psi", signal.Sequence{f(1), side(2)}},
		{"187 bar is rounded down", "digits_bar", "187 bar", signal.Sequence{f(1), side(3)}},
		{"a psi gauge with a bar convention", "digits_bar", "1750 psi", signal.Sequence{f(1), f(2)}},
		{"1000 psi is one, then zero", "digits_psi", "1000 psi", signal.Sequence{f(1), signal.Ring}},
		{"2000 psi is the forearm alone", "forearm_psi", "2000 psi", signal.Sequence{signal.OnForearm(2)}},
		{"less than a step is zero", "digits_bar", "9.9 bar", signal.Sequence{signal.Ring}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := units.ParseReading(c.reading)
			require.NoError(t, err)
			got, findings := ready(t, c.convention).Encode(r)
			require.Empty(t, findings)
			require.Equal(t, c.want, got)
		})
	}
}

func TestTurnAndLowGasPressuresAreShownRoundedUp(t *testing.T) {
	c := ready(t, "digits_bar")
	require.Equal(t, "60 bar", c.Up(*bar(55)).String())
	require.Equal(t, "210 bar", c.Down(*bar(219)).String())
	require.Equal(t, "800 psi", c.In(units.UnitPSI).Up(*bar(50)).String())
}

// Every reading of 0-350 bar and 0-5000 psi, in every convention, is read back
// to the reading rounded down; a number is ambiguous only where it says so.
func TestEveryReadingIsReadBack(t *testing.T) {
	for _, c := range everyConvention() {
		top := map[units.Unit]int{units.UnitBar: 350, units.UnitPSI: 5000}[c.Unit]
		for x := range top + 1 {
			r := units.Read(float64(x), c.Unit)
			seq, refused := c.Encode(r)
			require.Empty(t, refused)
			said, findings := c.Decode(seq)
			require.Equal(t, c.Down(r), *said[0].Reading, "%s: %s as %s", c.Code, r, seq)
			require.Equal(t, len(said) > 1, len(findings.Of(signal.RuleAmbiguous)) == 1)
			require.False(t, findings.Forbids())
		}
	}
}

// Any gestures in any convention: they are refused with a reason, or every
// number read from them is shown by exactly these gestures.
func TestASequenceIsRefusedOrIsTheLookOfItsNumber(t *testing.T) {
	all := everyConvention()
	gesture := rapid.Custom(func(t *rapid.T) signal.Gesture {
		return rapid.SampledFrom(signal.Sights()).Draw(t, "sight").Gesture
	})
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(all).Draw(t, "convention")
		seq := signal.Sequence(rapid.SliceOfN(gesture, 0, 4).Draw(t, "sequence"))
		said, findings := c.Decode(seq)
		if len(said) == 0 {
			require.True(t, findings.Forbids())
			require.NotEmpty(t, findings[0].Message)
			require.NotEmpty(t, findings[0].Cures)
			return
		}
		for _, s := range said {
			if s.Meaning == "" {
				back, _ := c.Encode(*s.Reading)
				require.Equal(t, seq, back)
			}
		}
	})
}

// No two numbers look the same in any convention.
func TestNumbersLookDifferent(t *testing.T) {
	for _, c := range everyConvention() {
		seen := map[string]units.Reading{}
		for r := units.Read(0, c.Unit); r.Compare(c.Most()) <= 0; r.Value += c.Step().Value {
			seq, refused := c.Encode(r)
			require.Empty(t, refused)
			require.NotContains(t, seen, fmt.Sprintf("%q", seq), "%s: %s", c.Code, r)
			seen[fmt.Sprintf("%q", seq)] = r
		}
	}
}

func TestImpossibleSequencesAreRefusedWithTheReason(t *testing.T) {
	f := signal.Fingers
	for _, c := range []struct {
		name, convention string
		seq              signal.Sequence
		why              string
	}{
		{"nothing", "digits_psi", nil, "Nothing was shown."},
		{"an unknown gesture", "digits_psi", signal.Sequence{"wink"}, `"wink" is no known gesture.`},
		{"three digits", "digits_psi", signal.Sequence{f(1), f(2), f(3)},
			"3 signs were shown, and a number has at most two digits in steps of 100 psi."},
		{"a leading zero", "digits_bar", signal.Sequence{signal.Ring, f(2)},
			"A number does not begin with zero."},
		{"both hands where one is free", "digits_bar", signal.Sequence{signal.BothHands(6)},
			"Six fingers is no digit in this convention."},
		{"the forearm last", "forearm_psi", signal.Sequence{f(5), signal.OnForearm(2)},
			"After the forearm comes one sign of the hands, and before it none."},
		{"zero after the forearm", "forearm_psi", signal.Sequence{signal.OnForearm(2), signal.Ring},
			"Nothing is shown after the forearm where nothing is left."},
		{"the T last", "tee_bar", signal.Sequence{f(2), signal.Tee},
			"The T comes before the rest, never after it."},
		{"a rest of more than a T", "tee_bar", signal.Sequence{f(1), f(2)},
			"The rest is less than a T, which is 10 steps of 10 bar; 12 were shown."},
		{"less than five before the last", "fives_bar", signal.Sequence{f(3), f(5)},
			"Only the last sign may show fewer than 5 fingers."},
		{"more than a cylinder holds", "digits_psi", signal.Sequence{signal.Sideways(1), f(1)},
			"The gestures (one finger sideways, then one finger up) would be more than 5900 psi, which is more than a cylinder holds."},
	} {
		t.Run(c.name, func(t *testing.T) {
			said, findings := ready(t, c.convention).Decode(c.seq)
			require.Empty(t, said)
			require.True(t, findings.Forbids())
			require.Equal(t, c.why, findings[0].Message)
		})
	}
}

func TestReadingsThatTheHandsCannotShow(t *testing.T) {
	c := ready(t, "digits_bar")
	for name, r := range map[string]units.Reading{
		"below zero": units.Read(-1, units.UnitBar), "no cylinder": units.Read(600, units.UnitBar),
		"a depth": units.Read(18, units.UnitMetre),
	} {
		seq, l := c.Encode(r)
		require.Nil(t, seq, name)
		require.Len(t, l.Of(signal.RuleOutOfRange), 1, name)
	}
	_, l := signal.Convention{Unit: units.UnitBar, Hands: signal.OneHand,
		Style: signal.Forearm}.Encode(*bar(100))
	require.Len(t, l.Of(signal.RuleUnusable), 1)
}

func TestAmbiguousSequencesGiveEveryReading(t *testing.T) {
	c := ready(t, "digits_bar_german")
	said, l := c.Decode(signal.Sequence{signal.Fist})
	require.Empty(t, l)
	require.Equal(t, "[50 bar (on reserve)]", fmt.Sprint(said))
	c.Ten = signal.Fist
	said, l = c.Decode(signal.Sequence{signal.Fist})
	require.Equal(t, "[100 bar 50 bar (on reserve)]", fmt.Sprint(said))
	require.Equal(t, "The gestures (fist) can be understood as 100 bar or 50 bar (on reserve).",
		l.Of(signal.RuleAmbiguous)[0].Message)
	c.Ten = signal.ThumbUp
	said, l = c.Decode(signal.Sequence{signal.ThumbUp})
	require.Equal(t, "[100 bar go up]", fmt.Sprint(said))
	require.True(t, l.Has(finding.Caution))
	said, l = ready(t, "tee_bar").Decode(signal.Sequence{signal.Tee})
	require.Empty(t, l, "a number and a message of one figure agree")
	require.Equal(t, "[100 bar (half a tank)]", fmt.Sprint(said))
}

func FuzzDecode(f *testing.F) {
	f.Add(0, "fingers_1", "sideways_2", "")
	f.Add(6, "tee", "tee", "fingers_3")
	all := everyConvention()
	f.Fuzz(func(t *testing.T, i int, a, b, c string) {
		conv := all[uint(i)%uint(len(all))]
		said, l := conv.Decode(signal.Sequence{signal.Gesture(a), signal.Gesture(b), signal.Gesture(c)})
		require.Equal(t, len(said) == 0, l.Forbids())
		for _, s := range said {
			require.LessOrEqual(t, s.Reading.Compare(conv.Most()), 0)
		}
	})
}

// BenchmarkEveryReading is the work that the service promises in under a
// second: all readings of 0-350 bar and 0-5000 psi there and back.
func BenchmarkEveryReading(b *testing.B) {
	all := everyConvention()
	for b.Loop() {
		for _, c := range all {
			for x := range map[units.Unit]int{units.UnitBar: 350, units.UnitPSI: 5000}[c.Unit] + 1 {
				seq, _ := c.Encode(units.Read(float64(x), c.Unit))
				c.Decode(seq)
			}
		}
	}
	b.ReportMetric(float64(len(all)), "conventions")
}

func ExampleConvention_Encode() {
	for _, c := range signal.Ready() {
		if c.Unit == units.UnitPSI {
			seq, _ := c.Encode(units.Read(2650, units.UnitPSI))
			fmt.Printf("%s: %s\n", c.Code, seq)
		}
	}
	// Output:
	// digits_psi: two fingers up, then one finger sideways
	// digits_two_hands_psi: two fingers up, then six fingers
	// forearm_psi: two fingers on the forearm, then six fingers
	// tee_psi: T of two hands, then one finger up, then one finger up
	// fives_psi: five fingers up, then five fingers up, then five fingers up, then five fingers up, then five fingers up, then one finger up
}

func ExampleConvention_Decode() {
	c := signal.Ready()[1]
	said, _ := c.Decode(signal.Sequence{signal.Fingers(1), signal.Sideways(2)})
	fmt.Println(said)
	_, findings := c.Decode(signal.Sequence{signal.Ring, signal.Fingers(1)})
	fmt.Println(findings[0].Message)
	// Output:
	// [170 bar]
	// A number does not begin with zero.
}
