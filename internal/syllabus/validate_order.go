package syllabus

import (
	"fmt"
	"slices"
	"strings"
)

// prerequisites checks that every skill named exists, and that confined water comes before open
// water.
func (v *check) prerequisites(at string, k Skill) {
	for i, p := range k.Prerequisites {
		pointer := fmt.Sprintf("%s/prerequisites/%d", at, i)
		switch {
		case v.s.Skill(p) == nil:
			v.add(UnknownPrerequisite, pointer,
				`{skill} comes after "{prerequisite}", which is no skill of the syllabus.`, k.name(), p)
		case slices.Index(k.Prerequisites, p) < i:
			v.add(DuplicateCode, pointer, `"{code}" is named twice.`, p)
		}
	}
	if k.Repeats != "" {
		v.repeats(at+"/repeats", k)
	} else if k.Setting == Open && k.TouchesGas {
		v.add(UntriedInConfined, at+"/repeats",
			"{skill} touches gas and is done in open water: name the confined-water skill that it repeats.",
			k.name())
	}
}

func (v *check) repeats(at string, k Skill) {
	first := v.s.Skill(k.Repeats)
	switch {
	case first == nil:
		v.add(UnknownPrerequisite, at, `{skill} repeats "{repeated}", which is no skill of the syllabus.`,
			k.name(), k.Repeats)
	case first.Setting != Confined || k.Setting != Open:
		v.add(UntriedInConfined, at,
			"{skill} repeats {repeated}: only an open-water skill repeats, and only a confined-water one.",
			k.name(), first.name())
	}
}

// order checks that no skill comes before itself, and no confined-water skill after an open-water
// one.
func (v *check) order() {
	for i, k := range v.s.Skills {
		before := v.allBefore(k.Code)
		at := fmt.Sprintf("/skills/%d/prerequisites", i)
		if path, ok := before[k.Code]; ok {
			v.add(PrerequisiteCycle, at, "{skill} comes before itself: {path}.",
				k.name(), strings.Join(path, " after "))
			continue
		}
		for _, code := range sortedKeys(before) {
			if x := v.s.Skill(code); k.Setting == Confined && x.Setting == Open {
				v.add(ConfinedAfterOpen, at,
					"{skill} is for confined water and comes after {prerequisite}, which is for open water.",
					k.name(), x.name())
			}
		}
	}
}

// allBefore returns every known skill that comes directly or indirectly before one, each with the
// skills on the way there.
func (v *check) allBefore(code string) map[string][]string {
	out := map[string][]string{}
	var visit func(code string, path []string)
	visit = func(code string, path []string) {
		for _, p := range v.s.Before(code) {
			if _, seen := out[p]; seen || v.s.Skill(p) == nil {
				continue
			}
			out[p] = append(slices.Clone(path), p)
			visit(p, out[p])
		}
	}
	visit(code, []string{code})
	return out
}

// criterion checks that a criterion has a text, and limits that can be held.
func (v *check) criterion(at string, c Criterion) {
	if c.Text == "" {
		v.add(MissingCriterion, at+"/text", "The criterion is missing: say what must be seen.")
	}
	names := map[string]bool{}
	for i, m := range c.Measures {
		v.measure(fmt.Sprintf("%s/measures/%d", at, i), m, names)
	}
	for i, w := range c.EitherOf {
		where := fmt.Sprintf("%s/either_of/%d", at, i)
		v.text(where+"/title", "title", w.Title)
		if len(w.Measures) == 0 {
			v.add(BadMeasure, where+"/measures", "This way has no measures, so that anything would meet it.")
		}
		for j, m := range w.Measures {
			v.measure(fmt.Sprintf("%s/measures/%d", where, j), m, names)
		}
	}
}

func (v *check) measure(at string, m Measure, names map[string]bool) {
	v.code(at+"/name", m.Name)
	if names[m.Name] {
		v.add(DuplicateCode, at+"/name", `The criterion has the measure "{measure}" twice.`, m.Name)
	}
	names[m.Name] = true
	switch {
	case m.AtLeast == nil && m.AtMost == nil:
		v.add(BadMeasure, at, `The measure "{measure}" has no limit.`, m.Name)
	case m.AtLeast != nil && m.AtMost != nil && !m.AtLeast.sameKind(*m.AtMost):
		v.add(BadMeasure, at, `The limits of "{measure}" are {least} and {most}, which cannot be compared.`,
			m.Name, m.AtLeast, m.AtMost)
	case m.AtLeast != nil && m.AtMost != nil && m.AtLeast.compare(*m.AtMost) > 0:
		v.add(BadMeasure, at, "Nothing is at least {least} and at most {most}.", m.AtLeast, m.AtMost)
	}
	for _, q := range []*Quantity{m.AtLeast, m.AtMost} {
		if q != nil && (q.Value < 0 || (q.Unit != "" && !q.Unit.Known())) {
			v.add(BadMeasure, at, `The limit {limit} of "{measure}" is no quantity of a known unit.`, q,
				m.Name)
		}
		if q != nil && q.Unit == "" && q.Value%100 != 0 {
			v.add(BadMeasure, at, `The limit {limit} of "{measure}" is a count and no whole number.`, q,
				m.Name)
		}
	}
}
