package syllabus

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
)

// Evidence returns the ids of the attempts that a sign-off rests on when its signer names none.
// They are the attempts of the day that is signed for that count: not voided, met by the criterion,
// in the right setting. For a role without such an attempt on that day they are the earlier ones
// that are not too old on the day of signing.
func Evidence(s Syllabus, st Standing, skill string, on, signed Day) []string {
	k := s.Skill(skill)
	if k == nil {
		return nil
	}
	shown := map[Role]bool{}
	for _, a := range st.Attempts {
		if a.Skill == skill && a.On == on && k.unfit(a) == "" {
			shown[a.Role] = true
		}
	}
	var out []string
	for _, a := range st.Attempts {
		_, old := s.tooOld(a, max(on, signed))
		if a.Skill == skill && k.unfit(a) == "" && (a.On == on || a.On < on && !shown[a.Role] && !old) {
			out = append(out, a.ID)
		}
	}
	return out
}

// tooOld returns the age of an attempt in days, and whether it is older than
// evidence may be.
func (s Syllabus) tooOld(a Attempt, signed Day) (days int, old bool) {
	days, ok := signed.since(a.On)
	return days, ok && s.EvidenceDays > 0 && days > s.EvidenceDays
}

// unfit returns why an attempt is no evidence of the skill, "" when it is evidence.
func (k *Skill) unfit(a Attempt) string {
	switch {
	case a.Voided:
		return "it was voided"
	case a.Skill != k.Code:
		return fmt.Sprintf("it was an attempt at %q", a.Skill)
	case k.Setting != Theory && a.Setting != k.Setting:
		return fmt.Sprintf("it was made in %s, the skill is for %s", a.Setting.words(), k.Setting.words())
	case k.EarliestDive > 0 && a.Dive > 0 && a.Dive < k.EarliestDive:
		return fmt.Sprintf("it was made on training dive %d, the skill may be tried from dive %d on",
			a.Dive, k.EarliestDive)
	case !a.Met:
		return "its witness says \"not yet\""
	}
	if met, found := JudgeAttempt(*k, a); !met {
		return "its record fails the criterion: " + found.Only(finding.Forbidden)[0].Message
	}
	return ""
}

// evidence returns findings on the evidence: where the skill asks for an attempt, each of its roles
// needs a fit one, and no cited attempt may be unfit.
func (c SignOffRequest) evidence(k *Skill) finding.List {
	var out finding.List
	var fit []*Attempt
	for _, id := range c.Evidence {
		a := c.Standing.attempt(id)
		if f := c.unfitEvidence(k, id, a); f != nil {
			out = append(out, *f)
			continue
		}
		fit = append(fit, a)
	}
	if k.Proof != Attempted && k.Proof != Measured {
		return out
	}
	if len(fit) == 0 {
		return append(out, c.lacksEvidence(k, ""))
	}
	for _, r := range k.Roles {
		if !slices.ContainsFunc(fit, func(a *Attempt) bool { return a.Role == r }) {
			out = append(out, c.lacksEvidence(k, r))
		}
	}
	return out
}

func (c SignOffRequest) unfitEvidence(k *Skill, id string, a *Attempt) *finding.Finding {
	who := append(c.subjects(), finding.Subject{Type: "attempt", ID: id})
	if a == nil {
		f := EvidenceUnfit.Say("The attempt {attempt} is not on record for this enrolment.", id).About(who...)
		return &f
	}
	why := k.unfit(*a)
	if why == "" && a.On > c.On {
		why = fmt.Sprintf("it was made after %s, the day that is signed for", c.On)
	}
	if why != "" {
		f := EvidenceUnfit.Say("The attempt at {skill} on {on} is no evidence: {why}.", k.name(), a.On, why).
			About(who...)
		f.Cures = []finding.Cure{{Code: "other_evidence",
			Message: "Sign on an attempt that met the criterion, or let the student try again."}}
		return &f
	}
	signed := max(c.On, c.SignedOn)
	if age, old := c.Syllabus.tooOld(*a, signed); old {
		f := EvidenceTooOld.Say("The attempt at {skill} on {on} is {days} days old on {signed_on}.",
			k.name(), a.On, age, signed).About(who...)
		f.Source = c.Syllabus.source("evidence_days", EvidenceTooOld)
		f.Limit, f.Found = finding.Count(c.Syllabus.EvidenceDays, "days"), finding.Count(age, "days")
		f.Cures = []finding.Cure{{Code: "try_again",
			Message: "Let the student show it again, and sign on that."}}
		return &f
	}
	return nil
}

func (c SignOffRequest) lacksEvidence(k *Skill, r Role) finding.Finding {
	as := ""
	if r != "" {
		as = " as " + string(r)
	}
	f := NoEvidence.Say("There is no recorded attempt at {skill}{as} that met its criterion.", k.name(), as).
		About(c.subjects()...)
	f.Limit = finding.Words(k.Criterion.Text)
	f.Cures = []finding.Cure{{Code: "record_attempt", Message: "Record the attempt as it was witnessed" +
		map[bool]string{true: ", with its measured values", false: ""}[k.Proof == Measured] + "."}}
	return f
}
