package syllabus

import (
	"fmt"

	"tankside/internal/finding"
)

// CompletionRequest is a request to complete an enrolment.
type CompletionRequest struct {
	Syllabus Syllabus
	Standing Standing
	Signer   Signer // Crew and Witnessed do not matter
	Age      Years  // of the student on that day
	On       Day    // the day of the decision
}

// MayComplete returns what is missing before an instructor may complete the enrolment: skills
// neither signed off nor credited, theory parts not passed, training dives not done, dive time, and
// flags that block. Notes list what was not witnessed here, and that the student completes at a
// junior grade. Completing stays the instructor's own decision.
func MayComplete(c CompletionRequest) finding.List {
	p := ProgressOf(c.Syllabus, c.Standing)
	out := append(c.Standing.mustBeActive(), c.Signer.notStudent(c.Standing)...)
	out = append(out, c.Signer.mayDecide(c.Syllabus.SignerPapers, c.On)...)
	out = append(out, c.Syllabus.oldEnough(c.Age, c.Standing.Enrolment)...)
	out = append(out, c.skills(p)...)
	out = append(out, c.theory(p)...)
	out = append(out, c.dives(p)...)
	out = append(out, p.Flags...)
	return append(out, c.notes(p)...)
}

func (c CompletionRequest) subject(kind, id string) []finding.Subject {
	return []finding.Subject{{Type: kind, ID: id}, {Type: "enrolment", ID: c.Standing.Enrolment}}
}

func (c CompletionRequest) skills(p Progress) finding.List {
	var out finding.List
	for _, k := range p.Skills {
		if k.State == SignedOff || k.State == Credited {
			continue
		}
		f := SkillMissing.Say("{skill} is {state}.", c.Syllabus.nameOf(k.Code), k.State.words()).
			About(c.subject("skill", k.Code)...)
		f.Found = finding.Words(string(k.State))
		f.Cures = []finding.Cure{{Code: "sign_off",
			Message: "Sign it off, or record a credit if it was done at another centre."}}
		out = append(out, f)
	}
	return out
}

// words returns a state that is not enough for completion, in words.
func (s State) words() string {
	switch s {
	case NotTried:
		return "not tried"
	case NotYet:
		return "not yet met"
	case Met:
		return "met, but not signed off"
	}
	return string(s)
}

func (c CompletionRequest) theory(p Progress) finding.List {
	var out finding.List
	for _, t := range p.Theory {
		if t.State == Met || t.State == Credited {
			continue
		}
		part := c.Syllabus.TheoryPart(t.Code)
		f := TheoryMissing.Say(`The theory part "{part}" ({code}) is not passed.`, part.Title, part.Code).
			About(c.subject("theory_part", t.Code)...)
		f.Limit = part.PassMark.amount()
		if !t.Best.IsZero() {
			f.Found = t.Best.amount()
		}
		f.Cures = []finding.Cure{{Code: "pass_theory",
			Message: fmt.Sprintf("Let the student try again; %s passes.", part.PassMark)}}
		out = append(out, f)
	}
	return out
}

func (c CompletionRequest) dives(p Progress) finding.List {
	var out finding.List
	for _, d := range p.Dives {
		if d.State == Met || d.State == Credited {
			out = append(out, d.Flags.Of(DiveBeyondLimit)...)
			continue
		}
		f := DiveMissing.Say("Training dive {dive} is not done.", d.Number).
			About(c.subject("training_dive", fmt.Sprint(d.Number))...)
		if len(d.Flags) > 0 {
			f = DiveMissing.Say("Training dive {dive} does not count yet: {why}", d.Number, d.Flags[0].Message).
				About(c.subject("training_dive", fmt.Sprint(d.Number))...)
		}
		f.Cures = []finding.Cure{{Code: "do_dive",
			Message: "Let the student do the dive, or record a credit."}}
		out = append(out, f)
	}
	least := c.Syllabus.LeastDiveTime
	if !least.IsZero() && p.DiveTime.compare(least) < 0 {
		f := DiveTimeMissing.Say("The training dives last {time} in all; the syllabus asks for {least}.",
			p.DiveTime, least).About(c.subject("enrolment", c.Standing.Enrolment)[:1]...)
		f.Source = c.Syllabus.source("least_dive_time", DiveTimeMissing)
		f.Limit, f.Found = least.amount(), p.DiveTime.amount()
		f.Cures = []finding.Cure{{Code: "dive_again",
			Message: "Let the student do a training dive again, or record the duration of a credited one."}}
		out = append(out, f)
	}
	return out
}

// notes returns the notes for a reader of the record.
func (c CompletionRequest) notes(p Progress) finding.List {
	var out finding.List
	var elsewhere []string
	for _, k := range p.Skills {
		if k.State == Credited {
			elsewhere = append(elsewhere, k.Code)
		}
	}
	if len(elsewhere) > 0 {
		out = append(out,
			NotWitnessedHere.Say("Credited and not witnessed here: {credited}.", list(elsewhere, "and")).
				About(c.subject("enrolment", c.Standing.Enrolment)[:1]...))
	}
	if c.Age >= c.Syllabus.MinAge && c.Age < c.Syllabus.FullAge {
		f := JuniorGrade.Say(
			"The student is {age} and completes at a junior grade; the full grade starts at {full_age}.",
			c.Age, c.Syllabus.FullAge).About(c.subject("enrolment", c.Standing.Enrolment)[:1]...)
		f.Source = c.Syllabus.source("full_age", JuniorGrade)
		out = append(out, f)
	}
	return out
}
