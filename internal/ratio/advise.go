package ratio

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// caution adds what a person has to judge: conditions that books name without a figure, demanding
// conditions that no book names, and a leader who does not dive. An empty group gets no cautions.
func (v *Verdict) caution(books []Book, g *Group) {
	if len(g.Ages) == 0 {
		return
	}
	if g.Ashore && g.Setting == Open {
		v.add(g, leaderAshore())
	}
	var named causes
	youngest := youngest(books, g)
	for i := range books {
		for j := range books[i].Lines {
			l := &books[i].Lines[j]
			if !l.limits(g, youngest) {
				continue
			}
			for k := range l.Conditions {
				c := &l.Conditions[k]
				named.add(c.Cause)
				if c.Fewer <= 0 && (c.Cause == ByEye || c.holds(g)) {
					v.add(g, conditionOf(&books[i], c, g))
				}
			}
		}
	}
	for _, cause := range [...]Cause{Visibility, Current, Cold} {
		if usual := (&Condition{Cause: cause}); !named.has(cause) && usual.holds(g) {
			v.add(g, demanding(cause, g))
		}
	}
}

// causes is a small set of causes.
type causes struct{ visibility, current, cold bool }

func (s *causes) add(c Cause) {
	s.visibility = s.visibility || c == Visibility
	s.current = s.current || c == Current
	s.cold = s.cold || c == Cold
}

func (s *causes) has(c Cause) bool {
	return c == Visibility && s.visibility || c == Current && s.current || c == Cold && s.cold
}

func conditionOf(b *Book, c *Condition, g *Group) finding.Finding {
	f := ConditionOfBook.Of(fmt.Sprintf("%s asks for judgement: %s.", b.Title, c.Text))
	f.Source = b.cite()
	f.Params = map[string]any{"book": b.ID, "condition": c.Text}
	if c.Cause != ByEye {
		f.Found = c.Cause.measured(g)
		f.Params["cause"] = string(c.Cause)
		f.Message = fmt.Sprintf("%s (%s) asks for judgement: %s.", b.Title, f.Found.Text, c.Text)
	}
	return f
}

func demanding(c Cause, g *Group) finding.Finding {
	found := c.measured(g)
	f := DemandingConditions.Of("Demanding conditions (" + found.Text +
		"): the instructor reduces the number as conditions dictate.")
	f.Found = found
	f.Params = map[string]any{"cause": string(c)}
	return f
}

// measured returns the measured value of the cause. The group must have one.
func (c Cause) measured(g *Group) *finding.Amount {
	var name string
	var r units.Reading
	switch c {
	case Visibility:
		name, r = "visibility ", units.Read(g.Conditions.Visibility.In(units.UnitMetre), units.UnitMetre)
	case Current:
		name, r = "current ", units.Read(g.Conditions.Current.In(units.UnitMPerSec), units.UnitMPerSec)
	default:
		name, r = "water ", units.Read(g.Conditions.Temperature.Celsius(), units.UnitCelsius)
	}
	a := finding.Quantity(r)
	a.Text = name + a.Text
	return a
}

// note adds the findings that only inform.
func (v *Verdict) note(books []Book, g *Group, r ruling) {
	if r.line != nil && r.line.fewer(g) > 0 {
		v.add(g, reduced(r, g))
	}
	if g.Uncounted > 0 {
		v.add(g, notCounted(g))
	}
	if g.NotDiving > 0 || g.Ashore && g.Setting != Open {
		v.add(g, crewAshore(g))
	}
	if g.LoweredTo != nil && *g.LoweredTo > r.places {
		v.add(g, notRaised(g, r))
	}
	if g.MaxDepth != nil || len(g.Ages) == 0 {
		return
	}
	youngest := youngest(books, g)
	for i := range books {
		for j := range books[i].Lines {
			if l := &books[i].Lines[j]; l.MaxDepth > 0 && l.limits(g, youngest) &&
				!(g.Bottom != nil && *g.Bottom <= l.MaxDepth) {
				v.add(g, depthNotKnown(&books[i], l, g))
			}
		}
	}
}

func reduced(r ruling, g *Group) finding.Finding {
	usual, fewer := r.line.figure(g.Assistants), r.line.fewer(g)
	f := ReducedByConditions.Of(fmt.Sprintf("In these conditions the limit is %d instead of %d (%s).",
		r.places, usual, r.book.Title))
	f.Source = r.book.cite()
	f.Limit = amount(r.places, "student")
	f.Params = map[string]any{"places": r.places, "usual": usual, "fewer": fewer, "book": r.book.ID}
	return f
}

func notCounted(g *Group) finding.Finding {
	f := AssistantNotCounted.Of(fmt.Sprintf("%s not counted: only those who are active and insured are.",
		count(g.Uncounted, "assistant")+map[bool]string{true: " is", false: " are"}[g.Uncounted == 1]))
	f.Found = amount(g.Uncounted, "assistant")
	f.Params = map[string]any{"assistants": g.Uncounted}
	f.Cures = []finding.Cure{{Code: "renew_papers",
		Message: "Record a teaching status and an insurance that are valid on the day."}}
	return f
}

func leaderAshore() finding.Finding {
	f := LeaderNotDiving.Of(
		"The instructor in charge is marked as not diving. The rule books do not say whether the group " +
			"keeps its places then; it keeps them here. Nobody in charge is in the water to help a diver.")
	f.Cures = []finding.Cure{{Code: "replace_instructor", Message: "Put an instructor in charge who dives."},
		{Code: "mark_diving", Message: "Take the mark away if the instructor dives."}}
	return f
}

// crewAshore returns the note that crew who do not dive are counted, on which no book has a line.
func crewAshore(g *Group) finding.Finding {
	n := g.NotDiving
	if g.Ashore && g.Setting != Open {
		n++
	}
	f := CrewNotDiving.Of(
		fmt.Sprintf(
			"%d of the crew who count %s not to dive. The rule books do not say whether they count; here "+
				"they do.",
			n, map[bool]string{true: "is", false: "are"}[n == 1]))
	f.Found = finding.Count(n, "crew")
	f.Params = map[string]any{"crew": n}
	return f
}

func notRaised(g *Group, r ruling) finding.Finding {
	f := LimitNotRaised.Of(fmt.Sprintf("A limit of %d was asked for; the limit stays %d.",
		*g.LoweredTo, r.places))
	f.Limit, f.Found = amount(r.places, "student"), amount(*g.LoweredTo, "student")
	f.Params = map[string]any{"asked": *g.LoweredTo, "places": r.places}
	return f
}

func depthNotKnown(b *Book, l *Line, g *Group) finding.Finding {
	limit := units.Read(l.MaxDepth.In(units.UnitMetre), units.UnitMetre)
	f := DepthNotKnown.Of(fmt.Sprintf("The figure holds down to %s, and no depth is planned yet (%s: %s).",
		limit, b.Title, l.Title))
	f.Source = b.cite()
	f.Limit = finding.Quantity(limit)
	if g.Bottom != nil {
		bottom := units.Read(units.RoundUp(g.Bottom.In(units.UnitMetre), 0.01), units.UnitMetre)
		f.Found = finding.Quantity(bottom)
		f.Message = fmt.Sprintf(
			"The figure holds down to %s, the site goes down to %s, and no depth is planned yet (%s: %s).",
			limit, bottom, b.Title, l.Title)
	}
	f.Params = map[string]any{"book": b.ID}
	return f
}
