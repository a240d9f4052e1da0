package signal

import (
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
	Gauge      units.Reading // the gauge's pressure, which the diver is asked to report
	Shown      Sequence      // the same, rounded down, as a partner's gestures
}

// Ask returns a question in the convention. Its reading is one of a cylinder in use, up to 230 bar
// or 3400 psi.
func Ask(seed uint64, c Convention) (Question, finding.List) {
	q := Question{Convention: c, Seed: seed}
	if l := c.unusable(); len(l) > 0 {
		return q, l
	}
	d, tenth := &dice{seed}, c.Step().Value/10
	most := map[units.Unit]int{units.UnitBar: 230, units.UnitPSI: 340}[c.Unit]
	q.Gauge = units.Reading{Value: units.Decimal(1+d.below(most)) * tenth, Unit: c.Unit}
	q.Shown, _ = c.Encode(q.Gauge)
	return q, nil
}

// Answer is the judgement of an exercise.
type Answer struct {
	Verdict  Verdict  // Right, MisreadLow, OverReported, or NoAnswer where no number could be read
	Right    Sequence // the right gestures
	RightIs  units.Reading
	Findings finding.List
}

// JudgeReport judges gestures that report the question's gauge. Gestures that can be understood in
// several ways are judged by the highest number, since a partner may believe that one.
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
			a.Findings = append(a.Findings,
				impossible(seq, *noNumber(`The gestures say "{meaning}", which is no number.`, said[0].String())))
		}
		return a
	}
	v, more := JudgeCheck(Check{Reading: &q.Gauge, Signalled: most})
	a.Verdict, a.Findings = v, slices.Concat(a.Findings, more)
	return a
}

// JudgeReading judges the number that a diver reads from the question's gestures. Only the exact
// number is right: a partner repeats what was signalled.
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
	f := verdictRules[a.Verdict].Say("The gestures ({gestures}) show {right}, and {read} was read.",
		q.Shown, a.RightIs, r)
	f.Limit, f.Found = finding.Quantity(a.RightIs), finding.Quantity(r)
	f.Cures = []finding.Cure{{Code: "repeat",
		Message: "Repeat the number on your own hands until the partner agrees."}}
	a.Findings = finding.List{f}
	return a
}
