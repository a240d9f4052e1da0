package syllabus

import (
	"slices"
	"strings"

	"tankside/internal/finding"
)

// VoidRequest is a request to void a sign-off.
type VoidRequest struct {
	Syllabus Syllabus
	Standing Standing
	SignOff  SignOff
	By       Signer // papers, Crew and Witnessed do not matter
	Reason   string
}

// VoidedBy reports whether somebody may void what a person signed, a sign-off or a completion: its
// signer, or a manager who is an instructor.
func VoidedBy(signer string, by Signer) bool {
	return !by.Program && (by.Person == signer || by.Manager && by.Instructor)
}

// MayVoid returns the findings on voiding the sign-off, with notes on the standing sign-offs that
// rest on it. It may be voided by its signer, or by a manager who is an instructor, with a reason.
func MayVoid(c VoidRequest) finding.List {
	var out finding.List
	who := []finding.Subject{{Type: "sign_off", ID: c.SignOff.ID}, {Type: "skill", ID: c.SignOff.Skill}}
	if c.By.Program {
		out = append(out,
			SignerIsProgram.Of("Programs never void a sign-off: its signer does so with their own token.",
				c.By.subject()))
	} else if !VoidedBy(c.SignOff.Signer, c.By) {
		f := VoidByOther.Of("A sign-off is voided by its signer, or by a manager who is an instructor.",
			append(who, c.By.subject())...)
		f.Cures = []finding.Cure{{Code: "ask_signer",
			Message: "Ask the signer, or a manager who is an instructor."}}
		out = append(out, f)
	}
	if strings.TrimSpace(c.Reason) == "" {
		f := VoidWithoutReason.Of("Say why the sign-off is voided.", who...)
		f.Cures = []finding.Cure{{Code: "give_reason", Message: "Give a reason."}}
		out = append(out, f)
	}
	if c.SignOff.Voided {
		out = append(out, VoidedAlready.Of("The sign-off is voided already.", who...))
	}
	return append(out, c.touched(who)...)
}

// touched returns notes on the standing sign-offs whose skills come after this one.
func (c VoidRequest) touched(who []finding.Subject) finding.List {
	if c.Standing.skillCredit(c.SignOff.Skill) != nil {
		return nil
	}
	var names []string
	for _, x := range c.Standing.SignOffs {
		if !x.Voided && slices.Contains(c.Syllabus.Before(x.Skill), c.SignOff.Skill) {
			names = append(names, x.Skill)
			who = append(who, finding.Subject{Type: "sign_off", ID: x.ID})
		}
	}
	if len(names) == 0 {
		return nil
	}
	f := VoidTouches.Say(
		"These stand on it, will be flagged and block completion until it is signed off again: {skills}.",
		list(names, "and")).About(who...)
	return finding.List{f}
}
