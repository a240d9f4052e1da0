package syllabus

import (
	"fmt"
	"strings"
	"time"

	"tankside/internal/finding"
)

// Failures returns the attempts at a skill that were not met and not followed by a met one in the
// same role. They are those up to a moment, or all for the zero time, in the order in which they
// were witnessed. Voided attempts do not count.
func (st Standing) Failures(k Skill, upTo time.Time) (out []Attempt) {
	overcome := map[Role]bool{} // by a later attempt that was met
	for i := len(st.Attempts) - 1; i >= 0; i-- {
		a := st.Attempts[i]
		if a.Skill != k.Code || a.Voided {
			continue
		}
		if met, _ := JudgeAttempt(k, a); met {
			overcome[a.Role] = true
		} else if !overcome[a.Role] && (upTo.IsZero() || !a.At.After(upTo)) {
			out = append([]Attempt{a}, out...)
		}
	}
	return out
}

// failures returns the caution by which the signer accepts the attempts not met since the skill was
// met last. A sign-off made without coverage gets it when it is read, since other crew may know of
// failures that the signer does not: see Flags.
func (c SignOffRequest) failures(k *Skill) finding.List {
	if c.OneOfSeveral {
		return nil
	}
	all := c.Standing.Failures(*k, time.Time{})
	if len(all) == 0 {
		return nil
	}
	return finding.List{failedSince(k, all, c.subjects())}
}

func failedSince(k *Skill, all []Attempt, about []finding.Subject) finding.Finding {
	told, params := make([]string, len(all)), make([]any, len(all))
	for i, a := range all {
		told[i] = fmt.Sprintf("on %s", a.On)
		if a.Reason != "" {
			told[i] += fmt.Sprintf(", %q", a.Reason)
		}
		params[i] = map[string]any{"attempt_id": a.ID, "at": a.At.UTC().Format(time.RFC3339),
			"on": string(a.On), "reason": a.Reason, "role": string(a.Role)}
		about = append(about, finding.Subject{Type: "attempt", ID: a.ID})
	}
	times := "once"
	if len(all) > 1 {
		times = fmt.Sprintf("%d times", len(all))
	}
	f := FailedSince.Say("{skill} was not met {times}, and has not been met since: {attempts}.",
		k.name(), times, strings.Join(told, "; ")).About(about...)
	f.Params["not_met"] = params
	f.Found = finding.Count(len(all), "attempts not met")
	f.Cures = []finding.Cure{
		{Code: "try_again", Message: "Let the student show it again, and record the attempt."},
		{Code: "accept", Message: "Accept it with the reason why the skill is mastered all the same."},
	}
	return f
}

// failureFlags returns the caution on the failures before a sign-off that its signer did not know
// or did not accept.
func failureFlags(s Syllabus, st Standing, x SignOff) finding.List {
	k := s.Skill(x.Skill)
	if k == nil || x.Signed.IsZero() {
		return nil
	}
	var open []Attempt
	for _, a := range st.Failures(*k, x.Signed) {
		if !x.accepted(a.ID) {
			open = append(open, a)
		}
	}
	if len(open) == 0 {
		return nil
	}
	return finding.List{failedSince(k, open,
		[]finding.Subject{{Type: "sign_off", ID: x.ID}, {Type: "skill", ID: x.Skill}})}
}
