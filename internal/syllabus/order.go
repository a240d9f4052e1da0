package syllabus

import (
	"fmt"

	"tankside/internal/finding"
)

// order returns a finding for each skill that comes before this one and does not stand as witnessed
// by the day on which this one was first tried for the sign-off.
func (c SignOffRequest) order(k *Skill) finding.List {
	var out finding.List
	tried := c.Standing.tried(k.Code, c.On, c.Evidence)
	for _, code := range c.Syllabus.Before(k.Code) {
		switch c.Standing.reached(code, tried) {
		case absent:
			out = append(out, c.notYet(k, code))
		case later:
			out = append(out, c.afterwards(k, code, tried))
		}
	}
	return out
}

func (c SignOffRequest) notYet(k *Skill, code string) finding.Finding {
	rule, first := PrerequisiteOpen, c.Syllabus.Skill(code)
	switch {
	case k.Setting == Open && first != nil && first.Area == Watermanship:
		rule = WatermanshipFirst
	case k.Setting == Open && first != nil && first.Setting == Confined:
		rule = ConfinedFirst
	}
	name := c.Syllabus.nameOf(code)
	f := rule.Say("{skill} comes after {earlier}, which is neither signed off nor credited.", k.name(), name).
		About(append(c.subjects(), finding.Subject{Type: "prerequisite", ID: code})...).
		With("code", k.Code).With("prerequisite", code)
	f.Cures = []finding.Cure{
		{Code: "sign_prerequisite", Message: fmt.Sprintf("Sign off %s first.", name)},
		{Code: "record_credit", Message: "Record a credit, if it was done at another centre."},
	}
	return f
}

// tried returns the earliest day of a sign-off and of the attempts that it rests on.
func (st Standing) tried(skill string, on Day, evidence []string) Day {
	for _, id := range evidence {
		if a := st.attempt(id); a != nil && a.Skill == skill && a.On < on {
			on = a.On
		}
	}
	return on
}

func (c SignOffRequest) afterwards(k *Skill, code string, tried Day) finding.Finding {
	name, on := c.Syllabus.nameOf(code), c.Standing.signOff(code).On
	f := OutOfOrder.Say("{skill} comes after {earlier}, which was witnessed only on {on}, after {code} was tried on "+
		"{tried_on}.", k.name(), name, on, k.Code, tried).
		About(append(c.subjects(), finding.Subject{Type: "prerequisite", ID: code})...).With("prerequisite",
		code)
	f.Limit, f.Found = finding.Day(string(on)), finding.Day(string(tried))
	f.Cures = []finding.Cure{{Code: "try_again",
		Message: fmt.Sprintf("Let the student do it again on %s or later, and sign that off.", on)}}
	return f
}
