package roster

import (
	"fmt"
	"slices"
	"time"

	"tankside/internal/finding"
)

// Count is one person's head count: the figure as it was counted.
type Count struct {
	By     string // the person who counted
	Figure int
	At     time.Time
}

// CountState is how the head counts of one phase of an outing stand.
type CountState string

// The states of head counts. An alarm ends only with counts that agree, or
// with an incident on record.
const (
	NotCounted CountState = "not_counted"
	CountedOne CountState = "counted_once" // one person's figure, equal to the list; a second person is still to count
	Agreed     CountState = "agreed"
	Alarm      CountState = "alarm"
)

// HeadCount judges the counts of one phase against the outing's list. They
// agree when the latest figure of all and the latest figure of another person
// equal each other and the list: so a third count can settle two that differ,
// and a later one that differs is an alarm again. A figure that does not equal
// the list is an alarm even when it stands alone.
func HeadCount(onList int, counts []Count, outing finding.Subject) (CountState, finding.List) {
	latest := latestOfEach(counts)
	switch {
	case len(latest) == 0:
		return NotCounted, nil
	case len(latest) == 1 && latest[0].Figure == onList:
		f := SecondCount.Say("One person counted {count}, as on the list; a second person has to count too.", onList).About(outing)
		f.Limit, f.Found = finding.Count(2, "people"), finding.Count(1, "people")
		f.Cures = []finding.Cure{{Code: "count_again", Message: "Let a second person count independently."}}
		return CountedOne, finding.List{f}
	case latest[0].Figure == onList && slices.ContainsFunc(latest[1:], func(c Count) bool { return c.Figure == onList }):
		return Agreed, nil
	}
	return Alarm, finding.List{alarm(onList, latest, outing)}
}

// latestOfEach gives the latest count of each person, the latest of all first.
func latestOfEach(counts []Count) []Count {
	sorted := slices.Clone(counts)
	slices.SortStableFunc(sorted, func(a, b Count) int { return b.At.Compare(a.At) })
	var out []Count
	for _, c := range sorted {
		if !slices.ContainsFunc(out, func(o Count) bool { return o.By == c.By }) {
			out = append(out, c)
		}
	}
	return out
}

func alarm(onList int, latest []Count, outing finding.Subject) finding.Finding {
	text := fmt.Sprintf("%d counted", latest[0].Figure)
	if len(latest) > 1 && latest[1].Figure != latest[0].Figure {
		text = fmt.Sprintf("%d and %d counted", latest[0].Figure, latest[1].Figure)
	}
	f := HeadCountAlarm.Say("Head counts do not agree: {counts}, {on_list} on the list. Nobody leaves; count again.", text, onList).About(outing)
	f.Limit, f.Found = finding.Count(onList, "people"), finding.Words(text)
	f.Cures = []finding.Cure{
		{Code: "count_again", Message: "Count again, two people independently, and check the list by name."},
		{Code: "record_incident", Message: "If somebody is missing, act first: search and call for help; then record an incident."},
	}
	return f
}
