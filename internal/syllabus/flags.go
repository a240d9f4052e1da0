package syllabus

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
)

// Flags returns findings for standing sign-offs and dives that rest on something that no longer
// stands, or that was met only after them. They still stand, and a forbidden flag blocks completion
// until it is cured.
//
// A sign-off's flag is lifted when what it rests on stands again as of its day. When that was shown
// again later, the flag is a caution, which the person who completes may accept with a reason; but
// a skill tried in open water before its confined-water skill was met stays forbidden. Failures
// before a sign-off that its signer did not accept are a caution too: a signer without coverage did
// not know of them.
func Flags(s Syllabus, st Standing) finding.List {
	var out finding.List
	for _, x := range st.SignOffs {
		if !x.Voided {
			out = append(out, signOffFlags(s, st, x)...)
		}
	}
	for _, d := range st.Dives {
		if counts, _ := JudgeDive(s, d); counts {
			out = append(out, diveFlags(s, st, d)...)
		}
	}
	return out
}

func signOffFlags(s Syllabus, st Standing, x SignOff) finding.List {
	var out finding.List
	k, who := s.nameOf(x.Skill), []finding.Subject{{Type: "sign_off", ID: x.ID}, {Type: "skill", ID: x.Skill}}
	flag := func(r finding.Rule, also finding.Subject, template string, parts ...any) {
		f := r.Say(template, parts...).About(append(who[:2:2], also)...)
		if r.ID == OutOfOrder.ID && !s.openAfterConfined(x.Skill, also.ID) {
			f.Severity = finding.Caution
		}
		f.Cures = basisCures()
		out = append(out, f)
	}
	tried := st.tried(x.Skill, x.On, x.Evidence)
	for _, code := range s.Before(x.Skill) {
		switch st.reached(code, tried) {
		case absent:
			flag(BasisGone, finding.Subject{Type: "prerequisite", ID: code},
				"The sign-off of {skill} rests on {prerequisite}, which does not stand.", k, s.nameOf(code))
		case later:
			flag(OutOfOrder, finding.Subject{Type: "prerequisite", ID: code},
				"{skill} was tried on {tried_on}, before {prerequisite} stood.", k, tried, s.nameOf(code))
		}
	}
	for _, id := range x.Evidence {
		if st.voided(id) {
			flag(BasisGone, finding.Subject{Type: "evidence", ID: id},
				"The sign-off of {skill} rests on evidence that was voided.", k)
		}
	}
	return slices.Concat(out, waterFlags(s, st, x), failureFlags(s, st, x))
}

func basisCures() []finding.Cure {
	return []finding.Cure{
		{Code: "restore_basis",
			Message: "Sign off again what it rests on, as witnessed before it, or record a credit."},
		{Code: "sign_again", Message: "Void this sign-off, and sign again on what stands."},
	}
}

// waterFlags returns what contradicts a sign-off that was made without coverage.
func waterFlags(s Syllabus, st Standing, x SignOff) finding.List {
	var out finding.List
	k, who := s.Skill(x.Skill), []finding.Subject{{Type: "sign_off", ID: x.ID}, {Type: "skill", ID: x.Skill}}
	if k == nil {
		return nil
	}
	c := SignOffRequest{Syllabus: s, Skill: x.Skill, Standing: st, On: x.On, Evidence: x.Evidence}
	if x.ByRule && c.evidence(k).Forbids() {
		f := BasisGone.Say(
			"The sign-off of {skill} rests on attempts of its day, and none that stands meets the criterion.",
			k.name()).About(who...)
		f.Cures = []finding.Cure{{Code: "record_attempt", Message: "Record the attempt as it was witnessed."},
			{Code: "sign_again", Message: "Void this sign-off, and sign again on what stands."}}
		out = append(out, f)
	}
	if x.Absent {
		f := SignedThoughAbsent.Say(
			"{skill} was signed off from a session in which roll call does not have the student as there.",
			k.name()).About(who...)
		f.Cures = []finding.Cure{{Code: "call_roll",
			Message: "Call the roll again, if the student was there."},
			{Code: "sign_again", Message: "Void this sign-off if it is for the wrong student."}}
		out = append(out, f)
	}
	return out
}

// openAfterConfined reports whether the first is an open-water skill and the
// second a confined-water skill.
func (s Syllabus) openAfterConfined(later, first string) bool {
	a, b := s.Skill(later), s.Skill(first)
	return a != nil && b != nil && a.Setting == Open && b.Setting == Confined
}

func diveFlags(s Syllabus, st Standing, d DiveDone) finding.List {
	var out finding.List
	flag := func(r finding.Rule, also finding.Subject, template string, parts ...any) {
		out = append(out, r.Say(template, parts...).About(append(d.subjects(), also)...))
	}
	for _, code := range s.DiveBefore(d.Number) {
		also := finding.Subject{Type: "prerequisite", ID: code}
		switch s.stands(st, code, d.On) {
		case absent:
			flag(BasisGone, also,
				"Training dive {dive} was done on {on} and comes after {prerequisite}, which does not stand.",
				d.Number, d.On, s.nameOf(code))
		case later:
			flag(DiveOutOfOrder, also, "Training dive {dive} was done on {on}, before {prerequisite} stood.",
				d.Number, d.On, s.nameOf(code))
		}
	}
	if n := d.Number - 1; n > 0 && st.diveReached(s, n, d.On) != held {
		flag(DiveOutOfOrder, finding.Subject{Type: "training_dive", ID: fmt.Sprint(n)},
			"Training dive {dive} was done on {on}, before dive {earlier_dive}.", d.Number, d.On, n)
	}
	return out
}

// CompletionFlags returns findings for the facts under a standing completion that were voided after
// it was granted. The completion stands, flagged, until its signer voids it too.
func CompletionFlags(completion string, restsOn []string, st Standing) finding.List {
	var out finding.List
	for _, id := range restsOn {
		if !st.voided(id) {
			continue
		}
		f := BasisGone.Of("The completion rests on something that was voided since.",
			finding.Subject{Type: "completion", ID: completion},
			finding.Subject{Type: "enrolment", ID: st.Enrolment}, finding.Subject{Type: "basis", ID: id})
		f.Cures = []finding.Cure{{Code: "void_completion",
			Message: "Void the completion, put right what is missing, and complete again."}}
		out = append(out, f)
	}
	return out
}

// about returns the findings that have that subject.
func about(l finding.List, kind, id string) finding.List {
	var out finding.List
	for _, f := range l {
		if len(f.Subjects) > 0 && f.Subjects[0] == (finding.Subject{Type: kind, ID: id}) {
			out = append(out, f)
		}
	}
	return out
}
