package roster

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tankside/internal/finding"
)

// figures returns the figures counted, the latest first: that of the latest count, and of the
// latest before it that differs.
func figures(counts []Count) string {
	for _, c := range counts[1:] {
		if c.Figure != counts[0].Figure {
			return fmt.Sprintf("%d and %d counted", counts[0].Figure, c.Figure)
		}
	}
	return fmt.Sprintf("%d counted", counts[0].Figure)
}

// alarm returns the finding that the counts of a leg do not agree.
func (h Heads) alarm(s LegStatus, counts []Count) finding.Finding {
	text, latest := figures(counts), counts[0]
	f := HeadCountAlarm.Say(
		"Head counts do not agree {leg}: {counts}, {on_list} on the list. Nobody leaves; count again.",
		s.Leg.String(), text, s.OnList).About(h.Outing)
	if s.Leg.Phase == AfterDive && len(s.InWater) > 0 {
		f = HeadCountAlarm.Say(
			"Head counts do not agree {leg}: {counts}, {expected} expected: {on_list} on the list, and in the water {people}. Nobody leaves; count again.",
			s.Leg.String(), text, s.Expected, s.OnList, names(s.InWater)).About(h.Outing)
	}
	f.Limit, f.Found = finding.Count(s.Expected, "people"), finding.Words(text)
	f.Cures = []finding.Cure{
		{Code: "count_again",
			Message: "Count again, two people each with their own phone, and check the list by name."},
		{Code: "name_everybody",
			Message: "Or count by name: name everybody on the list, aboard or accounted for."},
	}
	if left := h.left(latest); len(left) > 0 {
		f.Message += " No time out is logged of " + names(left) + "."
		f.Cures = append([]finding.Cure{{Code: "log_time_out",
			Message: "Look for them first. If they are out of the water, log their time out."}}, f.Cures...)
	}
	if len(latest.Named) > 0 {
		f.Message += h.unnamed(latest)
	}
	f.Cures = append(f.Cures, finding.Cure{Code: "record_incident",
		Message: "If a person is missing, act first: search and call for help; then record an incident. It " +
			"does not end the alarm."})
	return f
}

// unnamed returns what is wrong with a count by name, "" for nothing.
func (h Heads) unnamed(c Count) string {
	if missing := h.missing(c); len(missing) > 0 {
		return " Not named: " + names(missing) + "."
	}
	list, seen := h.List(c.At), 0
	for _, n := range c.Named {
		if !has(list, n.Who) {
			return " A person is named who is not on the list."
		}
		if !n.Elsewhere {
			seen++
		}
	}
	if seen != c.Figure {
		return fmt.Sprintf(" The count names %d aboard and says %d.", seen, c.Figure)
	}
	return ""
}

// secondCount returns the finding that a second person has still to count.
func (h Heads) secondCount(s LegStatus, counts []Count) finding.Finding {
	f := SecondCount.Say("One person counted {count} {leg}, as expected; a second person has to count too.",
		counts[0].Figure, s.Leg.String()).About(h.Outing)
	if len(ownLatest(counts)) == 0 {
		f = SecondCount.Say(
			"{count} counted {leg}, as expected, and another person entered it; two people have to count and enter their own figures.",
			counts[0].Figure, s.Leg.String()).About(h.Outing)
	}
	f.Limit, f.Found = finding.Count(2, "people"), finding.Count(min(1, len(ownLatest(counts))), "people")
	f.Cures = []finding.Cure{
		{Code: "count_again",
			Message: "Let a second person count independently and enter the figure on their own phone."},
		{Code: "name_everybody",
			Message: "The only one of the crew counts again by name: name everybody on the " +
				"list."},
	}
	return f
}

// NotSettled returns the finding that the leg counted last by a moment is not settled, so that a
// person may be missing. It returns nil where the leg was settled, or nobody had counted.
func (h Heads) NotSettled(at time.Time) finding.List {
	s, counted := h.Latest(at)
	if !counted || s.State.Settled() {
		return nil
	}
	f := HeadsNotSettled.Say(
		"Nobody goes in yet: heads were counted {leg} by one person alone, and a second one has to count too.",
		s.Leg.String()).About(h.Outing)
	if s.State == Alarm {
		f = HeadsNotSettled.Say("Nobody goes in yet: heads {leg} are not settled.", s.Leg.String()).
			About(h.Outing)
		f.Message += " " + s.Findings[0].Message
	}
	f.Limit, f.Found, f.Cures = s.Findings[0].Limit, s.Findings[0].Found, s.Findings[0].Cures
	return finding.List{f}
}

// Opening returns what head counts have against opening a session of the outing; several is set
// where other sessions share the outing. That is a leg that is not settled, and, with guests or
// several sessions aboard, a leg that nobody counted.
func (h Heads) Opening(at time.Time, several bool) finding.List {
	if found := h.NotSettled(at); len(found) > 0 {
		return found
	}
	if !several && !slices.ContainsFunc(h.List(at), func(a ListedPerson) bool { return a.guest() }) {
		return nil
	}
	leg := Leg{Phase: Departure}
	if counts := h.upTo(at); len(counts) > 0 {
		last := counts[0].At
		leg = Leg{}
		for _, s := range h.Swims {
			if s.In.After(last) && !s.In.After(at) && s.Dive > leg.Dive {
				leg = Leg{AfterDive, s.Dive}
			}
		}
		if leg.Dive == 0 {
			return nil
		}
	}
	f := HeadsNotCounted.Say("Nobody has counted heads {leg}. {on_list} are on the list.",
		leg.String(), len(h.List(at))).About(h.Outing)
	f.Limit, f.Found = finding.Count(2, "people"), finding.Count(0, "people")
	f.Cures = []finding.Cure{{Code: "count_heads",
		Message: "Let two people count independently, each on their own phone."}}
	return finding.List{f}
}

// guest reports whether the person is also, or only, aboard as a guest.
func (a ListedPerson) guest() bool { return len(a.Also) > 0 || strings.HasPrefix(a.Who, Guest) }

// Guest and Member are the beginning of Who: of a guest who is no person of the centre, and of a
// person.
const (
	Guest  = "guest:"
	Member = "person:"
)
