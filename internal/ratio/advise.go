package ratio

import (
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
	f := ConditionOfBook.Say("{title} asks for judgement: {condition}.", b.Title, c.Text)
	if c.Cause != ByEye {
		found := c.Cause.measured(g)
		f = ConditionOfBook.Say("{title} ({found}) asks for judgement: {condition}.", b.Title, *found, c.Text).
			With("cause", string(c.Cause))
		f.Found = found
	}
	f.Source = b.cite()
	return f.With("book", b.ID)
}

func demanding(c Cause, g *Group) finding.Finding {
	found := c.measured(g)
	f := DemandingConditions.Say(
		"Demanding conditions ({found}): the instructor reduces the number as conditions dictate.", *found)
	f.Found = found
	return f.With("cause", string(c))
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
	f := ReducedByConditions.Say("In these conditions the limit is {places} instead of {usual} ({title}).",
		r.places, usual, r.book.Title)
	f.Source = r.book.cite()
	f.Limit = amount(r.places, "student")
	return f.With("fewer", fewer).With("book", r.book.ID)
}

func notCounted(g *Group) finding.Finding {
	f := AssistantNotCounted.Say("Not counted: {assistants}. An assistant counts who is active and insured.",
		*amount(g.Uncounted, "assistant"))
	f.Found = amount(g.Uncounted, "assistant")
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
	f := CrewNotDiving.Say("Crew who count and do not dive: {crew}. The rule books do not say whether they count; "+
		"here they do.", n)
	f.Found = finding.Count(n, "crew")
	return f
}

func notRaised(g *Group, r ruling) finding.Finding {
	f := LimitNotRaised.Say("A limit of {asked} was asked for; the limit stays {places}.", *g.LoweredTo,
		r.places)
	f.Limit, f.Found = amount(r.places, "student"), amount(*g.LoweredTo, "student")
	return f
}

func depthNotKnown(b *Book, l *Line, g *Group) finding.Finding {
	limit := units.Read(l.MaxDepth.In(units.UnitMetre), units.UnitMetre)
	f := DepthNotKnown.Say("The figure holds down to {limit}, and no depth is planned yet ({title}: {line}).",
		limit, b.Title, l.Title)
	if g.Bottom != nil {
		bottom := units.Read(units.RoundUp(g.Bottom.In(units.UnitMetre), 0.01), units.UnitMetre)
		f = DepthNotKnown.Say("The figure holds down to {limit}, the site goes down to {bottom}, and no depth is "+
			"planned yet ({title}: {line}).", limit, bottom, b.Title, l.Title)
		f.Found = finding.Quantity(bottom)
	}
	f.Source = b.cite()
	f.Limit = finding.Quantity(limit)
	return f.With("book", b.ID)
}
