package signal

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Question is one exercise: a gauge to report by gestures, or gestures to read.
// Both come from a seed, so that an answer can be judged without keeping the
// question.
type Question struct {
	Convention Convention
	Seed       uint64
	Gauge      units.Reading // what the gauge shows; the diver is asked to report it
	Shown      Sequence      // the same, rounded down, on a partner's hands
}

// Ask gives a question in the convention: a reading that a cylinder in use may
// show, up to 230 bar or 3400 psi.
func Ask(seed uint64, c Convention) (Question, finding.List) {
	q := Question{Convention: c, Seed: seed}
	if l := c.unusable(); len(l) > 0 {
		return q, l
	}
	d, tenth, most := &dice{seed}, c.Step().Value/10, map[units.Unit]int{units.UnitBar: 230, units.UnitPSI: 340}[c.Unit]
	q.Gauge = units.Reading{Value: units.Decimal(1+d.below(most)) * tenth, Unit: c.Unit}
	q.Shown, _ = c.Encode(q.Gauge)
	return q, nil
}

// Answer is how an exercise was done.
type Answer struct {
	Verdict  Verdict  // Right, MisreadLow, OverReported, or NoAnswer where no number could be read
	Right    Sequence // how it is shown
	RightIs  units.Reading
	Findings finding.List
}

// JudgeReport judges a report of the question's gauge by gestures. Gestures that
// can be understood in several ways are judged by the highest number, since that
// is what a partner may believe.
func (q Question) JudgeReport(seq Sequence) Answer {
	a := Answer{Verdict: NoAnswer, Right: q.Shown, RightIs: q.Convention.Down(q.Gauge)}
	said, l := q.Convention.Decode(seq)
	a.Findings = l
	var most *units.Reading
	for _, s := range said {
		if s.Reading != nil && (most == nil || s.Reading.Compare(*most) > 0) {
			most = s.Reading
		}
	}
	if most == nil {
		if len(said) > 0 {
			a.Findings = append(a.Findings, impossible(seq, fmt.Sprintf("The gestures say %q, which is no number.", said[0])))
		}
		return a
	}
	v, more := JudgeCheck(Check{Reading: &q.Gauge, Signalled: most})
	a.Verdict, a.Findings = v, slices.Concat(a.Findings, more)
	return a
}

// JudgeReading judges what a diver says the gestures of the question show. Here
// only the number itself is right: a partner repeats what was signalled.
func (q Question) JudgeReading(r units.Reading) Answer {
	a := Answer{Verdict: Right, Right: q.Shown, RightIs: q.Convention.Down(q.Gauge)}
	switch n := r.Compare(a.RightIs); {
	case n == 0:
		return a
	case n < 0:
		a.Verdict = MisreadLow
	default:
		a.Verdict = OverReported
	}
	f := verdictRules[a.Verdict].Say("The gestures ({gestures}) show {right}, and {read} was read.", q.Shown, a.RightIs, r)
	f.Limit, f.Found = finding.Quantity(a.RightIs), finding.Quantity(r)
	f.Cures = []finding.Cure{{Code: "repeat", Message: "Repeat the number on your own hands until the partner agrees."}}
	a.Findings = finding.List{f}
	return a
}
