package gas

import (
	"tankside/internal/units"
)

// TurnRule is how much of the usable gas may be breathed before turning back.
type TurnRule uint8

const (
	// AllUsable is for water where divers may come up anywhere: the turn pressure is the low-gas
	// pressure.
	AllUsable TurnRule = iota
	// Halves allows half on the way out, where the group wants to come back to the point of
	// departure.
	Halves
	// Thirds allows a third, where the group has to come back: the way back is covered for two.
	Thirds
)

// String returns the rule in words.
func (r TurnRule) String() string {
	return [...]string{"all usable", "halves", "thirds"}[min(r, Thirds)]
}

// share returns the part of the usable gas for the way out.
func (r TurnRule) share() units.Volume { return 1 / units.Volume(1+min(r, Thirds)) }

// outAndBack reports whether the rule keeps gas for the way back.
func (r TurnRule) outAndBack() bool { return r != AllUsable }

// Usable returns the gas between the start and the low-gas pressure, none where the start is no
// higher. Pass the low-gas pressure unrounded.
func Usable(c Cylinder, start, low units.Pressure, ph Physics) units.Volume {
	return max(0, c.Contents(start, ph)-c.Contents(low, ph))
}

// TurnPressure returns the turn pressure, unrounded, of a diver who may breathe the volume out
// before turning, and never less than the low-gas pressure. With the diver's own share of their
// usable gas it is their own turn pressure. With the share of the controlling diver, who has the
// smallest, it is the equivalent in this cylinder of that diver's turn.
func TurnPressure(c Cylinder, start, low units.Pressure, out units.Volume, ph Physics) units.Pressure {
	if out <= 0 {
		return max(start, low)
	}
	return max(low, c.Pressure(c.Contents(start, ph)-out, ph))
}

// Share returns the gas for the way out by the rule.
func Share(usable units.Volume, r TurnRule) units.Volume { return usable * r.share() }

// The steps in which gauges are read and pressures agreed. Common practice.
const (
	psiStep     = 100 // turn, low-gas and reported pressures
	barUpStep   = 5   // turn and low-gas pressures
	barDownStep = 10  // reported pressures
)

// CallPressure returns a turn or low-gas pressure as it is agreed: in the unit of
// the gauge, rounded up to 100 psi or 5 bar. A reading at or below it has
// reached it. For any unit but psi it is in bar.
func CallPressure(p units.Pressure, gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return p.RoundUp(gauge, psiStep)
	}
	return p.RoundUp(units.UnitBar, barUpStep)
}

// ReportedPressure returns a pressure as it is reported or expected: in the unit
// of the gauge, rounded down to 100 psi or 10 bar.
func ReportedPressure(p units.Pressure, gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return p.RoundDown(gauge, psiStep)
	}
	return p.RoundDown(units.UnitBar, barDownStep)
}
