package roster

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"tankside/internal/finding"
)

// Phase is a part of an outing at which heads are counted.
type Phase string

// The phases, in their order.
const (
	Departure Phase = "departure"
	AfterDive Phase = "after_dive"
	Return    Phase = "return"
)

// Leg is one occasion on which all people of an outing are counted.
type Leg struct {
	Phase Phase
	Dive  int // the number of the dive before it; 0 before departure and return, and in a count without one
}

// String returns the leg in words: "after dive 2".
func (l Leg) String() string {
	switch l.Phase {
	case Departure:
		return "before departure"
	case Return:
		return "before the return"
	}
	return fmt.Sprintf("after dive %d", l.Dive)
}

// ListedPerson is a person or guest of an outing. Who is the kind before the id, so that a person and a
// guest of the same id are told apart.
type ListedPerson struct {
	Who   string
	Name  string
	From  *time.Time      // nil: on the list from the beginning
	Until *time.Time      // when a guest left
	Said  []RollCallEntry // the roll calls' entries, in the order in which they were witnessed
	Also  []ListedPerson  // the same person's entries as a guest: aboard while either is
}

// RollCallEntry is a roll call's entry on whether a person is aboard.
type RollCallEntry struct {
	At     time.Time
	Aboard bool
}

// onList reports whether the person is on the list at a moment: until an entry has them not aboard.
func (a ListedPerson) onList(at time.Time) bool {
	if slices.ContainsFunc(a.Also, func(g ListedPerson) bool { return g.onList(at) }) {
		return true
	}
	if a.From != nil && a.From.After(at) || a.Until != nil && !a.Until.After(at) {
		return false
	}
	aboard := true
	for _, s := range a.Said {
		if !s.At.After(at) {
			aboard = s.Aboard
		}
	}
	return aboard
}

// TimeInWater is a person's time in the water, as it was logged.
type TimeInWater struct {
	Who  string
	Dive int // the number of the dive within its session
	In   time.Time
	Out  *time.Time // nil: no time out is logged
}

// during reports whether the water log has the person in the water at a moment.
func (s TimeInWater) during(at time.Time) bool {
	return !s.In.After(at) && (s.Out == nil || s.Out.After(at))
}

// Count is one head count: the figure as it was counted.
type Count struct {
	ID      string
	By      string // the person who counted
	Entered string // the person whose token entered it; "" for a program
	Leg     Leg
	Figure  int
	At      time.Time
	Named   []Named // of a count by name
}

// own reports whether the person who counted also entered the count. Only such a count is one of
// the two that have to agree.
func (c Count) own() bool { return c.By == c.Entered }

// Named is a person found by a count by name.
type Named struct {
	Who       string
	Elsewhere bool // accounted for without being seen aboard
}

// Heads is what the head counts of an outing are judged by.
type Heads struct {
	Outing finding.Subject
	People []ListedPerson
	Swims  []TimeInWater
	Counts []Count
}

// List returns the people on the outing's list at a moment.
func (h Heads) List(at time.Time) (out []ListedPerson) {
	for _, a := range h.People {
		if a.onList(at) {
			out = append(out, a)
		}
	}
	return out
}

// InWater returns the people on the list whom the water log has in the water at a moment.
func (h Heads) InWater(at time.Time) (out []ListedPerson) {
	for _, a := range h.List(at) {
		if slices.ContainsFunc(h.Swims, func(s TimeInWater) bool { return s.Who == a.Who && s.during(at) }) {
			out = append(out, a)
		}
	}
	return out
}

// LegOf returns the leg of a count. A count after a dive that names no dive is of the latest dive
// that had begun by then, and at least of the first.
func (h Heads) LegOf(c Count) Leg {
	if c.Leg.Phase != AfterDive || c.Leg.Dive > 0 {
		return c.Leg
	}
	l := Leg{AfterDive, 1}
	for _, s := range h.Swims {
		if !s.In.After(c.At) {
			l.Dive = max(l.Dive, s.Dive)
		}
	}
	return l
}

// Expected returns the figure that a count should have at its own moment: all people on the list;
// after a dive, without those logged in the water.
func (h Heads) Expected(c Count) int {
	n := len(h.List(c.At))
	if c.Leg.Phase == AfterDive {
		n -= len(h.InWater(c.At))
	}
	return n
}

// left returns the people logged in the water at a count at which nobody may be.
func (h Heads) left(c Count) []ListedPerson {
	if c.Leg.Phase == AfterDive {
		return nil
	}
	return h.InWater(c.At)
}

// missing returns the people whom a count by name should name and does not.
func (h Heads) missing(c Count) (out []ListedPerson) {
	var away []ListedPerson
	if c.Leg.Phase == AfterDive {
		away = h.InWater(c.At)
	}
	for _, a := range h.List(c.At) {
		if !slices.ContainsFunc(c.Named, func(n Named) bool { return n.Who == a.Who }) && !has(away, a.Who) {
			out = append(out, a)
		}
	}
	return out
}

func has(list []ListedPerson, who string) bool {
	return slices.ContainsFunc(list, func(a ListedPerson) bool { return a.Who == who })
}

// names reports whether a count names exactly the people expected, and its figure is the number of
// those named aboard.
func (h Heads) names(c Count) bool {
	if len(c.Named) == 0 || len(h.missing(c)) > 0 || len(h.left(c)) > 0 {
		return false
	}
	list, seen := h.List(c.At), 0
	for _, n := range c.Named {
		if !has(list, n.Who) {
			return false
		}
		if !n.Elsewhere {
			seen++
		}
	}
	return seen == c.Figure
}

// fits reports whether a count finds everybody who is expected.
func (h Heads) fits(c Count) bool {
	return h.names(c) || len(c.Named) == 0 && c.Figure == h.Expected(c) && len(h.left(c)) == 0
}

// upTo returns the counts made by a moment, the latest first; ties by id.
func (h Heads) upTo(at time.Time) (out []Count) {
	for _, c := range h.Counts {
		if !c.At.After(at) {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b Count) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.ID, a.ID)) })
	return out
}

// ownLatest returns the latest own count of each person, latest first.
func ownLatest(counts []Count) (out []Count) {
	for _, c := range counts {
		if c.own() && !slices.ContainsFunc(out, func(o Count) bool { return o.By == c.By }) {
			out = append(out, c)
		}
	}
	return out
}

// state returns the state of one leg, by its counts, the latest first. The counts agree when the
// latest of all fits, and so do the latest own counts of two people, one of which is the latest own
// count of all. A third person can thus settle two who differ, and a later count that does not fit
// is an alarm again. A count by name that names everybody settles the leg whatever was counted
// before.
func (h Heads) state(counts []Count) CountState {
	if len(counts) == 0 {
		return NotCounted
	}
	latest, own := counts[0], ownLatest(counts)
	switch {
	case !h.fits(latest):
		return Alarm
	case len(own) > 1 && h.fits(own[0]) && slices.ContainsFunc(own[1:], h.fits):
		return Agreed
	case latest.own() && len(counts) > 1 && h.names(latest):
		return EverybodyNamed
	case len(own) == 0 || len(own) == 1 && h.fits(own[0]):
		return CountedOne
	}
	return Alarm
}

// CountState is the state of the head counts of one leg of an outing.
type CountState string

// The states of head counts.
const (
	NotCounted     CountState = "not_counted"
	CountedOne     CountState = "counted_once" // the count fits; a second person is still to count
	Agreed         CountState = "agreed"
	EverybodyNamed CountState = "named" // everybody was named, aboard or accounted for
	Alarm          CountState = "alarm"
)

// Settled reports whether everybody is found, so that nobody has to be looked for.
func (s CountState) Settled() bool { return s == Agreed || s == EverybodyNamed }

// LegStatus is the judgement of one leg by its counts.
type LegStatus struct {
	Leg      Leg
	State    CountState
	OnList   int // at the latest count of the leg; without one, at the moment asked about
	Expected int // of the latest count
	InWater  []ListedPerson
	Findings finding.List
}

// Legs returns the judgement of every leg, in the order of the outing: departure, each dive after
// which heads were counted, or the first, and the return.
func (h Heads) Legs(now time.Time) []LegStatus {
	counts := h.upTo(now)
	dives := []int{}
	for _, c := range counts {
		if l := h.LegOf(c); l.Phase == AfterDive && !slices.Contains(dives, l.Dive) {
			dives = append(dives, l.Dive)
		}
	}
	slices.Sort(dives)
	legs := []Leg{{Phase: Departure}}
	for _, n := range dives {
		legs = append(legs, Leg{AfterDive, n})
	}
	if len(dives) == 0 {
		legs = append(legs, Leg{Phase: AfterDive})
	}
	legs = append(legs, Leg{Phase: Return})
	out := make([]LegStatus, len(legs))
	for i, l := range legs {
		out[i] = h.stand(l, counts, now)
	}
	return out
}

// stand judges one leg by counts that are sorted, the latest first.
func (h Heads) stand(l Leg, counts []Count, now time.Time) LegStatus {
	var of []Count
	for _, c := range counts {
		if h.LegOf(c) == l {
			of = append(of, c)
		}
	}
	out := LegStatus{Leg: l, State: h.state(of)}
	if len(of) == 0 {
		out.OnList = len(h.List(now))
		out.Expected = h.Expected(Count{Leg: l, At: now})
		return out
	}
	latest := of[0]
	out.OnList, out.Expected, out.InWater = len(h.List(latest.At)), h.Expected(latest), h.InWater(latest.At)
	switch out.State {
	case Alarm:
		out.Findings = finding.List{h.alarm(out, of)}
	case CountedOne:
		out.Findings = finding.List{h.secondCount(out, of)}
	}
	return out
}

// Latest returns the judgement, at a moment, of the leg that was counted last. Later counts are
// left out; ok is false where nobody had counted by then.
func (h Heads) Latest(at time.Time) (s LegStatus, ok bool) {
	counts := h.upTo(at)
	if len(counts) == 0 {
		return s, false
	}
	return h.stand(h.LegOf(counts[0]), counts, at), true
}

// names returns the names of people, joined.
func names(list []ListedPerson) string {
	out := make([]string, len(list))
	for i, a := range list {
		out[i] = a.Name
	}
	return strings.Join(out, ", ")
}
