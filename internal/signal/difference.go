package signal

import (
	"fmt"
	"slices"

	"tankside/internal/units"
)

// Difference is one thing that two conventions show or read differently.
type Difference struct {
	What        string // "unit", "numbers", or a meaning
	Here, There string // in words
}

// Differences tells a diver who knows the other convention what differs here:
// unit, numbers (by the first reading that looks different) and message signs.
func (c Convention) Differences(other Convention) []Difference {
	var l []Difference
	if c.Unit != other.Unit {
		l = append(l, Difference{"unit", string(c.Unit), string(other.Unit)})
	}
	if len(c.unusable()) == 0 && len(other.unusable()) == 0 {
		l = append(l, c.numbersDiffer(other.In(c.Unit))...)
	}
	for _, m := range Meanings() {
		here, there := c.Sign(m), other.Sign(m)
		if !slices.Equal(here, there) {
			l = append(l, Difference{string(m), gestureWords(here), gestureWords(there)})
		}
	}
	return l
}

func (c Convention) numbersDiffer(other Convention) []Difference {
	for _, n := range []int{17, 26, 8, 10, 20, 5, 0} {
		if here, there := c.show(n), other.show(n); !slices.Equal(here, there) {
			r := units.Read(float64(n)*c.Step().Value.Float(), c.Unit)
			return []Difference{{"numbers", fmt.Sprintf("%s: %s", r, here), fmt.Sprintf("%s: %s", r, there)}}
		}
	}
	return nil
}

func gestureWords(l []Gesture) string {
	if len(l) == 0 {
		return "no sign agreed"
	}
	words := make([]string, len(l))
	for i, g := range l {
		words[i] = g.String()
	}
	return orList(words)
}
