package gas

import (
	"tankside/internal/finding"
	"tankside/internal/units"
)

// ToldPressures is the pressures that a diver was told in a briefing instead of those of a plan. The zero
// Reading is one that was not told.
type ToldPressures struct{ Start, Turn, Low units.Reading }

// Cures of told pressures.
var (
	tellHigher = finding.Cure{Code: "tell_higher", Message: "Brief again with a higher low-gas pressure."}
	tellOrder  = finding.Cure{Code: "tell_in_order",
		Message: "Brief again: the start is above the turn pressure, and the turn pressure at or above the " +
			"low-gas pressure."}
	goUpHigher = finding.Cure{Code: "reduce_depth",
		Message: "Or brief a shallower dive, or name the cylinder where it is a larger one."}
)

// JudgeTold judges the pressures that diver i of the plan was told: by the floor of that water, by
// their order, and by the gas that two people need from the deepest point to the surface. That gas
// is counted without a reserve, which only a plan adds.
func (p *Plan) JudgeTold(i int, t ToldPressures, floor units.Reading) finding.List {
	v := &p.Divers[i]
	out := v.inOrder(i, t)
	if t.Low.IsZero() {
		return out
	}
	if t.Low.Compare(floor) < 0 {
		out = append(out, v.by(objection(ToldBelowFloor.Say(
			"{person} was told to signal low on gas at {found}. In this water nobody stays below {limit}.",
			v.named(i), t.Low, floor), floor, t.Low, tellHigher), i))
	}
	need := v.Cylinder.Pressure(p.People[i].AscentGas, physics(&p.Dive, &p.Settings))
	if t.Low.Pressure() >= need-tolerance {
		return out
	}
	limit, from := CallPressure(need, t.Low.Unit), depthIn(p.Dive.Depth, v.gauge())
	return append(out, v.by(objection(ToldBelowAscent.Say("{person} was told to signal low on gas at {found}. "+
		"Two people need {limit} in this cylinder to come up from {depth}.", v.named(i), t.Low, limit, from),
		limit, t.Low, tellHigher, goUpHigher), i))
}

// inOrder returns findings where told pressures are in the wrong order: the start is above the turn
// pressure, and the turn pressure at or above the low-gas pressure.
func (d *Diver) inOrder(i int, t ToldPressures) (out finding.List) {
	for _, x := range []struct {
		higher, lower, must string
		above, below        units.Reading
		same                bool // whether both may be the same
	}{
		{"start pressure", "turn pressure", "above", t.Start, t.Turn, false},
		{"start pressure", "low-gas pressure", "above", t.Start, t.Low, false},
		{"turn pressure", "low-gas pressure", "at or above", t.Turn, t.Low, true},
	} {
		if x.above.IsZero() || x.below.IsZero() {
			continue
		}
		if c := x.above.Compare(x.below); c > 0 || c == 0 && x.same {
			continue
		}
		out = append(out, d.by(objection(ToldOutOfOrder.Say(
			"{person} was told a {higher} of {found} and a {lower} of {limit}. The first must be {must} the second.",
			d.named(i), x.higher, x.above, x.lower, x.below, x.must), x.below, x.above, tellOrder), i))
	}
	return out
}
