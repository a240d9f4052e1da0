package gas

import (
	"tankside/internal/units"
)

// TurnRule says how much of the usable gas may be breathed before turning back.
type TurnRule uint8

const (
	// AllUsable uses all of it where one may come up anywhere: the turn
	// pressure is the low-gas pressure.
	AllUsable TurnRule = iota
	// Halves uses half on the way out, where it is wished to come back to the
	// point of departure.
	Halves
	// Thirds uses a third, where it is necessary: the way back is covered for
	// two.
	Thirds
)

// String names the rule in words.
func (r TurnRule) String() string {
	return [...]string{"all usable", "halves", "thirds"}[min(r, Thirds)]
}

// share gives the part of the usable gas for the way out.
func (r TurnRule) share() units.Volume { return 1 / units.Volume(1+min(r, Thirds)) }

// outAndBack tells whether the rule keeps gas for the way back.
func (r TurnRule) outAndBack() bool { return r != AllUsable }

// Usable gives the gas between the start and the low-gas pressure, which is to
// be given unrounded; none where the start is no higher.
func Usable(c Cylinder, start, low units.Pressure, ph Physics) units.Volume {
	return max(0, c.Contents(start, ph)-c.Contents(low, ph))
}

// TurnPressure gives the turn pressure, unrounded, of somebody who may breathe
// the volume out before turning, and never less than the low-gas pressure. With
// the diver's own share of their usable gas it is their own turn pressure; with
// the share of the controlling diver, who has the smallest, it is the
// equivalent in this cylinder of that diver's turn.
func TurnPressure(c Cylinder, start, low units.Pressure, out units.Volume, ph Physics) units.Pressure {
	if out <= 0 {
		return max(start, low)
	}
	return max(low, c.Pressure(c.Contents(start, ph)-out, ph))
}

// Share gives the gas for the way out by the rule.
func Share(usable units.Volume, r TurnRule) units.Volume { return usable * r.share() }

// The steps in which gauges are read and pressures agreed. Common practice.
const (
	psiStep     = 100 // turn, low-gas and reported pressures
	barUpStep   = 5   // turn and low-gas pressures
	barDownStep = 10  // reported pressures
)

// CallPressure gives a turn or low-gas pressure as it is agreed: in the unit of
// the gauge, rounded up to 100 psi or 5 bar. A reading at or below it has
// reached it. For any unit but psi it is in bar.
func CallPressure(p units.Pressure, gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return p.RoundUp(gauge, psiStep)
	}
	return p.RoundUp(units.UnitBar, barUpStep)
}

// ReportedPressure gives a pressure as it is reported or expected: in the unit
// of the gauge, rounded down to 100 psi or 10 bar.
func ReportedPressure(p units.Pressure, gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return p.RoundDown(gauge, psiStep)
	}
	return p.RoundDown(units.UnitBar, barDownStep)
}
