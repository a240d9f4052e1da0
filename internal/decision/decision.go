// Package decision has the form in which a decision keeps what it was judged on, so
// that it can be explained to its readers and judged again years later.
//
// It owns that form and the editions of the rules. Of people the form has ids, roles
// and the ages of students; of papers ids, and the dates of a signer's: never a name,
// and never the outcome of a medical. The package must not know a rule, nor where a
// decision is stored: the features fill the form in and judge by it again.
package decision

import (
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/gasplan"
)

// Form is the number of the present form. A member is added without a new number
// where its absence means what earlier releases did; otherwise the number rises, and
// Read still reads the forms before.
const Form = 1

// JudgedOn is what one decision was judged on. Beside Form and Rules exactly one
// member is set, by the kind of the decision.
type JudgedOn struct {
	Form       int             `json:"form"`
	Rules      int             `json:"rules_edition"` // the edition of the rules that judged
	Session    *Session        `json:"session"`
	Enrolment  *Enrolment      `json:"enrolment"`
	SignOff    *SignOff        `json:"sign_off"`
	Void       *Void           `json:"void"`
	Completion *Completion     `json:"completion"`
	GasPlan    *GasPlan        `json:"gas_plan"`
	Convention json.RawMessage `json:"convention"` // as it is stored
}

// Stamped returns what a decision was judged on, marked with the present form and the
// present edition of the rules.
func (j JudgedOn) Stamped() JudgedOn {
	j.Form, j.Rules = Form, RulesEdition()
	return j
}

// Read returns what a decision was judged on from its stored form. A form of another
// number is an error that says so.
func Read(stored []byte) (j JudgedOn, err error) {
	if err := json.Unmarshal(stored, &j); err != nil {
		return j, fmt.Errorf("read what a decision was judged on: %w", err)
	}
	if j.Form != Form {
		return j, fmt.Errorf("what the decision was judged on is kept in form %d; this release reads form %d",
			j.Form, Form)
	}
	return j, nil
}

// WithoutPapers leaves out which papers people were judged by, and whether they were fit,
// and reports whether there was anything to leave out.
func (j *JudgedOn) WithoutPapers() bool {
	var out bool
	if j.Session != nil {
		for _, list := range [][]Participant{j.Session.Crew, j.Session.Students} {
			for i := range list {
				out = true
				list[i].Papers, list[i].Unfit = nil, nil
			}
		}
	}
	for _, s := range j.signers() {
		out = true
		s.Papers = nil
	}
	return out
}

// signers returns who signed or voided.
func (j *JudgedOn) signers() (out []*Signer) {
	if j.SignOff != nil {
		out = append(out, &j.SignOff.Signer)
	}
	if j.Void != nil {
		out = append(out, &j.Void.By)
	}
	if j.Completion != nil {
		out = append(out, &j.Completion.Signer)
	}
	return out
}

// Edition names one edition of a rule book.
type Edition struct {
	ID      string `json:"id"`
	Version string `json:"version"`
}

// Enrolment is what enrolling a person, or activating an enrolment, was judged on.
type Enrolment struct {
	CourseID       uuid.UUID `json:"course_id"`
	PersonID       uuid.UUID `json:"person_id"`
	StartsOn       string    `json:"starts_on"` // the course's first day
	Age            int       `json:"age"`       // of the person on that day, in years
	Student        bool      `json:"is_student"`
	State          string    `json:"state"`         // that the enrolment was to have
	Places         *int      `json:"places"`        // of the course; null: as many as come
	ActiveBefore   int       `json:"active_before"` // enrolments of the course that were active already
	SyllabusID     uuid.UUID `json:"syllabus_id"`
	SyllabusNumber int       `json:"syllabus_number"`
}

// GasPlan is what the confirmation of a gas plan was judged on: what was known at that
// moment, from which the plan was worked out again.
type GasPlan struct {
	PlanID    uuid.UUID          `json:"plan_id"`
	GroupID   *uuid.UUID         `json:"group_id"` // null: the plan is for the whole session
	Input     gasplan.Input      `json:"input"`    // without names
	Present   []GasPlanPart      `json:"participants"`
	RuleBooks []gasplan.RuleBook `json:"rule_books"`
}

// GasPlanPart is a participant of the session that a gas plan is for.
type GasPlanPart struct {
	ParticipantID uuid.UUID  `json:"participant_id"`
	PersonID      uuid.UUID  `json:"person_id"`
	GroupID       *uuid.UUID `json:"group_id"`
	Dives         bool       `json:"dives"` // takes part, and is to get into the water
}
