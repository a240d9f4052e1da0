package ratio

import (
	"math"
	"slices"

	"tankside/internal/units"
)

// ruling is the result of all lines together.
type ruling struct {
	places int   // by the strictest line, Unlimited where no line applies
	book   *Book // the book of that line
	line   *Line
	sound  bool // whether the composition itself is allowed
}

// rule applies every line of every book to the group.
func rule(books []Book, g *Group) ruling {
	youngest := youngest(books, g)
	r := ruling{places: Unlimited, sound: g.Instructor && covered(books, g)}
	for i := range books {
		for j := range books[i].Lines {
			l := &books[i].Lines[j]
			if !l.limits(g, youngest) {
				continue
			}
			if n := l.places(g); r.book == nil || n < r.places {
				r.places, r.book, r.line = n, &books[i], l
			}
			r.sound = r.sound && youngest >= l.MinAge && l.mixes(g) && !l.tooDeep(g)
		}
	}
	return r
}

// allowed returns the places of this composition, never negative.
func (r ruling) allowed(g *Group) int {
	switch {
	case !r.sound:
		return 0
	case g.LoweredTo != nil:
		return min(r.places, max(*g.LoweredTo, 0))
	}
	return r.places
}

// youngest returns the lowest age in the group. An empty group counts as one of the oldest students
// that any line covers, to whom the fewest lines apply: a student who joins it can then not add
// places.
func youngest(books []Book, g *Group) int {
	if len(g.Ages) > 0 {
		return slices.Min(g.Ages)
	}
	if oldest := oldestCovered(books, g); oldest > 0 {
		return oldest
	}
	return math.MaxInt
}

// oldestCovered returns the highest age that any line covers, 0 where no line applies.
func oldestCovered(books []Book, g *Group) int {
	oldest := 0
	for i := range books {
		for j := range books[i].Lines {
			if l := &books[i].Lines[j]; !l.OnlyLimits && l.concerns(g) {
				oldest = max(oldest, l.ageTo())
			}
		}
	}
	return oldest
}

// covered reports whether a line covers each student's age; for an empty group, whether any line
// applies.
func covered(books []Book, g *Group) bool {
	if len(g.Ages) == 0 {
		return oldestCovered(books, g) > 0
	}
	for _, age := range g.Ages {
		if !permitted(books, g, age) {
			return false
		}
	}
	return true
}

// permitted reports whether a line permits students of that age.
func permitted(books []Book, g *Group, age int) bool {
	for i := range books {
		for j := range books[i].Lines {
			l := &books[i].Lines[j]
			if !l.OnlyLimits && l.concerns(g) && age >= l.AgeFrom && age <= l.ageTo() {
				return true
			}
		}
	}
	return false
}

// concerns reports whether the line is about the group's setting and level.
func (l *Line) concerns(g *Group) bool {
	return slices.Contains(l.Settings, g.Setting) && slices.Contains(l.Levels, g.Level)
}

// limits reports whether the line applies to a group whose youngest student has that age.
func (l *Line) limits(g *Group, youngest int) bool {
	return l.concerns(g) && youngest <= l.ageTo()
}

func (l *Line) ageTo() int {
	if l.AgeTo == 0 {
		return math.MaxInt
	}
	return l.AgeTo
}

// places returns the line's figure for the crew and the conditions.
func (l *Line) places(g *Group) int {
	return max(l.figure(g.Assistants)-l.fewer(g), 0)
}

// figure returns the line's figure for that many assistants. A figure that the line lacks adds no
// places: 8/10 stays 10 with two assistants.
func (l *Line) figure(assistants int) int {
	last := len(l.Places) - 1
	if last < 0 {
		return 0
	}
	n := min(max(assistants, 0), Unlimited)
	places := l.Places[min(n, last)] + min(l.PerAssistant, Unlimited)*max(n-last, 0)
	if l.Cap > 0 {
		places = min(places, l.Cap)
	}
	return min(max(places, 0), Unlimited)
}

// fewer returns the places that the conditions take away, by the line's figures.
func (l *Line) fewer(g *Group) int {
	sum := 0
	for i := range l.Conditions {
		if c := &l.Conditions[i]; c.Fewer > 0 && c.holds(g) {
			sum = min(sum+min(c.Fewer, Unlimited), Unlimited)
		}
	}
	return sum
}

// mixes reports whether the young in the group are few enough and in the right
// company.
func (l *Line) mixes(g *Group) bool {
	if l.Young == nil {
		return true
	}
	return l.Young.count(g) <= l.Young.most(g) && !l.Young.badCompany(g)
}

// count returns how many of the group are young.
func (m *Mix) count(g *Group) int {
	n := 0
	for _, age := range g.Ages {
		if age < m.Below {
			n++
		}
	}
	return n
}

// most returns the most young students for the crew.
func (m *Mix) most(g *Group) int {
	return min(m.PerHead, Unlimited) * (1 + min(max(g.Assistants, 0), Unlimited))
}

// badCompany reports whether the group has a young student and one who is neither young nor old
// enough to be beside the young.
func (m *Mix) badCompany(g *Group) bool {
	between := func(age int) bool { return age >= m.Below && age < m.OthersFrom }
	return m.count(g) > 0 && slices.ContainsFunc(g.Ages, between)
}

// tooDeep reports whether the plan goes below the depth down to which the line holds.
func (l *Line) tooDeep(g *Group) bool {
	return l.MaxDepth > 0 && g.MaxDepth != nil && *g.MaxDepth > l.MaxDepth
}

// Demanding conditions: visibility below 2 m, a current above 0.25 m/s, water
// below 10 °C (ISO 24801-3:2014 clause 11.3).
var (
	poorVisibility = units.Read(2, units.UnitMetre)
	strongCurrent  = units.Read(0.25, units.UnitMPerSec)
	coldWater      = units.Read(10, units.UnitCelsius)
)

// holds reports whether the condition's cause was measured in the group's water. A condition judged
// by eye is never measured.
func (c *Condition) holds(g *Group) bool {
	now := &g.Conditions
	switch c.Cause {
	case Visibility:
		return now.Visibility != nil && *now.Visibility < c.beyond(poorVisibility).Depth()
	case Current:
		return now.Current != nil && *now.Current > c.beyond(strongCurrent).Speed()
	case Cold:
		return now.Temperature != nil && *now.Temperature < c.beyond(coldWater).Temperature()
	}
	return false
}

// beyond returns the condition's own threshold, or the usual one where it has none or one of
// another dimension.
func (c *Condition) beyond(usual units.Reading) units.Reading {
	if c.Beyond.Unit.Dimension() == usual.Unit.Dimension() {
		return c.Beyond
	}
	return usual
}
