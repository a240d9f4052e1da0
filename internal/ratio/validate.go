package ratio

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"tankside/internal/units"
)

// Flaw is one thing wrong with a book: its place, as a JSON pointer into the book's snake-case form
// like "/lines/0/places", and a message.
type Flaw struct{ Pointer, Message string }

// Flaws lists everything that is wrong with a book; it is an error.
type Flaws []Flaw

// Error returns all flaws in one line.
func (f Flaws) Error() string {
	parts := make([]string, len(f))
	for i, flaw := range f {
		parts[i] = flaw.Pointer + ": " + flaw.Message
	}
	return strings.Join(parts, "; ")
}

// Bounds of the values of a book, our choice. They catch input errors.
const (
	mostPlaces = 100 // no crew in the water has as many students
	oldestAge  = 120
	longest    = 500 // of a text, in bytes
)

var bookID = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Validate returns a Flaws with everything that is wrong with a book. nil means that groups can be
// judged by the book and that, by it, an assistant never takes places away.
func Validate(b Book) error {
	var f Flaws
	f.wrong(!bookID.MatchString(b.ID) || len(b.ID) > 64, "/id",
		"%q is no id: lower-case letters, digits and single hyphens, at most 64", b.ID)
	f.text("/title", b.Title)
	f.text("/source", b.Source)
	f.text("/version", b.Version)
	f.wrong(!slices.Contains([]Kind{Law, Practice, Standard, Own}, b.Kind), "/kind",
		"%q is none of law, practice, standard, own", b.Kind)
	f.wrong(!slices.Contains([]Status{Seen, Memory, Set}, b.Status), "/status",
		"%q is none of seen, memory, set", b.Status)
	f.wrong((b.Kind == Law) != (b.Jurisdiction != ""), "/jurisdiction",
		"a law names where it is in force, and only a law does")
	f.wrong(len(b.Lines) == 0, "/lines", "a rule book has at least one line")
	for i := range b.Lines {
		f.line(fmt.Sprintf("/lines/%d", i), &b.Lines[i])
	}
	if len(f) == 0 {
		return nil
	}
	return f
}

func (f *Flaws) wrong(is bool, pointer, format string, args ...any) {
	if is {
		*f = append(*f, Flaw{pointer, fmt.Sprintf(format, args...)})
	}
}

func (f *Flaws) text(pointer, s string) {
	f.wrong(strings.TrimSpace(s) == "", pointer, "must not be empty")
	f.wrong(len(s) > longest, pointer, "is longer than %d bytes", longest)
}

func (f *Flaws) within(pointer string, n, lo, hi int) {
	f.wrong(n < lo || n > hi, pointer, "%d is not between %d and %d", n, lo, hi)
}

func (f *Flaws) line(at string, l *Line) {
	f.text(at+"/title", l.Title)
	f.wrong(!drawnFrom(l.Settings, Confined, Open), at+"/settings",
		"want confined, open or both, each once; theory has no ratio")
	f.wrong(!drawnFrom(l.Levels, Introductory, EntryLevel, Supervised, Guided), at+"/levels",
		"want some of introductory, entry_level, supervised, guided, each once")
	f.within(at+"/age_from", l.AgeFrom, 0, oldestAge)
	f.within(at+"/age_to", l.AgeTo, 0, oldestAge)
	f.within(at+"/min_age", l.MinAge, 0, oldestAge)
	f.wrong(l.AgeTo > 0 && l.AgeFrom > l.AgeTo, at+"/age_to",
		"%d is below the age %d from which the line speaks", l.AgeTo, l.AgeFrom)
	f.figures(at, l)
	if l.Young != nil {
		f.mix(at+"/young", l.Young)
	}
	f.wrong(math.IsNaN(float64(l.MaxDepth)) || l.MaxDepth < 0 || l.MaxDepth > 100*units.Metre,
		at+"/max_depth", "want a depth of 0 to 100 m, where 0 is any depth")
	for i := range l.Conditions {
		f.condition(fmt.Sprintf("%s/conditions/%d", at, i), &l.Conditions[i])
	}
}

func (f *Flaws) figures(at string, l *Line) {
	f.wrong(len(l.Places) == 0, at+"/places", "want at least the figure without an assistant")
	for i, n := range l.Places {
		p := fmt.Sprintf("%s/places/%d", at, i)
		f.within(p, n, 0, mostPlaces)
		f.wrong(l.Cap > 0 && n > l.Cap, p, "%d is above the line's own cap of %d", n, l.Cap)
		f.wrong(i > 0 && n < l.Places[i-1], p, "%d is less than %d with one assistant fewer",
			n, l.Places[max(i-1, 0)])
	}
	f.within(at+"/per_assistant", l.PerAssistant, 0, mostPlaces)
	f.within(at+"/cap", l.Cap, 0, mostPlaces)
}

func (f *Flaws) mix(at string, m *Mix) {
	f.within(at+"/below", m.Below, 1, oldestAge)
	f.within(at+"/per_head", m.PerHead, 0, mostPlaces)
	f.within(at+"/others_from", m.OthersFrom, 0, oldestAge)
}

func (f *Flaws) condition(at string, c *Condition) {
	f.text(at+"/text", c.Text)
	f.within(at+"/fewer", c.Fewer, 0, mostPlaces)
	measures, known := map[Cause]units.Dimension{
		ByEye: "", Visibility: units.Depths, Current: units.Speeds, Cold: units.Temperatures,
	}[c.Cause]
	if !known {
		f.wrong(true, at+"/cause",
			"%q is none of visibility, current, cold, or nothing for what is judged by eye", c.Cause)
		return
	}
	f.wrong(c.Cause == ByEye && c.Fewer > 0, at+"/fewer",
		"what is judged by eye has no figure: a person has to decide")
	f.wrong(!c.Beyond.IsZero() && c.Beyond.Unit.Dimension() != measures, at+"/beyond",
		"%s does not measure this cause", c.Beyond)
}

// drawnFrom reports whether the list is not empty and has values of from alone, each at most once.
func drawnFrom[T comparable](list []T, from ...T) bool {
	for i, x := range list {
		if !slices.Contains(from, x) || slices.Contains(list[:i], x) {
			return false
		}
	}
	return len(list) > 0
}
