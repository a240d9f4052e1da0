package nostop

import (
	"fmt"
	"strings"
	"time"

	"tankside/internal/units"
)

// Group is a repetitive group: a measure of the residual nitrogen of a diver. The zero Group is
// none: the next dive is not a repetitive one.
type Group int

// The groups of the tables in their order; the alphabet's P to Y are not used.
const (
	None Group = iota
	A
	B
	C
	D
	E
	F
	G
	H
	I
	J
	K
	L
	M
	N
	O
	Z
)

const letters = "-ABCDEFGHIJKLMNOZ"

// String returns the letter, or "-" for None.
func (g Group) String() string {
	if g < None || g > Z {
		return fmt.Sprintf("Group(%d)", int(g))
	}
	return letters[g : g+1]
}

// ParseGroup reads a group's letter as the tables print it; "-" is None.
func ParseGroup(s string) (Group, error) {
	if i := strings.Index(letters, s); len(s) == 1 && i >= 0 {
		return Group(i), nil
	}
	return None, fmt.Errorf("%q is not a repetitive group: want A to O, or Z", s)
}

// Minutes is a time in whole minutes, as the tables count it.
type Minutes int

// String returns the time like "48 min".
func (m Minutes) String() string { return fmt.Sprintf("%d min", int(m)) }

// Reading returns the time as a quantity.
func (m Minutes) Reading() units.Reading { return units.Read(float64(m), units.UnitMinute) }

// Clock returns the time as the tables write an interval: "1:44".
func (m Minutes) Clock() string { return fmt.Sprintf("%d:%02d", int(m)/60, int(m)%60) }

// Duration returns the time as a time.Duration.
func (m Minutes) Duration() time.Duration { return time.Duration(m) * time.Minute }

// minutesUp returns a time under water in minutes: a minute begun counts whole.
func minutesUp(d time.Duration) Minutes {
	m := Minutes(d / time.Minute)
	if d%time.Minute > 0 {
		m++
	}
	return m
}

// minutesDown returns a time on the surface in minutes: a minute not ended does not count.
func minutesDown(d time.Duration) Minutes { return max(0, Minutes(d/time.Minute)) }

// Limit is the longest time that a table allows without a stop.
type Limit struct {
	At        Minutes // of no meaning when Unlimited
	Unlimited bool
}

// Allows reports whether the time is within the limit or equal to it.
func (l Limit) Allows(m Minutes) bool { return l.Unlimited || m <= l.At }

// Less returns the rest of the limit after m minutes, never below 0.
func (l Limit) Less(m Minutes) Limit {
	if l.Unlimited {
		return l
	}
	return Limit{At: max(0, l.At-m)}
}

// String returns the limit like "48 min", or "unlimited".
func (l Limit) String() string {
	if l.Unlimited {
		return "unlimited"
	}
	return l.At.String()
}

// FSW is a depth in feet of sea water, the unit of the tables' rows.
type FSW int

// String returns the depth like "60 fsw".
func (f FSW) String() string { return fmt.Sprintf("%d fsw", int(f)) }

// metres returns the depth in metres, rounded down to 0.1 m like a greatest depth.
func (f FSW) metres() units.Reading {
	return units.Read(units.RoundDown(float64(units.Foot)*float64(f), 0.1), units.UnitMetre)
}
