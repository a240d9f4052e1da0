package signal

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// mostSteps is the largest number that a convention shows, in steps: five tens
// on the forearm and nine on the hands. 5900 psi and 590 bar are more than any
// cylinder of the trade is filled to (our choice).
const mostSteps = 59

// Most returns the highest reading that the convention shows.
func (c Convention) Most() units.Reading {
	return units.Read(mostSteps*c.Step().Value.Float(), c.Unit)
}

// Encode returns the gestures for a reading, rounded down to the convention's step. It refuses,
// with the reason, a reading that the hands cannot show and a convention that cannot be used. For a
// turn or low-gas pressure, encode Up of it.
func (c Convention) Encode(r units.Reading) (Sequence, finding.List) {
	if l := c.unusable(); len(l) > 0 {
		return nil, l
	}
	if r.Unit.Dimension() != units.Pressures {
		return nil,
			finding.List{outOfRange(c, r,
				RuleOutOfRange.Say("{reading} is no pressure, and a gauge report is one.", r))}
	}
	down := c.Down(r)
	if r.Value < 0 || down.Compare(c.Most()) > 0 {
		return nil, finding.List{outOfRange(c, r,
			RuleOutOfRange.Say("{reading} cannot be shown: the hands show 0 to {most}.", r, c.Most()))}
	}
	return c.show(int(down.Value / c.Step().Value)), nil
}

func outOfRange(c Convention, r units.Reading, f finding.Finding) finding.Finding {
	f.Limit, f.Found = finding.Quantity(c.Most()), finding.Quantity(r)
	f.Cures = []finding.Cure{{Code: "show_gauge", Message: "Read the gauge again, or show the gauge itself."}}
	return f
}

// show returns the gestures for n steps, 0 <= n <= mostSteps.
func (c Convention) show(n int) Sequence {
	switch c.Style {
	case Forearm:
		return c.showParts(n, 10, onForearmTens(n/10))
	case TeeAndRest:
		t := c.stepsOfTee()
		return c.showParts(n, t, slices.Repeat(Sequence{Tee}, n/t))
	case Fives:
		f := c.fullHands()
		return c.showParts(n, f, slices.Repeat(Sequence{c.count(f)}, n/f))
	}
	return c.showDigits(n)
}

func onForearmTens(n int) Sequence {
	if n == 0 {
		return nil
	}
	return Sequence{onForearm[n-1]}
}

// showParts returns the gesture for the whole parts of n, followed by the rest, if any.
func (c Convention) showParts(n, part int, whole Sequence) Sequence {
	if rest := n % part; rest > 0 || n == 0 {
		return append(whole, c.showDigits(rest)...)
	}
	return whole
}

func (c Convention) showDigits(n int) Sequence {
	switch {
	case n == 10 && c.Ten != "":
		return Sequence{c.Ten}
	case n >= 10:
		return Sequence{c.count(n / 10), c.count(n % 10)}
	}
	return Sequence{c.count(n)}
}

// counts has the gestures for 0 to 9 by the number of free hands, and for 10 on both.
var counts = map[Hands][]Gesture{
	OneHand: {Ring, Fingers(1), Fingers(2), Fingers(3), Fingers(4), Fingers(5), Sideways(1), Sideways(2),
		Sideways(3), Sideways(4)},
	TwoHands: {Ring, Fingers(1), Fingers(2), Fingers(3), Fingers(4), Fingers(5),
		BothHands(6), BothHands(7), BothHands(8), BothHands(9), BothHands(10)},
}

// count returns the gesture for 0 to 9, or for 10 on both hands.
func (c Convention) count(n int) Gesture { return counts[c.Hands][n] }

// stepsOfTee returns the number of steps that a T stands for: 100 bar or 1500 psi.
func (c Convention) stepsOfTee() int {
	half, _ := HalfTank.Figure(c.Unit)
	return int(half.Value / c.Step().Value)
}

// fullHands returns the number of fingers that are added up at a time.
func (c Convention) fullHands() int { return 5 * int(c.Hands) }

// Interpretation is one way to understand a sequence: a number, a message, or a message that stands for a
// number.
type Interpretation struct {
	Reading *units.Reading // nil for a message without a figure
	Meaning Meaning        // empty for a plain number
}

// String returns the reading and the meaning: "100 bar (half a tank)".
func (s Interpretation) String() string {
	switch {
	case s.Reading == nil:
		return s.Meaning.String()
	case s.Meaning == "":
		return s.Reading.String()
	}
	return fmt.Sprintf("%s (%s)", s.Reading, s.Meaning)
}

// Decode returns every way to understand a sequence under the convention. With more than one it
// also returns a caution that the sequence is ambiguous; with none, a forbidding finding with the
// reason.
func (c Convention) Decode(seq Sequence) ([]Interpretation, finding.List) {
	if l := c.unusable(); len(l) > 0 {
		return nil, l
	}
	var all []Interpretation
	n, why := c.read(seq)
	if why == nil {
		r := units.Read(float64(n)*c.Step().Value.Float(), c.Unit)
		all = append(all, Interpretation{Reading: &r})
	}
	if len(seq) == 1 {
		all = c.addMessages(all, seq[0])
	}
	switch len(all) {
	case 0:
		return nil, finding.List{impossible(seq, *why)}
	case 1:
		return all, nil
	}
	return all, finding.List{ambiguous(seq, all)}
}

// addMessages adds the messages of a single gesture. A message that stands for the number already
// read names that reading.
func (c Convention) addMessages(all []Interpretation, g Gesture) []Interpretation {
	for _, s := range slices.Concat(c.Signs, everywhere) {
		said := Interpretation{Meaning: s.Meaning}
		if r, ok := s.Meaning.Figure(c.Unit); ok {
			said.Reading = &r
		}
		same := func(o Interpretation) bool {
			return o.Meaning == said.Meaning ||
				o.Meaning == "" && said.Reading != nil && *o.Reading == *said.Reading
		}
		if s.Gesture != g {
			continue
		}
		if i := slices.IndexFunc(all, same); i >= 0 {
			all[i] = said
			continue
		}
		all = append(all, said)
	}
	return all
}

// impossible completes the finding that a sequence shows no number.
func impossible(seq Sequence, f finding.Finding) finding.Finding {
	f = f.With("sequence", seq.String())
	f.Found = finding.Words(seq.String())
	f.Cures = []finding.Cure{{Code: "ask_again",
		Message: "Ask for the number again, and look at the gauge together."}}
	return f
}

func ambiguous(seq Sequence, all []Interpretation) finding.Finding {
	ways := make([]string, len(all))
	for i, s := range all {
		ways[i] = s.String()
	}
	f := RuleAmbiguous.Say("The gestures ({sequence}) can be understood as {ways}.", seq, orList(ways))
	f.Limit, f.Found = finding.Count(1, "readings"), finding.Count(len(all), "readings")
	f.Cures = []finding.Cure{{Code: "look_together",
		Message: "Look at the gauge together before acting on the signal."}}
	return f
}
