package signal

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Caution is printed with every drill script.
const Caution = "Every reading on these cards is imagined and every surprise is simulated: nobody's gas is " +
	"shut off. The instructor in charge decides whether, where and how each is tried, by local law and " +
	"the training organisation's standards."

// Misreading is one situation that a drill has for each trainee.
type Misreading string

// The cases of a drill script: readings that are easily misreported, and
// surprises after the report.
const (
	RoundDown       Misreading = "round_down"         // just below the next step: 1790 psi
	WithZero        Misreading = "with_zero"          // a zero in the second place: 2000 psi
	SixToNine       Misreading = "six_to_nine"        // a second digit of 6 to 9: 170 bar
	OneDigit        Misreading = "one_digit"          // less than ten steps: 80 bar
	HalfTankReading Misreading = "half_tank"          // 100 bar, 1500 psi
	AtTurn          Misreading = "at_turn"            // the turn pressure is reached
	AtLow           Misreading = "at_low"             // the low-gas pressure is reached
	PartnerLow      Misreading = "partner_low_on_gas" // the partner signals low on gas
	PartnerOut      Misreading = "partner_out_of_gas" // the partner signals out of gas: donor
	OwnOut          Misreading = "out_of_gas"         // the student is told to be out of gas: receiver
	PartnerSilent   Misreading = "partner_no_answer"  // the partner does not answer
)

var cases = []Misreading{RoundDown, WithZero, SixToNine, OneDigit, HalfTankReading, AtTurn, AtLow, PartnerLow,
	PartnerOut, OwnOut, PartnerSilent}

// Misreadings returns every case of a drill script.
func Misreadings() []Misreading { return slices.Clone(cases) }

var caseText = map[Misreading]string{
	RoundDown: "just below the next step", WithZero: "a zero in the second place",
	SixToNine: "a second digit of six to nine",
	OneDigit:  "less than ten steps", HalfTankReading: "half a tank", AtTurn: "turn pressure reached",
	AtLow:      "low-gas pressure reached",
	PartnerLow: "partner low on gas", PartnerOut: "partner out of gas", OwnOut: "out of gas",
	PartnerSilent: "partner does not answer",
}

// Title returns the case in a few words, for a heading.
func (c Misreading) Title() string {
	if s := caseText[c]; s != "" {
		return s
	}
	return string(c)
}

// NotPlanned returns the note that a case is left out for a trainee, with the reason.
func NotPlanned(c Misreading, name string, who finding.Subject) finding.Finding {
	f := RuleNotPlanned.Say(`The case "{title}" is left out for {person}: no such pressure has been planned.`,
		c.Title(), finding.Named{Type: who.Type, ID: who.ID, Name: name}).About(who).With("case", string(c))
	f.Cures = []finding.Cure{{Code: "plan_gas",
		Message: "Plan the gas and confirm the plan, or give the pressure in the request."}}
	return f
}

// Trainee is a student for whom a script is written.
type Trainee struct {
	ID     string
	Gauge  units.Unit    // bar or psi
	Turn   units.Reading // zero: not planned, and the case AtTurn is left out
	Low    units.Reading // zero: not planned, and the case AtLow is left out
	Missed []Misreading  // the cases that they got wrong before, which are repeated
}

// LeftOut returns the cases that a script has to leave out for the trainee, since their pressure
// has not been planned.
func (t Trainee) LeftOut() []Misreading {
	var l []Misreading
	if t.Turn.IsZero() {
		l = append(l, AtTurn)
	}
	if t.Low.IsZero() {
		l = append(l, AtLow)
	}
	return l
}

// given reports whether the trainee can be given the case.
func (t Trainee) given(c Misreading) bool { return !slices.Contains(t.LeftOut(), c) }

// Card is one call of a drill script: the instructor shows the reading to the trainee, who reports
// it, and then brings the surprise, if any.
type Card struct {
	Round   int // from 1
	Trainee string
	Case    Misreading
	Reading units.Reading // in the unit of the trainee's gauge
	Show    Sequence      // the right report
	Expect  []string      // the trainee's expected actions, in order
}

// Script returns the drill for a group, in the order in which its members are called. Every trainee
// meets every case. A case left out for a trainee is replaced by another, and a case that a trainee
// missed before is repeated at the end. No two cards in a row are of one case or show one number,
// nor does a trainee get one case twice running. The same seed returns the same script. A trainee
// whose gauge is neither bar nor psi is refused.
func Script(seed uint64, c Convention, group []Trainee) ([]Card, finding.List) {
	for _, t := range group {
		if l := c.In(t.Gauge).unusable(); len(l) > 0 {
			return nil, l
		}
	}
	d := &dice{seed}
	cards := rounds(d, group)
	fillGaps(d, group, cards)
	cards = repeats(d, group, cards)
	deal(d, c, group, cards)
	return cards, nil
}

// rounds returns cards on which every trainee gets every case once. The cases are shuffled. The
// trainees start at different places of them, spaced so that neither the next trainee of a round
// nor the first of the next round is at the same place.
func rounds(d *dice, group []Trainee) []Card {
	order, apart := d.shuffle(slices.DeleteFunc(slices.Clone(cases), func(c Misreading) bool {
		return len(group) > 0 && !slices.ContainsFunc(group, func(t Trainee) bool { return t.given(c) })
	})), 1
	n := len(order)
	if (len(group)-1)%n == 1 {
		apart = 2
	}
	var cards []Card
	for r := range n {
		for i, t := range group {
			cards = append(cards, Card{Round: r + 1, Trainee: t.ID, Case: order[(r+i*apart)%n]})
		}
	}
	return cards
}

// fillGaps replaces each case that is left out for its trainee. At most four cases are next to it,
// so that there is always another.
func fillGaps(d *dice, group []Trainee, cards []Card) {
	for i := range cards {
		t := group[i%len(group)]
		if t.given(cards[i].Case) {
			continue
		}
		var beside []Misreading
		for _, k := range []int{i - 1, i + 1, i - len(group), i + len(group)} {
			if 0 <= k && k < len(cards) {
				beside = append(beside, cards[k].Case)
			}
		}
		cards[i].Case = anotherCase(d, t, beside)
	}
}

// anotherCase returns a random case for the trainee, other than those to avoid.
func anotherCase(d *dice, t Trainee, avoid []Misreading) Misreading {
	order := d.shuffle(cases)
	return order[slices.IndexFunc(order,
		func(c Misreading) bool { return t.given(c) && !slices.Contains(avoid, c) })]
}

// repeats appends the cases that trainees missed. Where one would follow itself, another case comes
// between.
func repeats(d *dice, group []Trainee, cards []Card) []Card {
	left := make([][]Misreading, len(group))
	for i, t := range group {
		left[i] = d.shuffle(missed(t))
	}
	for r := len(cases) + 1; slices.ContainsFunc(left, func(l []Misreading) bool { return len(l) > 0 }); r++ {
		for i, t := range group {
			if len(left[i]) == 0 {
				continue
			}
			avoid := []Misreading{cards[len(cards)-1].Case, lastOf(cards, t.ID).Case}
			fits := func(c Misreading) bool { return !slices.Contains(avoid, c) }
			card := Card{Round: r, Trainee: t.ID}
			if k := slices.IndexFunc(left[i], fits); k >= 0 {
				card.Case = left[i][k]
				left[i] = slices.Delete(left[i], k, k+1)
			} else {
				card.Case = anotherCase(d, t, avoid)
			}
			cards = append(cards, card)
		}
	}
	return cards
}

// missed returns the known cases that the trainee missed and can be given, each once.
func missed(t Trainee) []Misreading {
	var l []Misreading
	for _, c := range cases {
		if slices.Contains(t.Missed, c) && t.given(c) {
			l = append(l, c)
		}
	}
	return l
}

func lastOf(cards []Card, trainee string) Card {
	for _, c := range slices.Backward(cards) {
		if c.Trainee == trainee {
			return c
		}
	}
	return Card{}
}

// deal sets the reading of every card, with the report and the further actions expected.
func deal(d *dice, c Convention, group []Trainee, cards []Card) {
	who := map[string]Trainee{}
	for _, t := range group {
		t.Turn, t.Low = inGauge(t.Turn, t.Gauge), inGauge(t.Low, t.Gauge)
		who[t.ID] = t
	}
	for i := range cards {
		t := who[cards[i].Trainee]
		conv := c.In(t.Gauge)
		cards[i].Reading = drawApart(d, conv, cards, i, who)
		cards[i].Show, _ = conv.Encode(cards[i].Reading)
		cards[i].Expect = expect(t, cards[i])
	}
}

// drawApart returns a reading whose number is neither that of the card before nor one that the next
// card needs, and, where possible, not the trainee's own last.
func drawApart(d *dice, c Convention, cards []Card, i int, who map[string]Trainee) units.Reading {
	t := who[cards[i].Trainee]
	var near []units.Decimal
	if i > 0 {
		near = append(near, stepsIn(cards[i-1].Reading))
	}
	if i+1 < len(cards) {
		near = append(near, needed(cards[i+1].Case, who[cards[i+1].Trainee].Gauge)...)
	}
	own := near
	if last := lastOf(cards[:i], t.ID); last.Trainee != "" {
		own = append(slices.Clone(near), stepsIn(last.Reading))
	}
	for _, avoid := range [][]units.Decimal{own, near} {
		for range 64 {
			r := t.draw(d, c, cards[i].Case)
			if !slices.Contains(avoid, stepsIn(r)) {
				return r
			}
		}
	}
	return t.draw(d, c, cards[i].Case)
}

// needed returns the numbers that the card before must leave free for a case. Half a tank has only
// one; a zero needs 20 steps, since the card before may show 10.
func needed(k Misreading, u units.Unit) []units.Decimal {
	switch k {
	case HalfTankReading:
		half, _ := HalfTank.Figure(u)
		return []units.Decimal{stepsIn(half)}
	case WithZero:
		return []units.Decimal{20}
	}
	return nil
}

// stepsIn returns the number that a reading shows, in whole steps.
func stepsIn(r units.Reading) units.Decimal { return r.Value / StepOf(r.Unit).Value }

// inGauge returns a turn or low-gas pressure in the unit of the gauge, rounded up where it was in
// the other unit. The zero Reading stays zero.
func inGauge(r units.Reading, u units.Unit) units.Reading {
	if r.IsZero() || r.Unit == u {
		return r
	}
	return r.Pressure().RoundUp(u, StepOf(u).Value.Float()/10)
}

// MisreadingOf returns the case of a reading: what is easily misreported about it. It is "" where nothing
// is, and for a reading in neither bar nor psi.
func MisreadingOf(r units.Reading) Misreading {
	if StepOf(r.Unit).IsZero() || r.Value < 0 {
		return ""
	}
	half, _ := HalfTank.Figure(r.Unit)
	switch n := stepsIn(r); {
	case n == stepsIn(half):
		return HalfTankReading
	case n < 10:
		return OneDigit
	case n%10 == 0:
		return WithZero
	case n%10 >= 6:
		return SixToNine
	case r.Value%StepOf(r.Unit).Value > StepOf(r.Unit).Value/2:
		return RoundDown
	}
	return ""
}

// draw returns a random reading for the case, in whole bar or tens of psi.
func (t Trainee) draw(d *dice, c Convention, k Misreading) units.Reading {
	step := c.Step().Value
	at := func(steps, tenths int) units.Reading {
		return units.Reading{Value: units.Decimal(steps)*step + units.Decimal(tenths)*step/10, Unit: t.Gauge}
	}
	below := func(r units.Reading) units.Reading {
		r.Value = max(0, r.Value-units.Decimal(d.below(25))*step/10)
		return r
	}
	switch k {
	case RoundDown:
		return at(11+d.below(8), 6+d.below(4))
	case WithZero:
		return at(10+10*d.below(2), d.below(10))
	case SixToNine:
		return at(16+d.below(4), d.below(10))
	case OneDigit:
		return at(6+d.below(4), d.below(10))
	case HalfTankReading:
		return at(c.stepsOfTee(), d.below(10))
	case AtTurn:
		return below(t.Turn)
	case AtLow:
		return below(t.Low)
	}
	return at(11+d.below(8), d.below(10))
}

var surprises = map[Misreading]string{
	PartnerLow: "The partner signals low on gas: repeat it, close up, begin the ascent together.",
	PartnerOut: "The partner signals out of gas: give gas, let them breathe, hold on to each other, " +
		"ascend together.",
	OwnOut: "Told to be out of gas: signal out of gas and share, secure the partner's alternate and " +
		"breathe from it.",
	PartnerSilent: "The partner does not answer: go to them, look at their gauge together.",
}

// expect returns the actions that the reading and the surprise ask for. A reading at or below the
// turn or low-gas pressure has reached it.
func expect(t Trainee, c Card) []string {
	l := []string{fmt.Sprintf("Report %s; the partner repeats it.",
		units.Reading{Value: stepsIn(c.Reading) * StepOf(t.Gauge).Value, Unit: t.Gauge})}
	switch {
	case !t.Low.IsZero() && c.Reading.Compare(t.Low) <= 0:
		l = append(l, fmt.Sprintf(
			"Low-gas pressure (%s) reached: signal low on gas, the buddy closes up, the ascent begins.",
			t.Low))
	case !t.Turn.IsZero() && c.Reading.Compare(t.Turn) <= 0:
		l = append(l, fmt.Sprintf("Turn pressure (%s) reached: turn the dive.", t.Turn))
	}
	if s := surprises[c.Case]; s != "" {
		l = append(l, s)
	}
	return l
}
