package signal

import (
	"slices"
	"strings"

	"tankside/internal/finding"
)

// read returns the number of steps that a sequence shows, or why it shows none. It accepts exactly
// the sequences of show, so that each number has one form.
func (c Convention) read(seq Sequence) (n int, why *finding.Finding) {
	if len(seq) == 0 {
		return 0, noNumber("Nothing was shown.")
	}
	for _, g := range seq {
		if !g.Known() {
			return 0, noNumber(`"{gesture}" is no known gesture.`, string(g))
		}
	}
	switch c.Style {
	case Forearm:
		n, why = c.readForearm(seq)
	case TeeAndRest:
		n, why = c.readTee(seq)
	case Fives:
		n, why = c.readFives(seq)
	default:
		n, why = c.readDigits(seq)
	}
	if why == nil && n > mostSteps {
		why = noNumber("The gestures ({sequence}) would be more than {limit}, which is more than a cylinder holds.",
			seq, c.Most())
	}
	return n, why
}

// noNumber returns the finding that a sequence shows no number, with the reason.
func noNumber(template string, parts ...any) *finding.Finding {
	return new(RuleImpossible.Say(template, parts...))
}

func (c Convention) readDigits(seq Sequence) (int, *finding.Finding) {
	if len(seq) == 1 && c.Ten != "" && seq[0] == c.Ten {
		return 10, nil
	}
	if len(seq) > 2 {
		return 0, noNumber("{signs} signs were shown, and a number has at most two digits in steps of {step}.",
			len(seq), c.Step())
	}
	n := 0
	for i, g := range seq {
		d, ok := c.digit(g)
		switch {
		case !ok:
			return 0, noNumber("{gesture} is no digit in this convention.", g)
		case d == 0 && i == 0 && len(seq) > 1:
			return 0, noNumber("A number does not begin with zero.")
		}
		n = 10*n + d
	}
	if n == 10 && c.Ten != "" {
		return 0, noNumber("Ten is shown as one sign in this convention: {gesture}.", c.Ten)
	}
	return n, nil
}

// digit returns the digit that a gesture stands for, 0 to 9, and whether it stands for one.
func (c Convention) digit(g Gesture) (int, bool) {
	d := slices.Index(counts[c.Hands], g)
	return d, 0 <= d && d <= 9
}

func (c Convention) readForearm(seq Sequence) (int, *finding.Finding) {
	tens := c.forearm(seq[0])
	switch {
	case tens > 0 && len(seq) == 1:
		return 10 * tens, nil
	case tens > 0:
		seq = seq[1:]
	}
	if len(seq) > 1 {
		return 0, noNumber("After the forearm comes one sign of the hands, and before it none.")
	}
	d, ok := c.digit(seq[0])
	switch {
	case !ok:
		return 0, noNumber("{gesture} is no number of the hands in this convention.", seq[0])
	case d == 0 && tens > 0:
		return 0, noNumber("Nothing is shown after the forearm where nothing is left.")
	}
	return 10*tens + d, nil
}

// forearm returns the number of fingers on the forearm, 0 for any other gesture.
func (Convention) forearm(g Gesture) int { return slices.Index(onForearm, g) + 1 }

var onForearm = []Gesture{OnForearm(1), OnForearm(2), OnForearm(3), OnForearm(4), OnForearm(5)}

func (c Convention) readTee(seq Sequence) (int, *finding.Finding) {
	tees, tee := 0, c.stepsOfTee()
	for tees < len(seq) && seq[tees] == Tee {
		tees++
	}
	rest := seq[tees:]
	switch {
	case len(rest) == 0:
		return tees * tee, nil
	case slices.Contains(rest, Tee):
		return 0, noNumber("The T comes before the rest, never after it.")
	}
	n, why := c.readDigits(rest)
	switch {
	case why != nil:
		return 0, why
	case n >= tee:
		return 0, noNumber("The rest is less than a T, which is {tee} steps of {step}; {found} were shown.",
			tee, c.Step(), n)
	case n == 0 && tees > 0:
		return 0, noNumber("Nothing is shown after the T where nothing is left.")
	}
	return tees*tee + n, nil
}

func (c Convention) readFives(seq Sequence) (int, *finding.Finding) {
	full, sum := c.fullHands(), 0
	for i, g := range seq {
		n, ok := c.digit(g)
		if g == c.count(full) {
			n, ok = full, true
		}
		switch {
		case !ok || n > full:
			return 0, noNumber("{gesture} is not added up in this convention.", g)
		case n == 0 && len(seq) > 1:
			return 0, noNumber("Zero is shown alone.")
		case n < full && i < len(seq)-1:
			return 0, noNumber("Only the last sign may show fewer than {fingers} fingers.", full)
		}
		sum += n
	}
	return sum, nil
}

// orList returns the words as "a, b or c".
func orList(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
