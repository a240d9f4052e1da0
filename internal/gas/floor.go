package gas

import (
	"cmp"

	"tankside/internal/units"
)

// Floors are the lowest pressures down to which a centre lets anybody stay in the
// water, planned or not, by the kind of water. The zero Reading is one that the
// centre has not set: DefaultFloor counts then.
type Floors struct {
	Open     units.Reading // open water
	Confined units.Reading // a pool, or open water with a pool's conditions
}

// DefaultFloor returns the floor that counts where a centre has set none, in round
// figures of the gauge: 50 bar or 700 psi in open water, as three organisations'
// manuals ask divers to come back with; 35 bar or 500 psi in confined water, where
// the surface is near (our choice).
func DefaultFloor(confined bool, gauge units.Unit) units.Reading {
	bar, psi := 50.0, 700.0
	if confined {
		bar, psi = 35, 500
	}
	if gauge == units.UnitPSI {
		return units.Read(psi, gauge)
	}
	return units.Read(bar, units.UnitBar)
}

// For returns the floor of a kind of water as a gauge shows it: a figure in another
// unit is rounded up to the step of that gauge, 5 bar or 100 psi.
func (f Floors) For(confined bool, gauge units.Unit) units.Reading {
	switch set := f.set(confined); {
	case set.IsZero():
		return DefaultFloor(confined, gauge)
	case set.Unit == gauge:
		return set
	default:
		return CallPressure(set.Pressure(), gauge)
	}
}

// In returns the floor of a kind of water as it was set, the default in bar where it
// was not.
func (f Floors) In(confined bool) units.Reading {
	return cmp.Or(f.set(confined), DefaultFloor(confined, units.UnitBar))
}

func (f Floors) set(confined bool) units.Reading {
	if confined {
		return f.Confined
	}
	return f.Open
}

// CheckFloor answers an *OutOfRange for a floor that is not possible: none, or one
// above 200 bar (our choice).
func CheckFloor(what string, r units.Reading) error {
	if err := reservePressure.checkReading(what, r); err != nil {
		return err
	}
	if r.Value > 0 {
		return nil
	}
	return &OutOfRange{What: what, Found: r.String(), Diver: -1, Limit: "more than zero", Cure: "correct the figure, or leave it to the program"}
}
