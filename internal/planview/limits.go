package planview

import (
	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/gasplan"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/when"
)

// depthLimits returns a diver's own depth limits on a dive, nil for every dive of the
// session, in the form in which a plan keeps them.
func (s Session) depthLimits(d Diver, dive *uuid.UUID) (out []gasplan.DepthLimit) {
	by := s.course
	if d.TaughtBy != nil {
		by = *d.TaughtBy
	}
	who := readiness.Diver{Role: dayview.Role(d.Role), Age: when.Age(d.BirthOn, s.OnDay),
		Syllabus: s.syllabuses[by]}
	for _, l := range readiness.DepthLimits(s.View, s.books, who, dive) {
		out = append(out, gasplan.DepthLimit{Depth: gasplan.Of(l.Depth),
			Because: shortened(l.Because, mostBecause), Source: shortened(l.Source, mostSource)})
	}
	return out
}

// The greatest lengths of a depth limit's texts in the contract, in characters.
const (
	mostBecause = 200
	mostSource  = 300
)

// shortened returns a text of at most so many characters.
func shortened(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// LeastTime returns how long a dive must last to count, or the longest of all dives of
// the session for nil; it is nil where the syllabus has no least duration.
func (s Session) LeastTime(dive *uuid.UUID) *gasplan.Quantity {
	var most units.Reading
	y := s.syllabuses[s.course]
	for _, n := range s.TrainingDives(dive) {
		if d := y.Dive(n); d != nil && d.LeastDuration.Unit.Dimension() == units.Times &&
			(most.IsZero() || units.Reading(d.LeastDuration).Compare(most) > 0) {
			most = units.Reading(d.LeastDuration)
		}
	}
	if most.IsZero() || s.Kind != ratio.Open {
		return nil
	}
	return new(gasplan.Of(most))
}

// GreatestDepth returns the greatest depth that a dive may have, or any dive of the
// session for nil: the training dive's, or that of confined water, and no more than the
// site's. It is nil where none of these is known.
func (s Session) GreatestDepth(dive *uuid.UUID) *gasplan.Quantity {
	y := s.syllabuses[s.course]
	var most units.Reading
	add := func(q syllabus.Quantity) {
		if r := units.Reading(q); r.Unit.Dimension() == units.Depths && (most.IsZero() || r.Compare(most) > 0) {
			most = r
		}
	}
	if s.Kind == ratio.Confined {
		add(y.ConfinedMaxDepth)
	}
	for _, n := range s.TrainingDives(dive) {
		if d := y.Dive(n); d != nil {
			add(d.MaxDepth)
		}
	}
	site := quantity(s.Site.MaxDepth)
	if most.IsZero() || site != nil && gasplan.Less(*site, gasplan.Of(most), units.Depths) {
		return site
	}
	return new(gasplan.Of(most))
}

// quantity returns a reading as a quantity of a plan, nil for nil.
func quantity(r *units.Reading) *gasplan.Quantity {
	if r == nil {
		return nil
	}
	return new(gasplan.Of(*r))
}
