package syllabus

import (
	"fmt"
	"slices"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Validate returns everything that is wrong with a syllabus, each with a JSON pointer into it. A
// forbidden finding refuses the version. A caution marks where it asks for less than common
// practice. The other functions need a syllabus that Validate does not refuse.
func Validate(s Syllabus) finding.List {
	v := &check{s: s, codes: map[string]string{}}
	if !v.size() {
		return v.out
	}
	v.header()
	for i, p := range s.Theory {
		v.theory(fmt.Sprintf("/theory/%d", i), p)
	}
	for i, k := range s.Skills {
		at := fmt.Sprintf("/skills/%d", i)
		v.skill(at, k)
		v.prerequisites(at, k)
		v.criterion(at+"/criterion", k.Criterion)
	}
	v.order()
	for i, d := range s.Dives {
		v.dive(fmt.Sprintf("/dives/%d", i), i, d)
	}
	v.watermanship()
	v.practice()
	return v.out
}

// check collects what is wrong with a syllabus.
type check struct {
	s     Syllabus
	codes map[string]string // code of a skill or theory part -> where it was first seen
	out   finding.List
}

// add appends a finding of the rule at a place in the syllabus.
func (v *check) add(r finding.Rule, pointer, template string, parts ...any) {
	f := r.Say(template, parts...)
	f.In, f.Pointer = "body", pointer
	v.out = append(v.out, f)
}

// most is the largest number of skills, of theory parts and of dives in a syllabus; our choice, far
// above any course, so that judging stays quick.
const most = 200

// size reports whether the syllabus is small enough to be checked further.
func (v *check) size() bool {
	for _, part := range []struct {
		name string
		n    int
	}{{"theory", len(v.s.Theory)}, {"skills", len(v.s.Skills)}, {"dives", len(v.s.Dives)}} {
		if part.n > most {
			v.add(BadFigure, "/"+part.name, "There are {count} {what}; a syllabus has at most {most}.",
				part.n, part.name, most)
		}
	}
	return len(v.out) == 0
}

func (v *check) header() {
	v.code("/code", v.s.Code)
	v.text("/title", "title", v.s.Title)
	v.word("/level", string(v.s.Level), string(Introductory), string(EntryLevel), string(Supervised),
		string(Guided))
	if v.s.MinAge < 0 || v.s.MinAge > 100 {
		v.add(BadFigure, "/min_age", "The least age is {years} years; want 0 to 100.", v.s.MinAge)
	}
	if v.s.MostDivesADay < 0 || v.s.EvidenceDays < 0 {
		v.add(BadFigure, "", "Dives a day and days of evidence are counts, 0 for no limit.")
	}
	if !v.s.ConfinedMaxDepth.IsZero() {
		v.quantity("/confined_max_depth", "greatest depth in confined water",
			v.s.ConfinedMaxDepth, units.Depths)
	}
	if !v.s.LeastDiveTime.IsZero() {
		v.quantity("/least_dive_time", "least dive time", v.s.LeastDiveTime, units.Times)
	}
	for i, p := range v.s.SignerPapers {
		v.word(fmt.Sprintf("/signer_papers/%d", i), string(p), string(TeachingStatus), string(FirstAid),
			string(OxygenProvider), string(Insurance))
	}
	if len(v.s.Skills) == 0 {
		v.add(MissingText, "/skills", "The syllabus has no skills.")
	}
}

func (v *check) theory(at string, p TheoryPart) {
	v.code(at+"/code", p.Code)
	v.unique(at+"/code", p.Code)
	v.text(at+"/title", "title", p.Title)
	if p.PassMark.Unit != units.UnitPercent || p.PassMark.Value <= 0 || p.PassMark.Value > 100*100 {
		v.add(BadFigure, at+"/pass_mark",
			`The pass mark is "{pass_mark}"; want more than 0 and at most 100 percent.`, p.PassMark)
	}
}

func (v *check) skill(at string, k Skill) {
	v.code(at+"/code", k.Code)
	v.unique(at+"/code", k.Code)
	v.text(at+"/title", "title", k.Title)
	v.text(at+"/area", "area", string(k.Area))
	v.word(at+"/setting", string(k.Setting), string(Theory), string(Confined), string(Open))
	v.word(at+"/proof", string(k.Proof), string(Witnessed), string(Attempted), string(Measured))
	for i, r := range k.Roles {
		v.word(fmt.Sprintf("%s/roles/%d", at, i), string(r), string(Donor), string(Receiver))
	}
	if len(k.Roles) > 0 && k.Proof == Witnessed {
		v.add(BadFigure, at+"/proof",
			"A drill with roles asks for an attempt in each: its proof is \"attempt\" or \"measured\".")
	}
	if k.Proof == Measured && len(k.Criterion.measures()) == 0 {
		v.add(BadMeasure, at+"/criterion",
			"The proof of {skill} is measured, but its criterion has no measures.", k.name())
	}
	if k.EarliestDive < 0 || k.EarliestDive > len(v.s.Dives) {
		v.add(BadFigure, at+"/earliest_dive",
			"{skill} starts at training dive {dive}; the syllabus has {dives}.",
			k.name(), k.EarliestDive, len(v.s.Dives))
	}
	if k.EarliestDive > 0 && k.Setting != Open {
		v.add(BadFigure, at+"/earliest_dive",
			"{skill} is no open-water skill: training dives are in open water.", k.name())
	}
}

func (v *check) text(pointer, what, s string) {
	if strings.TrimSpace(s) == "" {
		v.add(MissingText, pointer, "The {what} is missing.", what)
	}
}

// word checks that a word is one of the known ones.
func (v *check) word(pointer, w string, known ...string) {
	if !slices.Contains(known, w) {
		v.add(UnknownWord, pointer, `"{word}" is not known here: want {known}.`, w, list(known, "or"))
	}
}

// code checks that a code is a short word of small letters, digits and hyphens.
func (v *check) code(pointer, code string) {
	if code == "" || len(code) > 60 || strings.Trim(code, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" ||
		strings.Trim(code, "-") != code {
		v.add(BadCode, pointer,
			`"{code}" is no code: use up to 60 small letters, digits and hyphens, like "gas-report".`, code)
	}
}

// unique checks that a code names only one skill or theory part.
func (v *check) unique(pointer, code string) {
	if first, taken := v.codes[code]; taken {
		v.add(DuplicateCode, pointer, `The code "{code}" is used already, at {at}.`, code, first)
		return
	}
	v.codes[code] = pointer
}

func (v *check) quantity(pointer, what string, q Quantity, d units.Dimension) {
	if !q.is(d) {
		v.add(BadFigure, pointer, `The {what} is "{value}"; want a {dimension} above zero with its unit.`,
			what, q, d)
	}
}
