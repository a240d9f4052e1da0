package syllabus

import (
	"fmt"
	"slices"
	"strings"

	"tankside/internal/finding"
)

// PaperKind is a kind of paper that a signer must hold.
type PaperKind string

// The papers that a syllabus may ask of a signer.
const (
	TeachingStatus PaperKind = "teaching_status"
	FirstAid       PaperKind = "first_aid"
	OxygenProvider PaperKind = "oxygen_provider"
	Insurance      PaperKind = "insurance"
)

// Paper is one paper that a person holds, valid on both its first and its last
// day. An empty From or Until is no limit on that side.
type Paper struct {
	Kind  PaperKind
	From  Day
	Until Day
}

// ValidOn reports whether the paper is valid on that day.
func (p Paper) ValidOn(on Day) bool {
	return (p.From == "" || p.From <= on) && (p.Until == "" || on <= p.Until)
}

// Signer is the caller who asks to sign, void or complete.
type Signer struct {
	Person     string
	Program    bool // the token belongs to a program and not to a person
	Instructor bool // is an instructor of the centre
	Manager    bool // is a manager of the centre
	Crew       bool // was crew of that session
	Witnessed  bool // was with the student's group there, and by signing states to have seen it
	Papers     []Paper
}

func (w Signer) subject() finding.Subject { return finding.Subject{Type: "person", ID: w.Person} }

// notStudent returns a finding where the signer is the student.
func (w Signer) notStudent(st Standing) finding.List {
	if st.Student == "" || w.Person != st.Student {
		return nil
	}
	f := SignerIsStudent.Of("Nobody signs for themselves.",
		w.subject(), finding.Subject{Type: "enrolment", ID: st.Enrolment})
	f.Cures = []finding.Cure{{Code: "ask_another",
		Message: "Ask another instructor to judge it and to sign."}}
	return finding.List{f}
}

// mayDecide returns findings unless the signer is a person and an instructor, with papers valid on
// that day.
func (w Signer) mayDecide(papers []PaperKind, on Day) finding.List {
	if w.Program {
		f := SignerIsProgram.Of("Programs never sign: an instructor signs with their own token.", w.subject())
		f.Cures = []finding.Cure{{Code: "sign_in_person",
			Message: "Let the instructor sign with their own token."}}
		return finding.List{f}
	}
	var out finding.List
	if !w.Instructor {
		f := SignerNotInstructor.Of("The signer is not an instructor: an assistant may not assess a student.",
			w.subject())
		f.Cures = []finding.Cure{{Code: "other_signer", Message: "Let an instructor sign who witnessed it."}}
		out = append(out, f)
	}
	for _, kind := range papers {
		if f, bad := w.lacks(kind, on); bad {
			out = append(out, f)
		}
	}
	return out
}

// lacks returns what is wrong with the signer's paper of a kind on that day, and whether anything
// is.
func (w Signer) lacks(kind PaperKind, on Day) (finding.Finding, bool) {
	valid := func(p Paper) bool { return p.Kind == kind && p.ValidOn(on) }
	if slices.ContainsFunc(w.Papers, valid) {
		return finding.Finding{}, false
	}
	var last Day
	for _, p := range w.Papers {
		if p.Kind == kind && p.Until < on {
			last = max(last, p.Until)
		}
	}
	words := strings.ReplaceAll(string(kind), "_", " ")
	f := SignerPapers.Say("The signer has no {words} on record that is valid on {on}.", words, on)
	if last != "" {
		f = SignerPapers.Say("The signer's {words} lapsed on {lapsed_on}, before {on}.", words, last, on)
		f.Found = finding.Day(string(last))
	}
	f = f.About(w.subject()).With("paper", string(kind))
	f.Limit = finding.Day(string(on))
	f.Cures = []finding.Cure{
		{Code: "record_paper", Message: fmt.Sprintf("Record the paper that was valid on %s.", on)},
		{Code: "other_signer", Message: "Let another instructor sign who witnessed it."},
	}
	return f, true
}
