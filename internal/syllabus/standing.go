package syllabus

import (
	"slices"
	"time"
)

// EnrolmentState is the state of an enrolment.
type EnrolmentState string

// The states of an enrolment; only an active one is taught.
const (
	Waiting     EnrolmentState = "waiting"
	Active      EnrolmentState = "active"
	Withdrawn   EnrolmentState = "withdrawn"
	Transferred EnrolmentState = "transferred"
	Completed   EnrolmentState = "completed"
)

// Standing is all records of one enrolment, voided ones included.
type Standing struct {
	Enrolment string
	Student   string // the person who is enrolled
	State     EnrolmentState
	SignOffs  []SignOff
	Credits   []Credit
	Attempts  []Attempt
	Theory    []TheoryResult
	Dives     []DiveDone
}

// SignOff is one skill signed off by an instructor.
type SignOff struct {
	ID       string
	Skill    string
	Signer   string   // the person who signed
	On       Day      // the day on which it was witnessed
	Evidence []string // ids of the attempts and dives that it rests on
	Voided   bool

	Signed   time.Time // when it was signed; the zero time asks for no failures
	Accepted []string  // ids of the unmet attempts that the signer accepted

	// ByRule marks a sign-off made without coverage: it names no evidence and rests on the attempts
	// that count. Absent: roll call has the student as not there.
	ByRule bool
	Absent bool
}

func (x SignOff) accepted(attempt string) bool { return slices.Contains(x.Accepted, attempt) }

// Credit is something done at another centre and accepted here: exactly one of
// Skill, Theory and Dive is set.
type Credit struct {
	ID       string
	Skill    string   // code of a skill
	Theory   string   // code of a theory part
	Dive     int      // number of a training dive
	Duration Quantity // of a dive, counted towards the total; zero when not known
	On       Day
	Voided   bool
}

// TheoryResult is the mark of one attempt at a part of the theory.
type TheoryResult struct {
	ID     string
	Part   string
	Mark   Quantity // percent
	On     Day
	Voided bool
}

// DiveDone is one open-water dive that the student did.
type DiveDone struct {
	ID       string
	Number   int      // the training dive that it was, 0 for none
	Depth    Quantity // the greatest depth, zero when not known
	Duration Quantity // from time in to time out, zero when not known
	Age      Years    // of the student on that day
	On       Day
	Voided   bool
}

// signOff returns the standing sign-off of a skill, nil when there is none.
func (st Standing) signOff(skill string) *SignOff {
	for i := range st.SignOffs {
		if x := &st.SignOffs[i]; x.Skill == skill && !x.Voided {
			return x
		}
	}
	return nil
}

// credited returns the standing credit for which test is true, nil when there is none.
func (st Standing) credited(test func(*Credit) bool) *Credit {
	for i := range st.Credits {
		if c := &st.Credits[i]; !c.Voided && test(c) {
			return c
		}
	}
	return nil
}

// skillCredit returns the standing credit for a skill, nil when there is none.
func (st Standing) skillCredit(skill string) *Credit {
	return st.credited(func(c *Credit) bool { return c.Skill != "" && c.Skill == skill })
}

// diveCredit returns the standing credit for a training dive, nil when there is
// none.
func (st Standing) diveCredit(number int) *Credit {
	return st.credited(func(c *Credit) bool { return c.Dive != 0 && c.Dive == number })
}

// attempt returns the attempt with that id, nil when there is none.
func (st Standing) attempt(id string) *Attempt {
	for i := range st.Attempts {
		if st.Attempts[i].ID == id {
			return &st.Attempts[i]
		}
	}
	return nil
}

// voided reports whether the record with that id was voided.
func (st Standing) voided(id string) bool {
	if a := st.attempt(id); a != nil {
		return a.Voided
	}
	return slices.ContainsFunc(st.Dives, func(d DiveDone) bool { return d.ID == id && d.Voided }) ||
		slices.ContainsFunc(st.SignOffs, func(x SignOff) bool { return x.ID == id && x.Voided }) ||
		slices.ContainsFunc(st.Credits, func(c Credit) bool { return c.ID == id && c.Voided }) ||
		slices.ContainsFunc(st.Theory, func(r TheoryResult) bool { return r.ID == id && r.Voided })
}

// reach is whether a skill, theory part or dive stands on a day.
type reach int

const (
	absent reach = iota // neither signed off nor credited
	later               // signed off, but as witnessed on a later day
	held                // signed off as witnessed by that day, or credited
)

// reached returns whether a skill stands: signed off as witnessed on that day or before, or
// credited.
func (st Standing) reached(skill string, by Day) reach {
	if st.skillCredit(skill) != nil {
		return held
	}
	out := absent
	for _, x := range st.SignOffs {
		if x.Skill != skill || x.Voided {
			continue
		}
		if by == "" || x.On <= by {
			return held
		}
		out = later
	}
	return out
}

// passed returns whether a part of the theory stands: passed on that day or before, or credited.
func (st Standing) passed(p *TheoryPart, by Day) reach {
	if st.credited(func(c *Credit) bool { return c.Theory == p.Code }) != nil {
		return held
	}
	out := absent
	for _, r := range st.Theory {
		if r.Part != p.Code || r.Voided || !Passed(*p, r.Mark) {
			continue
		}
		if by == "" || r.On <= by {
			return held
		}
		out = later
	}
	return out
}

// Passed reports whether a mark passes a part of the theory: not below its pass mark. A mark that
// is not a percentage does not pass.
func Passed(p TheoryPart, mark Quantity) bool {
	return mark.sameKind(p.PassMark) && mark.compare(p.PassMark) >= 0
}
