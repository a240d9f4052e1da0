package decision

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// SignOff is what a sign-off was judged on.
type SignOff struct {
	SignOffID      uuid.UUID             `json:"sign_off_id"`
	Skill          string                `json:"skill"`
	Round          int                   `json:"round"`
	SessionID      uuid.UUID             `json:"session_id"`
	Setting        syllabus.Setting      `json:"setting"`
	SessionState   syllabus.SessionState `json:"session_state"`
	WitnessedOn    syllabus.Day          `json:"witnessed_on"`
	SignedOn       syllabus.Day          `json:"signed_on"`
	TrainingDive   int                   `json:"training_dive"` // 0: none was named
	Absent         bool                  `json:"student_absent"`
	FromWater      bool                  `json:"from_water"` // made without coverage
	SyllabusID     uuid.UUID             `json:"syllabus_id"`
	SyllabusNumber int                   `json:"syllabus_number"`
	Attempts       []string              `json:"attempts"` // that the signer rests on
	RestsOn        []uuid.UUID           `json:"rests_on"` // sign-offs and credits of what comes before
	Evidence       []Evidence            `json:"evidence"`
	Signer         Signer                `json:"signer"`
	Standing       Standing              `json:"standing"`
}

// Evidence is a witnessed entry that a decision rests on, with its hash then.
type Evidence struct {
	Type   string    `json:"type"`
	ID     uuid.UUID `json:"id"`
	Digest string    `json:"digest"` // 64 hexadecimal digits
}

// Signer is who signed or voided, and what they were judged by.
type Signer struct {
	PersonID   uuid.UUID `json:"person_id"`
	Instructor bool      `json:"is_instructor"`
	Manager    bool      `json:"is_manager"`
	Crew       bool      `json:"was_crew"`       // of the session
	Witnessed  bool      `json:"was_with_group"` // was with the student's group

	Papers []Paper `json:"papers,omitzero"` // left out where the reader may not read papers
}

// Paper is a paper of a signer, as it was then.
type Paper struct {
	ID         uuid.UUID          `json:"id"`
	Kind       syllabus.PaperKind `json:"kind"`
	IssuedOn   syllabus.Day       `json:"issued_on"`
	ValidUntil *syllabus.Day      `json:"valid_until"`
}

// Rules returns the signer as the rules take them.
func (s Signer) Rules() syllabus.Signer {
	out := syllabus.Signer{Person: s.PersonID.String(), Instructor: s.Instructor, Manager: s.Manager,
		Crew: s.Crew, Witnessed: s.Witnessed}
	for _, p := range s.Papers {
		paper := syllabus.Paper{Kind: p.Kind, From: p.IssuedOn}
		if p.ValidUntil != nil {
			paper.Until = *p.ValidUntil
		}
		out.Papers = append(out.Papers, paper)
	}
	return out
}

// Standing is what was on record of an enrolment, by the ids of its records.
type Standing struct {
	State    syllabus.EnrolmentState `json:"state"`
	SignOffs []string                `json:"sign_offs"`
	Credits  []string                `json:"credits"`
	Attempts []string                `json:"attempts"`
	Theory   []string                `json:"theory_results"`
	Dives    []DiveDone              `json:"dives"`
	Voided   []string                `json:"voided"` // of all these, those that were voided then
	Absent   []string                `json:"absent"` // sign-offs that a roll call contradicted
}

// DiveDone is a training dive as it was known: its time out may come later.
type DiveDone struct {
	ID       string         `json:"id"`
	Depth    *units.Reading `json:"depth"`    // the greatest; null where it was not known
	Duration *units.Reading `json:"duration"` // from time in to time out; null where it was not known
	Age      syllabus.Years `json:"age"`      // of the student on that day
}

// quantityOf returns a quantity of a syllabus as it is kept, nil for none.
func quantityOf(q syllabus.Quantity) *units.Reading {
	if q.IsZero() {
		return nil
	}
	return new(units.Reading(q))
}

// quantity returns a kept quantity as a syllabus has it.
func quantity(q *units.Reading) syllabus.Quantity {
	if q == nil {
		return syllabus.Quantity{}
	}
	return syllabus.Quantity(*q)
}

// StandingOf returns a standing as it is kept.
func StandingOf(st syllabus.Standing) Standing {
	out := Standing{State: st.State, SignOffs: []string{}, Credits: []string{}, Attempts: []string{},
		Theory: []string{}, Dives: []DiveDone{}, Voided: []string{}, Absent: []string{}}
	note := func(list *[]string, id string, voided bool) {
		*list = append(*list, id)
		if voided {
			out.Voided = append(out.Voided, id)
		}
	}
	for _, x := range st.SignOffs {
		note(&out.SignOffs, x.ID, x.Voided)
		if x.Absent {
			out.Absent = append(out.Absent, x.ID)
		}
	}
	for _, x := range st.Credits {
		note(&out.Credits, x.ID, x.Voided)
	}
	for _, x := range st.Attempts {
		note(&out.Attempts, x.ID, x.Voided)
	}
	for _, x := range st.Theory {
		note(&out.Theory, x.ID, x.Voided)
	}
	for _, x := range st.Dives {
		out.Dives = append(out.Dives, DiveDone{x.ID, quantityOf(x.Depth), quantityOf(x.Duration), x.Age})
		if x.Voided {
			out.Voided = append(out.Voided, x.ID)
		}
	}
	return out
}

// Of returns the standing as it was judged, made of what is on record of the enrolment
// now: records that came later are left out, and what was voided since stands. It
// returns too the ids of records that are there no longer.
func (s Standing) Of(now syllabus.Standing) (out syllabus.Standing, missing []string) {
	out = syllabus.Standing{Enrolment: now.Enrolment, Student: now.Student, State: s.State}
	out.SignOffs = pick(s.SignOffs, now.SignOffs, func(x syllabus.SignOff) string { return x.ID }, &missing)
	out.Credits = pick(s.Credits, now.Credits, func(x syllabus.Credit) string { return x.ID }, &missing)
	out.Attempts = pick(s.Attempts, now.Attempts, func(x syllabus.Attempt) string { return x.ID }, &missing)
	out.Theory = pick(s.Theory, now.Theory, func(x syllabus.TheoryResult) string { return x.ID }, &missing)
	ids := make([]string, len(s.Dives))
	for i, d := range s.Dives {
		ids[i] = d.ID
	}
	out.Dives = pick(ids, now.Dives, func(x syllabus.DiveDone) string { return x.ID }, &missing)
	voided := func(id string) bool { return slices.Contains(s.Voided, id) }
	for i, x := range out.SignOffs {
		out.SignOffs[i].Voided, out.SignOffs[i].Absent = voided(x.ID), slices.Contains(s.Absent, x.ID)
	}
	for i, x := range out.Credits {
		out.Credits[i].Voided = voided(x.ID)
	}
	for i, x := range out.Attempts {
		out.Attempts[i].Voided = voided(x.ID)
	}
	for i, x := range out.Theory {
		out.Theory[i].Voided = voided(x.ID)
	}
	for i, x := range out.Dives {
		d := s.Dives[slices.Index(ids, x.ID)]
		out.Dives[i].Voided, out.Dives[i].Age = voided(x.ID), d.Age
		out.Dives[i].Depth, out.Dives[i].Duration = quantity(d.Depth), quantity(d.Duration)
	}
	return out, missing
}

// Has reports whether a record is one of those that were judged on.
func (s Standing) Has(id string) bool {
	return slices.Contains(slices.Concat(s.SignOffs, s.Credits, s.Attempts, s.Theory), id) ||
		slices.ContainsFunc(s.Dives, func(d DiveDone) bool { return d.ID == id })
}

// pick returns the records with the kept ids, in the order of the records, and adds the
// ids that none of them has to missing.
func pick[T any](kept []string, now []T, id func(T) string, missing *[]string) (out []T) {
	for _, k := range kept {
		if !slices.ContainsFunc(now, func(x T) bool { return id(x) == k }) {
			*missing = append(*missing, k)
		}
	}
	for _, x := range now {
		if slices.Contains(kept, id(x)) {
			out = append(out, x)
		}
	}
	return out
}

// Void is what voiding a sign-off was judged on. The reason is kept with the void.
type Void struct {
	SignOffID      uuid.UUID `json:"sign_off_id"`
	Skill          string    `json:"skill"`
	SignedBy       uuid.UUID `json:"signed_by"`
	SyllabusID     uuid.UUID `json:"syllabus_id"`
	SyllabusNumber int       `json:"syllabus_number"`
	By             Signer    `json:"signer"`
	Standing       Standing  `json:"standing"`
}

// Completion is what a completion was judged on.
type Completion struct {
	CompletionID   uuid.UUID      `json:"completion_id"`
	Round          int            `json:"round"`
	On             syllabus.Day   `json:"done_on"` // the day of the decision
	Age            syllabus.Years `json:"age"`     // of the student on that day
	SyllabusID     uuid.UUID      `json:"syllabus_id"`
	SyllabusNumber int            `json:"syllabus_number"`
	RestsOn        []uuid.UUID    `json:"rests_on"`
	Evidence       []Evidence     `json:"evidence"`
	Signer         Signer         `json:"signer"`
	Standing       Standing       `json:"standing"`
}

// DayOf returns the day of a date.
func DayOf(t time.Time) syllabus.Day { return syllabus.Day(t.Format(time.DateOnly)) }
