// Package roster judges who may be on a session: by papers valid on the day, consent for minors,
// medical outcome and fitness, and by bookings, so that nobody is in two places at once.
//
// It owns these rules. It must not know how people or sessions are stored, how many students a crew
// may take (package ratio), nor which skills come first (package syllabus). It judges records;
// whether a person is well enough to dive is for that person, a physician and the instructor in
// charge.
package roster

import (
	"fmt"
	"strings"

	"tankside/internal/finding"
)

// Day is a calendar day in the session's zone, written as 2006-01-02, so that
// days compare as texts do. "" is no day.
type Day string

// Kind is a kind of paper.
type Kind string

// The kinds of paper.
const (
	Medical        Kind = "medical"
	Consent        Kind = "consent"
	Waiver         Kind = "waiver"
	TeachingStatus Kind = "teaching_status"
	FirstAid       Kind = "first_aid"
	OxygenProvider Kind = "oxygen_provider"
	Insurance      Kind = "insurance"
)

// words returns the kind in words.
func (k Kind) words() string { return strings.ReplaceAll(string(k), "_", " ") }

// The outcomes of a medical paper; every other paper is "valid".
const (
	NothingFlagged    = "nothing_flagged"
	PhysicianNeeded   = "physician_needed"
	PhysicianApproved = "physician_approved"
	PhysicianRefused  = "physician_refused"
)

// Paper is one paper on record, voided ones left out.
type Paper struct {
	ID         string
	Kind       Kind
	Outcome    string
	IssuedOn   Day
	ValidUntil Day // "" when it does not expire
}

// valid reports whether the paper is valid on the day, its first and last day included.
func (p Paper) valid(on Day) bool {
	return p.IssuedOn <= on && (p.ValidUntil == "" || on <= p.ValidUntil)
}

// Demands are the papers and ages that a centre asks for.
type Demands struct {
	CrewPapers    []Kind // those that each of the crew must hold on the day
	StudentPapers []Kind // those that a student needs in the water, beside medical and consent
	MedicalSince  Day    // a medical older than this no longer counts
	Majority      int    // the age from which no consent is needed
}

// Person is the person judged, with the age on the day.
type Person struct {
	ID     string
	Name   string
	Age    int
	Papers []Paper
	Unfit  bool // marked not fit on the day, and the mark was not lifted
}

func (p Person) subject() finding.Subject { return finding.Subject{Type: "person", ID: p.ID} }

func (p Person) named() finding.Named {
	return finding.Named{Type: "person", ID: p.ID, Name: p.Name}
}

// Stage is how near the water a decision is. Papers that can still be brought are a note when the
// session is planned, and forbid when it is opened.
type Stage int

// The stages.
const (
	Planning Stage = iota
	Opening
)

// Crew judges whether a person may be crew of a session on the day: whether every paper that the
// centre asks of crew is valid.
func Crew(d Demands, p Person, on Day) finding.List {
	var out finding.List
	for _, k := range d.CrewPapers {
		out = append(out, p.holds(k, on, CrewPaper)...)
	}
	return out
}

// Assistant judges whether an assistant counts towards a ratio on the day: active and insured. No
// finding means that the assistant counts.
func Assistant(p Person, on Day) finding.List {
	return append(p.holds(TeachingStatus, on, AssistantUncounted),
		p.holds(Insurance, on, AssistantUncounted)...)
}

// Water judges whether a student may get into the water on the day. At the planning stage a missing
// paper is a note. A medical that keeps the student out of the water, or a minor's missing consent,
// forbids at any stage.
func Water(d Demands, p Person, on Day, stage Stage) finding.List {
	out := p.medical(d, on, stage)
	if p.Age < d.Majority {
		out = append(out, p.consent(d, on)...)
	}
	for _, k := range d.StudentPapers {
		out = append(out, atStage(p.holds(k, on, StudentPaper), stage)...)
	}
	if p.Unfit {
		out = append(out, p.unfit(on))
	}
	return out
}

// Fit judges whether one of the crew, or a student, was marked not fit on the day.
func Fit(p Person, on Day) finding.List {
	if !p.Unfit {
		return nil
	}
	return finding.List{p.unfit(on)}
}

func (p Person) unfit(on Day) finding.Finding {
	f := NotFit.Say("{person} is marked not fit on {on}.", p.named(), on).About(p.subject())
	f.Cures = []finding.Cure{
		{Code: "sit_out", Message: "Let the person sit out."},
		{Code: "lift_unfit_mark",
			Message: "The instructor in charge lifts the mark with a reason, if the person is well again."},
	}
	return f
}

// atStage lowers findings to notes at the planning stage.
func atStage(l finding.List, stage Stage) finding.List {
	if stage == Planning {
		for i := range l {
			l[i].Severity = finding.Note
		}
	}
	return l
}

// holds returns a finding of the rule unless the person holds a valid paper of the kind.
func (p Person) holds(k Kind, on Day, rule finding.Rule) finding.List {
	latest := Paper{}
	for _, x := range p.Papers {
		if x.Kind != k {
			continue
		}
		if x.valid(on) {
			return nil
		}
		if x.IssuedOn <= on && x.ValidUntil > latest.ValidUntil {
			latest = x
		}
	}
	f := rule.Say("{person} has no {words} on record that is valid on {on}.", p.named(), k.words(), on)
	if latest.ID != "" {
		f = rule.Say("{person}: {words} lapsed on {lapsed_on}; it must be valid on {on}.",
			p.named(), k.words(), latest.ValidUntil, on)
		f.Found = finding.Day(string(latest.ValidUntil))
	}
	f = f.About(p.subject()).With("paper", string(k))
	f.Limit = finding.Day(string(on))
	f.Cures = []finding.Cure{{Code: "record_paper",
		Message: fmt.Sprintf("Record a %s valid on %s.", k.words(), on)}}
	return finding.List{f}
}

func (p Person) consent(d Demands, on Day) finding.List {
	l := p.holds(Consent, on, MinorConsent)
	for i := range l {
		l[i] = MinorConsent.Say("{person} is {age} on {on}, below the age of majority of {majority}, and no guardian's "+
			"consent is on record.", p.named(), p.Age, on, d.Majority).About(p.subject())
		l[i].Limit, l[i].Found = finding.Count(d.Majority, "years"), finding.Count(p.Age, "years")
		l[i].Cures = []finding.Cure{{Code: "record_paper",
			Message: "Record the written consent of a parent or guardian."}}
	}
	return l
}

// medical judges by the newest medical on record that was issued by the day.
func (p Person) medical(d Demands, on Day, stage Stage) finding.List {
	var m Paper
	for _, x := range p.Papers {
		if x.Kind == Medical && x.IssuedOn <= on && x.IssuedOn >= m.IssuedOn {
			m = x
		}
	}
	switch {
	case m.Outcome == PhysicianNeeded:
		return p.flagged("physician needed", MedicalFlagged.Say(
			"A medical answer of {person} from {issued_on} needs a physician: no water before an approval is on record.",
			p.named(), m.IssuedOn))
	case m.Outcome == PhysicianRefused:
		return p.flagged("physician refused", MedicalFlagged.Say(
			"A physician did not approve diving for {person} on {issued_on}.", p.named(), m.IssuedOn))
	case m.ID == "" || m.IssuedOn < d.MedicalSince || !m.valid(on):
		f := MedicalMissing.Say("{person} has no medical outcome on record that counts on {on}.", p.named(),
			on).
			About(p.subject())
		if m.ID != "" {
			f = MedicalMissing.Say("The medical outcome of {person} is from {issued_on} and no longer counts on {on}.",
				p.named(), m.IssuedOn, on).About(p.subject())
			f.Limit, f.Found = finding.Day(string(d.MedicalSince)), finding.Day(string(m.IssuedOn))
		}
		f.Cures = []finding.Cure{{Code: "record_paper",
			Message: "Record the outcome of a participant questionnaire, or a physician's approval."}}
		return atStage(finding.List{f}, stage)
	}
	return nil
}

// flagged completes a finding that only a physician's approval cures.
func (p Person) flagged(found string, f finding.Finding) finding.List {
	f = f.About(p.subject())
	f.Found = finding.Words(found)
	f.Cures = []finding.Cure{{Code: "record_paper",
		Message: "Record a physician's approval, with its date and who saw it."}}
	return finding.List{f}
}
