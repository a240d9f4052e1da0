package nostop

import (
	"math"

	"tankside/internal/units"
)

// least is the shortest time on the surface between two separate dives (US Navy Diving Manual Rev
// 7, Table 9-8: the intervals start at 0:10).
const least Minutes = 10

// Rows returns the rows of Table 9-7, from shallow to deep.
func Rows() []Row { return append([]Row(nil), tables.rows...) }

// Feet returns the depth in feet, for looking it up in a table: metres divided by 0.3048,
// unrounded. The package comment explains why this is the safe side.
func Feet(d units.Depth) float64 { return d.In(units.UnitFoot) }

// RowAt returns the row of Table 9-7 for a depth: the one of that depth or the next deeper one.
// There is none for a depth of 0 or below 190 fsw.
func RowAt(d units.Depth) (Row, bool) { return rowAt(tables.rows, Feet(d)) }

// ShallowRowAt returns the row of Table 2A-1, which goes by the foot from 30 to 50 fsw, for a
// depth: that foot or the next deeper one. There is none for a depth of less than 30 fsw or more
// than 50 fsw. The table is for a dive without residual nitrogen, since its companion with the
// residual times by the foot is not available here.
func ShallowRowAt(d units.Depth) (Row, bool) {
	if wholeFeet(Feet(d)) < float64(tables.feet[0].Depth) {
		return Row{}, false
	}
	return rowAt(tables.feet, Feet(d))
}

// wholeFeet returns a depth rounded up. The rounding of binary fractions, as of 60 ft in metres,
// does not make it a foot more.
func wholeFeet(feet float64) float64 { return units.RoundUp(feet, 1) }

func rowAt(rows []Row, feet float64) (Row, bool) {
	if math.IsNaN(feet) || feet <= 0 {
		return Row{}, false
	}
	for _, r := range rows {
		if wholeFeet(feet) <= float64(r.Depth) {
			return r, true
		}
	}
	return Row{}, false
}

// Group returns the repetitive group after a dive of m minutes in this row: the group of that time
// or of the next longer one. There is none for a time beyond the no-stop limit.
func (r Row) Group(m Minutes) (Group, bool) {
	for g := A; g <= Z; g++ {
		if r.Has(g) && r.last[g].Allows(m) {
			return g, true
		}
	}
	return None, false
}

// Has reports whether the row has times in that group.
func (r Row) Has(g Group) bool { return g >= A && g <= Z && r.last[g] != Limit{} }

// Longest returns the greatest time of that group in this row, zero where the row
// does not have the group.
func (r Row) Longest(g Group) Limit {
	if !r.Has(g) {
		return Limit{}
	}
	return r.last[g]
}

// AfterInterval returns the group at the end of a surface interval (Table 9-8, upper part). An
// interval of less than 10 minutes leaves the group: the next dive is one dive with the one before.
func AfterInterval(g Group, interval Minutes) Group {
	if g <= None || g > Z {
		return None
	}
	after := g
	for end := g; end >= None; end-- {
		if interval >= tables.from[g][end] {
			after = end
		}
	}
	return after
}

// IntervalTo returns the shortest surface interval that brings a diver from one group down to
// another. To None it is the interval after which a dive is not repetitive. It is 0 for a diver
// already in that group or a lower one.
func IntervalTo(from, to Group) Minutes {
	if from <= to || from > Z || to < None {
		return 0
	}
	return tables.from[from][to]
}

// Residual is the residual nitrogen of a diver at the start of a dive (Table 9-8, lower part).
type Residual struct {
	Minutes Minutes // residual nitrogen time, to add to the time under water
	Row     Row     // the row to use, which at 25 fsw may be that of 30 fsw
	// Undefined means that the table has no figure at this depth of 10, 15 or 20 fsw: no residual
	// nitrogen time is needed, since the no-stop time there is unlimited, and the dive leaves the
	// group as it is (paragraph 9-9.1 (8)).
	Undefined bool
}

// ResidualNitrogen returns the residual nitrogen of a diver who starts a dive to
// this row of Table 9-7 in that group. Group None has none.
func ResidualNitrogen(g Group, r Row) Residual {
	g = max(None, min(g, Z))
	c := tables.residual[r.Depth][g]
	if c.use30 {
		r, _ = rowAt(tables.rows, 30)
		c = tables.residual[r.Depth][g]
	}
	return Residual{Minutes: c.minutes, Row: r, Undefined: c.undefined}
}

// OnArrival returns the group to start from after going up to an altitude from sea level, with the
// next higher thousand feet (Table 9-5). It is None at or below sea level; there is none above 10
// 000 ft. It is for information only: diving there also needs the manual's table of equivalent
// depths, which is not available here.
func OnArrival(altitude units.Depth) (Group, bool) {
	i, ok := thousandsUp(altitude)
	if !ok || i == 0 {
		return None, ok
	}
	return tables.arrival[i-1], true
}

// BeforeAltitude returns the surface interval that a diver in that group needs
// before going up to an altitude, with the next higher thousand feet (Table 9-6).
// The group is the highest of the last 24 hours. There is none above 10 000 ft.
func BeforeAltitude(g Group, altitude units.Depth) (Minutes, bool) {
	i, ok := thousandsUp(altitude)
	if !ok || i == 0 || g <= None || g > Z {
		return 0, ok
	}
	return tables.wait[g][i-1], true
}

// thousandsUp returns the altitude in thousands of feet, rounded up.
func thousandsUp(altitude units.Depth) (int, bool) {
	k := units.RoundUp(Feet(altitude), 1000) / 1000
	if math.IsNaN(k) || k > thousands {
		return 0, false
	}
	return int(max(0, k)), true
}
