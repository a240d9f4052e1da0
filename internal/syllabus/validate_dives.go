package syllabus

import (
	"fmt"
	"slices"

	"tankside/internal/units"
)

// ceilings are the greatest depths of training dives by level, in metres and
// as the trade writes them in feet. Introductory: common practice (memory);
// supervised: 12 m, ISO 24801-1; entry level: 20 m, ISO 24801-2 cl. 4, which
// most instructor manuals keep to 18 m; guided: common practice (memory).
var ceilings = map[Level][2]Quantity{
	Introductory: {QuantityOf(12, units.UnitMetre), QuantityOf(40, units.UnitFoot)},
	Supervised:   {QuantityOf(12, units.UnitMetre), QuantityOf(40, units.UnitFoot)},
	EntryLevel:   {QuantityOf(20, units.UnitMetre), QuantityOf(65, units.UnitFoot)},
	Guided:       {QuantityOf(40, units.UnitMetre), QuantityOf(130, units.UnitFoot)},
}

// child is the age under which divers stay above childDepth: instructor manuals
// (read).
const child Years = 12

var childDepth = [2]Quantity{QuantityOf(12, units.UnitMetre), QuantityOf(40, units.UnitFoot)}

// deeper reports whether a depth is over the ceiling, in the unit in which it is written.
func (q Quantity) deeper(ceiling [2]Quantity) bool {
	if q.Unit == units.UnitFoot {
		return q.compare(ceiling[1]) > 0
	}
	return q.is(units.Depths) && q.compare(ceiling[0]) > 0
}

func (v *check) dive(at string, i int, d TrainingDive) {
	if d.Number != i+1 {
		v.add(DiveNumbers, at+"/number",
			"Training dives are numbered from 1 in order; this one is {number}, want {wanted}.",
			d.Number, i+1)
	}
	v.quantity(at+"/max_depth", "greatest depth", d.MaxDepth, units.Depths)
	v.quantity(at+"/least_duration", "least duration", d.LeastDuration, units.Times)
	if !d.LeastDepth.IsZero() {
		v.quantity(at+"/least_depth", "least depth", d.LeastDepth, units.Depths)
		if d.LeastDepth.sameKind(d.MaxDepth) && d.LeastDepth.compare(d.MaxDepth) > 0 {
			v.add(BadFigure, at+"/least_depth", "Dive {dive} is at least {least} and at most {most} deep.",
				d.Number, d.LeastDepth, d.MaxDepth)
		}
	}
	if c, ok := ceilings[v.s.Level]; ok && d.MaxDepth.deeper(c) {
		v.add(DiveLimit, at+"/max_depth",
			"Dive {dive} goes to {depth}; a dive at this level goes to {limit} at most.",
			d.Number, d.MaxDepth, c[0])
	}
	v.children(at, d)
	v.divePrerequisites(at, d)
}

// divePrerequisites checks that a dive comes after known skills and theory parts, and after none that
// may only be tried on the dive itself or a later one.
func (v *check) divePrerequisites(at string, d TrainingDive) {
	for j, p := range d.Prerequisites {
		if v.s.Skill(p) == nil && v.s.TheoryPart(p) == nil {
			v.add(UnknownPrerequisite, fmt.Sprintf("%s/prerequisites/%d", at, j),
				`Dive {dive} comes after "{prerequisite}", which is neither a skill nor a theory part.`,
				d.Number, p)
		}
		if k := v.s.Skill(p); k != nil && k.Setting == Open && max(1, k.EarliestDive) >= d.Number {
			v.add(DiveOutOfReach, fmt.Sprintf("%s/prerequisites/%d", at, j),
				"Dive {dive} comes after {prerequisite}, which may be tried on dive {earliest_dive} at the "+
					"earliest.", d.Number, k.name(), max(1, k.EarliestDive))
		}
	}
}

// children checks that a dive deeper than childDepth has a limit for the youngest.
func (v *check) children(at string, d TrainingDive) {
	limited := !d.MaxDepth.deeper(childDepth)
	for i, a := range d.ByAge {
		where := fmt.Sprintf("%s/by_age/%d", at, i)
		v.quantity(where+"/max_depth", "greatest depth", a.MaxDepth, units.Depths)
		if a.Under <= 0 || a.Under > 100 {
			v.add(BadFigure, where+"/under", "The age is {years} years; want 1 to 100.", a.Under)
		}
		limited = limited ||
			(a.Under >= child && a.MaxDepth.is(units.Depths) && !a.MaxDepth.deeper(childDepth))
	}
	if !limited && v.s.MinAge < child {
		v.add(DiveLimit, at+"/by_age",
			"Dive {dive} goes to {depth} and students may be {least_age}; those under {under} stay above "+
				"{limit}.", d.Number, d.MaxDepth, v.s.MinAge, child, childDepth[0])
	}
}

// watermanship checks that swimming and floating come before the first open-water dive of an
// entry-level syllabus.
func (v *check) watermanship() {
	if v.s.Level != EntryLevel || len(v.s.Dives) == 0 {
		return
	}
	found := false
	for _, k := range v.s.Skills {
		if k.Area != Watermanship {
			continue
		}
		found = true
		if !slices.Contains(v.s.Dives[0].Prerequisites, k.Code) {
			v.add(WatermanshipMissing, "/dives/0/prerequisites",
				"{skill} is watermanship and must come before the first open-water dive.", k.name())
		}
	}
	if !found {
		v.add(WatermanshipMissing, "/skills", "The syllabus has no skill in the area \"watermanship\".")
	}
}

// practice adds cautions where an entry-level syllabus asks for less than instructor manuals do.
func (v *check) practice() {
	if v.s.Level != EntryLevel {
		return
	}
	if v.s.MinAge < 10 {
		v.add(BelowPractice, "/min_age", "The least age is {years} years; common practice is 10.", v.s.MinAge)
	}
	if len(v.s.Dives) < 4 {
		v.add(BelowPractice, "/dives", "There are {dives} training dives; common practice is at least 4.",
			len(v.s.Dives))
	}
	if !v.s.LeastDiveTime.lasts(80) {
		v.add(BelowPractice, "/least_dive_time",
			"The training dives last less than 80 min in all, which is common practice.")
	}
	if v.s.MostDivesADay == 0 || v.s.MostDivesADay > 3 {
		v.add(BelowPractice, "/most_dives_a_day",
			"More than 3 training dives a day are allowed; common practice is at most 3.")
	}
	v.shortDives()
	for _, p := range []PaperKind{TeachingStatus, FirstAid} {
		if !slices.Contains(v.s.SignerPapers, p) {
			v.add(BelowPractice, "/signer_papers",
				"A signer needs no valid {paper}; common practice asks for it.", p)
		}
	}
}

// lasts reports whether the quantity is a time of at least so many minutes.
func (q Quantity) lasts(minutes float64) bool {
	return q.is(units.Times) && units.Reading(q).Minutes() >= minutes
}

// shortDives adds a caution for each dive that counts after less time than is common practice.
func (v *check) shortDives() {
	for i, d := range v.s.Dives {
		if d.LeastDuration.is(units.Times) && !d.LeastDuration.lasts(15) {
			v.add(BelowPractice, fmt.Sprintf("/dives/%d/least_duration", i),
				"Dive {dive} counts from {least} on; common practice is 15 min.", d.Number, d.LeastDuration)
		}
	}
}
