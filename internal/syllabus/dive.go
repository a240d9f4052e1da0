package syllabus

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Limit is a depth limit with its reason. A zero Depth means that no limit is known.
type Limit struct {
	Depth  Quantity
	Why    string
	Source string
}

// DepthLimit returns the least of the limits for a training dive: the dive's own, that for the
// student's age, and the site's greatest depth where it is known. A number that the syllabus does
// not have gets the strictest dive's limit. It is a limit for plans; it does not call a dive to it
// safe.
func DepthLimit(s Syllabus, number int, age Years, siteMax Quantity) Limit {
	out := Limit{Depth: siteMax, Why: "the site is no deeper", Source: "the site's greatest depth"}
	if !siteMax.is(units.Depths) {
		out = Limit{}
	}
	for _, d := range s.Dives {
		if s.Dive(number) != nil && d.Number != number {
			continue
		}
		out = out.orLess(d.MaxDepth, fmt.Sprintf("training dive %d", d.Number), d.Source)
		for _, a := range d.ByAge {
			if age < a.Under {
				out = out.orLess(a.MaxDepth, fmt.Sprintf("under %d on training dive %d", a.Under, d.Number),
					d.Source)
			}
		}
	}
	return out
}

// orLess returns the shallower of the limit and another depth.
func (l Limit) orLess(q Quantity, why, source string) Limit {
	if q.is(units.Depths) && (l.Depth.IsZero() || q.compare(l.Depth) < 0) {
		return Limit{q, why, source}
	}
	return l
}

// DiveRequest is a student's plan to enter the water. To judge the second dive of a plan, pass a
// Standing that has the first one done.
type DiveRequest struct {
	Syllabus Syllabus
	Standing Standing
	Setting  Setting // Confined or Open
	Number   int     // the training dive, 0 in confined water
	On       Day
	Age      Years    // on that day
	Depth    Quantity // planned, zero when not yet known
	SiteMax  Quantity // of the site, zero when not known
}

// MayDive returns what the syllabus has against the student entering the water, as a plan. In open
// water the theory, watermanship and confined-water skills that the dive asks for have to stand,
// the dive before has to be done, and the dives a day are limited. Papers, fitness and groups have
// rules of their own. No finding does not mean that the dive is safe.
func MayDive(c DiveRequest) finding.List {
	out := append(c.Standing.mustBeActive(), c.oldEnough()...)
	if c.Setting != Open {
		limit := Limit{}.orLess(c.Syllabus.ConfinedMaxDepth, "confined water",
			c.Syllabus.source("confined_max_depth", DepthOverLimit))
		return append(out, c.depth(limit)...)
	}
	if c.Syllabus.Dive(c.Number) == nil {
		out = append(out, UnknownDive.Say("The syllabus has no training dive {dive}.", c.Number).
			About(c.subjects()...))
	}
	out = append(out, c.prerequisites()...)
	out = append(out, c.inOrder()...)
	out = append(out, c.perDay()...)
	return append(out, c.depth(DepthLimit(c.Syllabus, c.Number, c.Age, c.SiteMax))...)
}

func (c DiveRequest) subjects() []finding.Subject {
	return []finding.Subject{{Type: "enrolment", ID: c.Standing.Enrolment},
		{Type: "training_dive", ID: fmt.Sprint(c.Number)}}
}

func (c DiveRequest) oldEnough() finding.List {
	return c.Syllabus.oldEnough(c.Age, c.Standing.Enrolment)
}

func (s Syllabus) oldEnough(age Years, enrolment string) finding.List {
	if age >= s.MinAge {
		return nil
	}
	f := TooYoung.Say("The student is {age} on that day; the syllabus is for those of {least_age} and over.",
		age, s.MinAge).About(finding.Subject{Type: "enrolment", ID: enrolment})
	f.Source = s.source("min_age", TooYoung)
	f.Limit, f.Found = finding.Count(int(s.MinAge), "years"), finding.Count(int(age), "years")
	return finding.List{f}
}

// prerequisites returns findings for the skills and theory parts that do not stand, of those that
// the dive, or one before it, asks for.
func (c DiveRequest) prerequisites() finding.List {
	var out finding.List
	for _, code := range c.Syllabus.DiveBefore(c.Number) {
		if c.Syllabus.stands(c.Standing, code, c.On) == held {
			continue
		}
		rule := DivePrerequisite
		if k := c.Syllabus.Skill(code); k != nil && k.Area == Watermanship {
			rule = WatermanshipFirst
		}
		name := c.Syllabus.nameOf(code)
		f := rule.Say("Training dive {dive} comes after {earlier}, which does not stand on {on}.", c.Number,
			name, c.On).
			About(append(c.subjects(), finding.Subject{Type: "prerequisite", ID: code})...).
			With("prerequisite", code)
		f.Cures = []finding.Cure{
			{Code: "sign_prerequisite", Message: fmt.Sprintf("Finish %s first.", name)},
			{Code: "record_credit", Message: "Record a credit, if it was done at another centre."},
		}
		out = append(out, f)
	}
	return out
}

// stands returns whether a skill or theory part stands on that day.
func (s Syllabus) stands(st Standing, code string, by Day) reach {
	if p := s.TheoryPart(code); p != nil {
		return st.passed(p, by)
	}
	return st.reached(code, by)
}

// inOrder returns a finding unless the training dive before this one is done or credited.
func (c DiveRequest) inOrder() finding.List {
	n := c.Number - 1
	if n < 1 || c.Syllabus.Dive(n) == nil || c.Standing.diveReached(c.Syllabus, n, c.On) == held {
		return nil
	}
	f := DiveOrder.Say(
		"Training dive {dive} comes after dive {earlier_dive}, which is neither done nor credited.",
		c.Number, n).About(c.subjects()...)
	f.Cures = []finding.Cure{
		{Code: "dive_before", Message: fmt.Sprintf("Let the student do training dive %d first.", n)},
		{Code: "record_credit", Message: "Record a credit, if it was done at another centre."},
	}
	return finding.List{f}
}

// perDay returns a finding where the student has more open-water dives on that day, training dives
// or not, than the syllabus allows.
func (c DiveRequest) perDay() finding.List {
	n := 1
	for _, d := range c.Standing.Dives {
		if !d.Voided && d.On == c.On {
			n++
		}
	}
	if most := c.Syllabus.MostDivesADay; most == 0 || n <= most {
		return nil
	}
	f := TooManyDives.Say("This would be open-water dive {dives} on {on}; the syllabus allows {limit} a day.",
		n, c.On, c.Syllabus.MostDivesADay).About(c.subjects()...)
	f.Source = c.Syllabus.source("most_dives_a_day", TooManyDives)
	f.Limit, f.Found = finding.Count(c.Syllabus.MostDivesADay, "dives"), finding.Count(n, "dives")
	f.Cures = []finding.Cure{{Code: "other_day", Message: "Do the dive on another day."}}
	return finding.List{f}
}

func (c DiveRequest) depth(l Limit) finding.List {
	if l.Depth.IsZero() || !c.Depth.sameKind(l.Depth) || c.Depth.compare(l.Depth) <= 0 {
		return nil
	}
	f := DepthOverLimit.Say("The dive is planned to {depth}; the limit is {limit}: {why}.",
		c.Depth, l.Depth, l.Why).About(c.subjects()...)
	f.Source, f.Limit, f.Found = l.Source, l.Depth.amount(), c.Depth.amount()
	f.Cures = []finding.Cure{{Code: "plan_shallower",
		Message: fmt.Sprintf("Plan the dive to %s at most.", l.Depth)}}
	return finding.List{f}
}
