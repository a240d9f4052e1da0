package signal

import (
	"fmt"
	"slices"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Examine returns what is wrong with a convention: what makes it unusable, what it leaves open, and
// where one gesture may be taken for another. A gesture with two meanings forbids the convention
// where one of them is low on gas, out of gas or share, and is a caution otherwise.
func (c Convention) Examine() finding.List {
	if l := c.unusable(); len(l) > 0 {
		return l
	}
	return slices.Concat(c.notAgreed(), c.twoMeanings(), c.tenAsGoUp(), c.againstCustom(), c.lookAlikes())
}

// unusable returns findings where the convention cannot show numbers, or has unknown signs.
func (c Convention) unusable() finding.List {
	var l finding.List
	if StepOf(c.Unit).IsZero() {
		l = append(l, unusable(string(c.Unit), "Take bar or psi.", `The unit is "{unit}".`, c.Unit))
	}
	if c.Hands != OneHand && c.Hands != TwoHands {
		l = append(l,
			unusable(fmt.Sprint(int(c.Hands)), "Take one hand or two.", "Numbers are shown with {hands} hands.",
				int(c.Hands)))
	}
	if !slices.Contains(styles, c.Style) {
		l = append(l, unusable(string(c.Style), "Take digits, forearm, tee or fives.",
			`The style of numbers is "{style}".`, string(c.Style)))
	}
	if c.Hands == OneHand && (c.Style == Forearm || c.Style == TeeAndRest) {
		l = append(l,
			unusable("one hand", "Free both hands, or show digits or fives.",
				`The style "{style}" takes two hands, and one is free.`, string(c.Style)))
	}
	return slices.Concat(l, c.unknownSigns(), c.unusableTen())
}

func (c Convention) unknownSigns() finding.List {
	var l finding.List
	for _, s := range c.Signs {
		if !s.Gesture.Known() {
			l = append(l,
				unusable(string(s.Gesture), "Take one of the gestures listed.", `"{gesture}" is no known gesture.`,
					string(s.Gesture)))
		}
		if !s.Meaning.Known() {
			l = append(l,
				unusable(string(s.Meaning), "Take one of the messages listed.", `"{meaning}" is no known message.`,
					string(s.Meaning)))
		}
	}
	return l
}

func unusable(found, cure, template string, parts ...any) finding.Finding {
	f := RuleUnusable.Say(template, parts...)
	f.Found = finding.Words(found)
	f.Cures = []finding.Cure{{Code: "change_convention", Message: cure}}
	return f
}

func (c Convention) unusableTen() finding.List {
	if c.Ten == "" {
		return nil
	}
	const cure = "Show ten as one and zero, or as a sign of its own."
	ten := c.Ten.String()
	switch _, digit := c.digit(c.Ten); {
	case !c.Ten.Known():
		return finding.List{unusable(ten, cure, `"{gesture}", the sign for ten, is no known gesture.`, ten)}
	case digit || c.Ten == Tee && c.Style == TeeAndRest:
		return finding.List{unusable(ten, cure, "{gesture} is the sign for ten and for another number.", ten)}
	case c.Style == Forearm || c.Style == Fives:
		return finding.List{unusable(ten, cure, `The style "{style}" has no use for a sign for ten.`, string(c.Style))}
	}
	return nil
}

// mustAgree has the messages that a group must agree before a dive (common practice).
var mustAgree = []Meaning{HowMuchGas, LowOnGas, OutOfGas, ShareGas}

func (c Convention) notAgreed() finding.List {
	var l finding.List
	for _, m := range mustAgree {
		if len(c.Sign(m)) > 0 {
			continue
		}
		f := RuleNotAgreed.Say(`The convention has no sign for "{meaning}".`, m)
		f.Found = finding.Words("no sign")
		f.Cures = []finding.Cure{{Code: "add_sign", Message: fmt.Sprintf("Agree a sign for %q.", m)}}
		l = append(l, f)
	}
	return l
}

// use is one meaning of a gesture under a convention.
type use struct {
	words  string
	urgent bool
	figure *units.Reading // the reading that the gesture alone stands for
}

// uses returns every meaning of the gesture under the convention. A message that stands for the
// same reading as a number is not another use.
func (c Convention) uses(g Gesture) []use {
	l := c.numberUses(g)
	for _, s := range slices.Concat(c.Signs, everywhere) {
		if s.Gesture == g {
			l = addUse(l, c.messageUse(s.Meaning))
		}
	}
	return l
}

func (c Convention) messageUse(m Meaning) use {
	u := use{words: m.String(), urgent: m.urgent()}
	if r, ok := m.Figure(c.Unit); ok {
		u.figure = &r
	}
	return u
}

func addUse(l []use, u use) []use {
	if slices.ContainsFunc(l, u.same) {
		return l
	}
	return append(l, u)
}

func (u use) same(o use) bool {
	return u.words == o.words || u.figure != nil && o.figure != nil && *u.figure == *o.figure
}

func (c Convention) numberUses(g Gesture) []use {
	for n := range mostSteps + 1 {
		if seq := c.show(n); slices.Contains(seq, g) {
			r := units.Read(float64(n)*c.Step().Value.Float(), c.Unit)
			if len(seq) > 1 {
				return []use{{words: "part of a number, as in " + r.String()}}
			}
			return []use{{words: "the number " + r.String(), figure: &r}}
		}
	}
	return nil
}

func (c Convention) twoMeanings() finding.List {
	var l finding.List
	for _, g := range c.gestures() {
		uses := c.uses(g)
		if len(uses) < 2 || g == ThumbUp && g == c.Ten {
			continue
		}
		words := make([]string, len(uses))
		urgent := false
		for i, u := range uses {
			words[i] = u.words
			urgent = urgent || u.urgent
		}
		f := RuleTwoMeanings.Say("{gesture} has {count} meanings: {meanings}.", g, len(uses),
			strings.Join(words, "; "))
		if urgent {
			f.Severity = finding.Forbidden
		}
		f.Limit, f.Found = finding.Count(1, "meanings"), finding.Count(len(uses), "meanings")
		f.Cures = []finding.Cure{{Code: "change_sign",
			Message: "Agree another gesture for all but one of them."}}
		l = append(l, f)
	}
	return l
}

// gestures returns the gestures that have a message under the convention or show ten. No two
// numbers share a gesture.
func (c Convention) gestures() []Gesture {
	var l []Gesture
	for _, g := range append([]Gesture{c.Ten}, signGestures(slices.Concat(c.Signs, everywhere))...) {
		if g != "" && !slices.Contains(l, g) {
			l = append(l, g)
		}
	}
	return l
}

func signGestures(signs []Sign) []Gesture {
	l := make([]Gesture, len(signs))
	for i, s := range signs {
		l[i] = s.Gesture
	}
	return l
}

func (c Convention) tenAsGoUp() finding.List {
	if c.Ten != ThumbUp {
		return nil
	}
	r := units.Read(10*c.Step().Value.Float(), c.Unit)
	f := RuleTenReadsAsGoUp.Say(`{reading} is shown as a thumb up, which every diver reads as "go up".`, r)
	f.Found = finding.Words(ThumbUp.String())
	f.Cures = []finding.Cure{{Code: "change_ten", Message: "Show ten as one and zero."}}
	return finding.List{f}
}

func (c Convention) againstCustom() finding.List {
	i := slices.IndexFunc(customs, func(x Custom) bool { return x.Region == c.Region })
	if i < 0 {
		return nil
	}
	var l finding.List
	for _, s := range customs[i].Signs {
		here, there := c.uses(s.Gesture), c.messageUse(s.Meaning)
		if len(here) == 0 || slices.ContainsFunc(here, there.same) {
			continue
		}
		f := RuleCustom.Say("{gesture} means {here} here, and by {custom} it means {meaning}.",
			s.Gesture, here[0].words, lowerFirst(customs[i].Name), s.Meaning)
		f.Limit, f.Found = finding.Words(s.Meaning.String()), finding.Words(here[0].words)
		f.Cures = []finding.Cure{{Code: "change_sign",
			Message: "Agree another gesture, or say the difference in the briefing."}}
		l = append(l, f)
	}
	return l
}

func lowerFirst(s string) string {
	if strings.HasPrefix(s, "Common") {
		return "c" + s[1:]
	}
	if rest, ok := strings.CutPrefix(s, "Where"); ok {
		return "the custom where" + rest
	}
	return s
}

// lookAlike has pairs of gestures that can be told apart only from near by.
var lookAlike = [][2]Gesture{{Ring, OKRing}, {Fist, FistOnChest}, {Fingers(5), FlatHand}, {Fist, Ring}}

func (c Convention) lookAlikes() finding.List {
	var l finding.List
	for _, p := range lookAlike {
		a, b := c.uses(p[0]), c.uses(p[1])
		if len(a) == 0 || len(b) == 0 || a[0].same(b[0]) {
			continue
		}
		f := RuleLooksAlike.Say("{gesture} ({meaning}) and {other} ({other_meaning}) look alike from a distance.",
			p[0], a[0].words, p[1], b[0].words)
		f.Cures = []finding.Cure{{Code: "practise",
			Message: "Show both in the briefing, one after the other."}}
		l = append(l, f)
	}
	return l
}
