package plans

import (
	"github.com/google/uuid"

	"tankside/internal/gasplan"
)

// BeforeAfter is one figure of two plans, nil in the plan that does not have the person.
type BeforeAfter struct{ Before, After *gasplan.Quantity }

// PersonDifference is the difference that a replan makes for one person.
type PersonDifference struct {
	ParticipantID                          *uuid.UUID
	Name                                   string
	Changed                                bool
	Start, Low, Turn, GasTime, ExpectedEnd BeforeAfter
}

// Difference is the difference between a plan and the one that it replaces.
type Difference struct {
	People                  []PersonDifference // in the order of the new plan, then those who are in it no more
	TurnAfter, LatestAscent BeforeAfter
}

// Difference returns the difference from the plan that this one replaces, nil where it
// replaces none.
func (p Plan) Difference() *Difference {
	if p.Before == nil {
		return nil
	}
	was, is := p.Before, p.Result
	out := Difference{TurnAfter: BeforeAfter{&was.Group.TurnAfter, &is.Group.TurnAfter},
		LatestAscent: BeforeAfter{&was.Group.LatestAscent, &is.Group.LatestAscent}}
	before := map[string]*gasplan.PersonResult{}
	for i := range was.People {
		before[was.People[i].Key] = &was.People[i]
	}
	for i := range is.People {
		out.People = append(out.People, difference(before[is.People[i].Key], &is.People[i]))
		delete(before, is.People[i].Key)
	}
	for i := range was.People {
		if left, ok := before[was.People[i].Key]; ok {
			out.People = append(out.People, difference(left, nil))
		}
	}
	return &out
}

// difference returns the difference between one person's figures; one of the two may be
// nil.
func difference(was, is *gasplan.PersonResult) PersonDifference {
	who := is
	if who == nil {
		who = was
	}
	out := PersonDifference{ParticipantID: who.ParticipantID, Name: who.Name}
	figure := func(of func(*gasplan.PersonResult) *gasplan.Quantity) BeforeAfter {
		var x BeforeAfter
		if was != nil {
			x.Before = of(was)
		}
		if is != nil {
			x.After = of(is)
		}
		out.Changed = out.Changed || x.Before == nil || x.After == nil || *x.Before != *x.After
		return x
	}
	out.Start = figure(func(p *gasplan.PersonResult) *gasplan.Quantity { return &p.Start })
	out.Low = figure(func(p *gasplan.PersonResult) *gasplan.Quantity { return &p.Low })
	out.Turn = figure(func(p *gasplan.PersonResult) *gasplan.Quantity { return &p.Turn })
	out.GasTime = figure(func(p *gasplan.PersonResult) *gasplan.Quantity { return &p.GasTime })
	out.ExpectedEnd = figure(func(p *gasplan.PersonResult) *gasplan.Quantity { return &p.ExpectedEnd })
	return out
}
