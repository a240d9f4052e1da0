package planning

import (
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/when"
)

// limits gives a participant's own depth limits: the strictest of the syllabus,
// and for a student the strictest of the rule books that the centre applies.
func (st planStage) limits(p planPart, dive *uuid.UUID) []DepthLimit {
	age := when.Age(p.BirthOn, st.OnDay)
	var out []DepthLimit
	if l := st.taughtTo(p, syllabus.Years(age), dive); !l.Depth.IsZero() {
		out = append(out, DepthLimit{Depth: Of(units.Reading(l.Depth)), Because: l.Why, Source: l.Source})
	}
	if p.Role != "student" {
		return out
	}
	if l := ratio.DepthLimit(st.books, st.Kind, st.Course.Level, age); l.Depth > 0 {
		out = append(out, DepthLimit{Depth: Of(units.Read(l.Depth.In(units.UnitMetre), units.UnitMetre)), Because: short(l.Why, 200), Source: short(l.Source, 300)})
	}
	return out
}

// short cuts a text to so many characters, the most that the contract lets a
// depth limit have.
func short(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// taughtTo gives the strictest limit of the dives that the plan is for: a
// student's by the syllabus that they are taught by, crew's by age alone.
func (st planStage) taughtTo(p planPart, age syllabus.Years, dive *uuid.UUID) syllabus.Limit {
	y := st.taught[st.syllabus]
	if p.TaughtBy != nil {
		y = st.taught[*p.TaughtBy]
	}
	var least syllabus.Limit
	add := func(l syllabus.Limit) {
		if least.Depth.IsZero() || !l.Depth.IsZero() && units.Reading(l.Depth).Compare(units.Reading(least.Depth)) < 0 {
			least = l
		}
	}
	switch {
	case p.Role != "student":
		for _, d := range y.Dives {
			for _, a := range d.ByAge {
				if age < a.Under {
					add(syllabus.Limit{Depth: a.MaxDepth, Why: fmt.Sprintf("under %d, by the syllabus", a.Under), Source: d.Source})
				}
			}
		}
	case st.Kind == ratio.Confined:
		add(syllabus.Limit{Depth: y.ConfinedMaxDepth, Why: "confined water", Source: y.Sources["confined_max_depth"]})
	default:
		for _, n := range st.numbers(dive) {
			add(syllabus.DepthLimit(y, n, age, syllabus.Quantity{}))
		}
	}
	return least
}
