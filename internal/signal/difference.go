package signal

import (
	"fmt"
	"slices"
	"strings"

	"tankside/internal/units"
)

// Difference is one thing that two conventions show or read differently.
type Difference struct {
	// "unit", "numbers", a meaning, or a gesture that the two conventions use for different things
	What        string
	Here, There string // in words
}

// Differences returns what differs here for a diver who knows the other convention: unit, numbers
// (by the first reading that looks different), message signs, and gestures that both use for
// different things.
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
	if len(c.unusable()) == 0 && len(other.unusable()) == 0 {
		l = append(l, c.gesturesDiffer(other.In(c.Unit))...)
	}
	return l
}

// gesturesDiffer returns the gestures to which each convention gives a meaning, and not the same
// one: the most dangerous of all differences.
func (c Convention) gesturesDiffer(other Convention) []Difference {
	var l []Difference
	for _, s := range sights {
		here, there := c.uses(s.Gesture), other.uses(s.Gesture)
		if len(here) > 0 && len(there) > 0 && !(within(here, there) && within(there, here)) {
			l = append(l, Difference{string(s.Gesture), useWords(here), useWords(there)})
		}
	}
	return l
}

func within(some, all []use) bool {
	return !slices.ContainsFunc(some, func(u use) bool { return !slices.ContainsFunc(all, u.same) })
}

func useWords(l []use) string {
	words := make([]string, len(l))
	for i, u := range l {
		words[i] = u.words
	}
	return strings.Join(words, "; ")
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
