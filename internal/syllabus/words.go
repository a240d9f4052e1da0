package syllabus

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"tankside/internal/finding"
)

// name returns the skill as a message names it: its title and its code.
func (k Skill) name() string { return fmt.Sprintf("%q (%s)", k.Title, k.Code) }

// nameOf returns a skill or theory part as a message names it, by its code.
func (s Syllabus) nameOf(code string) string {
	if k := s.Skill(code); k != nil {
		return k.name()
	}
	if p := s.TheoryPart(code); p != nil {
		return fmt.Sprintf("the theory part %q (%s)", p.Title, p.Code)
	}
	return fmt.Sprintf("%q", code)
}

// source returns the source of one of the syllabus's own figures, or the rule's where it names
// none.
func (s Syllabus) source(figure string, r finding.Rule) string {
	return cmp.Or(s.Sources[figure], r.Source)
}

// list returns "a, b or c", with last as the last conjunction.
func list[T ~string](of []T, last string) string {
	words := make([]string, len(of))
	for i, w := range of {
		words[i] = string(w)
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// time returns midnight of the day in UTC, to count days by.
func (d Day) time() (time.Time, bool) {
	t, err := time.Parse(time.DateOnly, string(d))
	return t, err == nil
}

// since returns the days from an earlier day to d; false when either is unknown.
func (d Day) since(earlier Day) (int, bool) {
	a, ok := earlier.time()
	b, ok2 := d.time()
	return int(b.Sub(a) / (24 * time.Hour)), ok && ok2
}
