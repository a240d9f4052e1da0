package readiness

import (
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// DepthLimit is a depth that a diver must not pass, why, and where that comes from.
type DepthLimit struct {
	Depth   units.Reading
	Because string
	Source  string
}

// Diver is a diver as the depth limits ask.
type Diver struct {
	Role     dayview.Role
	Age      int               // in whole years, on the day of the session
	Syllabus syllabus.Syllabus // that a student is taught by; of crew, that of the session
}

// DepthLimits returns a diver's own depth limits on a dive of a session, nil for every
// dive: the strictest of the syllabus, and for a student the strictest of the rule
// books.
func DepthLimits(v dayview.View, books []ratio.Book, who Diver, dive *uuid.UUID) (out []DepthLimit) {
	if l := taughtTo(v, who, dive); !l.Depth.IsZero() {
		out = append(out, DepthLimit{Depth: units.Reading(l.Depth), Because: l.Why, Source: l.Source})
	}
	if who.Role != dayview.Student {
		return out
	}
	if l := ratio.DepthLimit(books, v.Kind, v.Course.Level, who.Age); l.Depth > 0 {
		out = append(out, DepthLimit{Depth: units.Read(l.Depth.In(units.UnitMetre), units.UnitMetre),
			Because: l.Why, Source: l.Source})
	}
	return out
}

// taughtTo returns the strictest limit of the syllabus: a student's for the training
// dives that are made, crew's by age alone.
func taughtTo(v dayview.View, who Diver, dive *uuid.UUID) (least syllabus.Limit) {
	age := syllabus.Years(who.Age)
	add := func(l syllabus.Limit) {
		if least.Depth.IsZero() || !l.Depth.IsZero() &&
			units.Reading(l.Depth).Compare(units.Reading(least.Depth)) < 0 {
			least = l
		}
	}
	switch {
	case who.Role != dayview.Student:
		for _, d := range who.Syllabus.Dives {
			for _, a := range d.ByAge {
				if age < a.Under {
					add(syllabus.Limit{Depth: a.MaxDepth,
						Why: fmt.Sprintf("under %d, by the syllabus", a.Under), Source: d.Source})
				}
			}
		}
	case v.Kind == ratio.Confined:
		add(syllabus.Limit{Depth: who.Syllabus.ConfinedMaxDepth, Why: "confined water",
			Source: who.Syllabus.Sources["confined_max_depth"]})
	default:
		for _, n := range v.TrainingDives(dive) {
			add(syllabus.DepthLimit(who.Syllabus, n, age, syllabus.Quantity{}))
		}
	}
	return least
}
