package syllabus

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// JudgeDive reports whether a dive counts as the training dive that it was done as: recorded, long
// enough and deep enough. A dive beyond its depth limit has happened and counts; it carries a
// caution.
func JudgeDive(s Syllabus, d DiveDone) (counts bool, found finding.List) {
	t := s.Dive(d.Number)
	if t == nil {
		f := UnknownDive.Say("The syllabus has no training dive {dive}.", d.Number).About(d.subjects()...)
		return false, finding.List{f}
	}
	found = append(d.longEnough(t), d.deepEnough(t)...)
	l := DepthLimit(s, d.Number, d.Age, Quantity{})
	if !l.Depth.IsZero() && d.Depth.sameKind(l.Depth) && d.Depth.compare(l.Depth) > 0 {
		f := DiveBeyondLimit.Say("Training dive {dive} went to {depth}; the limit is {limit}: {why}.",
			d.Number, d.Depth, l.Depth, l.Why).About(d.subjects()...)
		f.Source, f.Limit, f.Found = l.Source, l.Depth.amount(), d.Depth.amount()
		found = append(found, f)
	}
	return !d.Voided && !found.Forbids(), found
}

func (d DiveDone) subjects() []finding.Subject {
	return []finding.Subject{{Type: "dive", ID: d.ID}, {Type: "training_dive", ID: fmt.Sprint(d.Number)}}
}

func (d DiveDone) longEnough(t *TrainingDive) finding.List {
	if !d.Duration.is(units.Times) {
		return d.incomplete("its duration", "Record time in and time out.")
	}
	if d.Duration.compare(t.LeastDuration) >= 0 {
		return nil
	}
	f := DiveTooShort.Say("The dive lasted {time}; it counts as training dive {dive} from {least} on.",
		d.Duration, d.Number, t.LeastDuration).About(d.subjects()...)
	f.Source, f.Limit, f.Found = orRule(t.Source, DiveTooShort), t.LeastDuration.amount(), d.Duration.amount()
	f.Cures = []finding.Cure{{Code: "dive_again", Message: "Let the student do the dive again."}}
	return finding.List{f}
}

func (d DiveDone) deepEnough(t *TrainingDive) finding.List {
	if t.LeastDepth.IsZero() {
		return nil
	}
	if !d.Depth.is(units.Depths) {
		return d.incomplete("its greatest depth", "Record the greatest depth.")
	}
	if d.Depth.compare(t.LeastDepth) >= 0 {
		return nil
	}
	f := DiveTooShallow.Say("The dive went to {depth}; it counts as training dive {dive} from {least} on.",
		d.Depth, d.Number, t.LeastDepth).About(d.subjects()...)
	f.Source, f.Limit, f.Found = orRule(t.Source, DiveTooShallow), t.LeastDepth.amount(), d.Depth.amount()
	f.Cures = []finding.Cure{{Code: "dive_again", Message: "Let the student do the dive again."}}
	return finding.List{f}
}

func (d DiveDone) incomplete(what, cure string) finding.List {
	f := DiveIncomplete.Say("The dive does not count as training dive {dive} yet: {missing} is not recorded.",
		d.Number, what).About(d.subjects()...)
	f.Cures = []finding.Cure{{Code: "record_dive", Message: cure}}
	return finding.List{f}
}

func orRule(source string, r finding.Rule) string {
	if source == "" {
		return r.Source
	}
	return source
}

// diveReached returns whether a training dive is done or credited on that day.
func (st Standing) diveReached(s Syllabus, number int, by Day) reach {
	if st.diveCredit(number) != nil {
		return held
	}
	out := absent
	for _, d := range st.Dives {
		if d.Number != number {
			continue
		}
		if counts, _ := JudgeDive(s, d); !counts {
			continue
		}
		if by == "" || d.On <= by {
			return held
		}
		out = later
	}
	return out
}

// NextDive returns the number of the first training dive that is neither done nor
// credited, 0 when all are.
func NextDive(s Syllabus, st Standing) int {
	for _, d := range s.Dives {
		if st.diveReached(s, d.Number, "") == absent {
			return d.Number
		}
	}
	return 0
}

// diveTime returns the total duration of the training dives that count, credited ones included.
func (st Standing) diveTime(s Syllabus) Quantity {
	var total float64
	for _, d := range st.Dives {
		if counts, _ := JudgeDive(s, d); counts {
			total += units.Reading(d.Duration).Minutes()
		}
	}
	for _, c := range st.Credits {
		if !c.Voided && c.Dive != 0 && c.Duration.is(units.Times) {
			total += units.Reading(c.Duration).Minutes()
		}
	}
	return QuantityOf(total, units.UnitMinute)
}
