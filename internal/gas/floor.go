package gas

import (
	"cmp"

	"tankside/internal/units"
)

// Floors are the lowest pressures at which a centre lets divers stay in the water, with or without
// a plan, by the kind of water. The zero Reading is a floor that the centre has not set:
// DefaultFloor applies.
type Floors struct {
	Open     units.Reading // open water
	Confined units.Reading // a pool, or open water with a pool's conditions
}

// DefaultFloor returns the floor where a centre has set none, in round figures of the gauge: 50 bar
// or 700 psi in open water, as three organisations' manuals ask divers to come back with; 35 bar or
// 500 psi in confined water, where the surface is near (our choice).
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

// LeastFloor returns the lowest floor that a centre may set, in round figures of the gauge: 20 bar
// or 300 psi. Our choice: at the end of its scale a gauge may be wrong by about 5 bar (common
// practice), and a regulator needs some pressure to deliver gas. A lower floor would switch the
// alarm off for divers without a plan.
func LeastFloor(gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return units.Read(300, gauge)
	}
	return units.Read(20, units.UnitBar)
}

// For returns the floor of a kind of water as a gauge shows it. A figure in another unit is rounded
// up to the step of that gauge, 5 bar or 100 psi. A floor below LeastFloor, set before that was
// introduced, counts as LeastFloor.
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

// In returns the floor of a kind of water as it was set, or the default in bar.
func (f Floors) In(confined bool) units.Reading {
	return cmp.Or(f.set(confined), DefaultFloor(confined, units.UnitBar))
}

// set returns the floor that the centre has set, at least LeastFloor; the zero Reading where it has
// set none.
func (f Floors) set(confined bool) units.Reading {
	set := f.Open
	if confined {
		set = f.Confined
	}
	if least := LeastFloor(set.Unit); !set.IsZero() && set.Compare(least) < 0 {
		return least
	}
	return set
}

// CheckFloor returns an *OutOfRange for a floor that a centre may not set: one below LeastFloor, or
// above 200 bar (our choice).
func CheckFloor(what string, r units.Reading) error {
	if err := reservePressure.checkReading(what, r); err != nil {
		return err
	}
	least := LeastFloor(r.Unit)
	if r.Compare(least) >= 0 {
		return nil
	}
	return &OutOfRange{What: what, Found: r.String(), Diver: -1, Limit: "at least " + least.String(),
		Cure: "set " + least.String() + " or more, or leave it to the program"}
}
