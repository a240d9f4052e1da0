package decision

import (
	"time"

	"github.com/google/uuid"

	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/units"
)

// Session is what a decision about a session was judged on.
type Session struct {
	CourseID   uuid.UUID      `json:"course_id"`
	Setting    ratio.Setting  `json:"setting"`
	Level      ratio.Level    `json:"level"`
	Day        string         `json:"day"`
	From       time.Time      `json:"from"`
	To         time.Time      `json:"to"`
	Stage      Stage          `json:"stage"`
	SiteID     *uuid.UUID     `json:"site_id"`
	SiteDepth  *units.Reading `json:"site_depth"`
	Conditions Conditions     `json:"conditions"`
	Demands    *Demands       `json:"demands"` // of the centre; null where nobody was judged
	Crew       []Participant  `json:"crew"`
	Students   []Participant  `json:"students"`
	Groups     []Group        `json:"groups"`
	Schedule   *Schedule      `json:"schedule"` // null unless the session was planned or moved
}

// Stage is how near the water a decision was: see roster.Stage.
type Stage string

// The stages.
const (
	Planning Stage = "planning"
	Opening  Stage = "opening" // of the session, or while it is under way
)

// Conditions are what was known of the water.
type Conditions struct {
	Visibility  *units.Reading `json:"visibility"`
	Current     *units.Reading `json:"current"`
	Temperature *units.Reading `json:"temperature"`
}

// Demands are what the centre asked of people that day.
type Demands struct {
	CrewPapers    []roster.Kind `json:"crew_papers"`
	StudentPapers []roster.Kind `json:"student_papers"`
	MedicalSince  roster.Day    `json:"medical_since"`
	Majority      int           `json:"age_of_majority"`
}

// Roster returns the demands as the rules about papers take them.
func (d Demands) Roster() roster.Demands {
	return roster.Demands{CrewPapers: d.CrewPapers, StudentPapers: d.StudentPapers,
		MedicalSince: d.MedicalSince, Majority: d.Majority}
}

// Participant is one person's part in the session.
type Participant struct {
	ParticipantID uuid.UUID  `json:"participant_id"`
	PersonID      uuid.UUID  `json:"person_id"`
	EnrolmentID   *uuid.UUID `json:"enrolment_id"` // of a student
	Role          string     `json:"role"`
	Age           *int       `json:"age"` // of a student, on the day
	GroupID       *uuid.UUID `json:"group_id"`
	Counted       bool       `json:"counted"`
	NotDiving     bool       `json:"not_diving"`
	ToldBy        *ToldBy    `json:"told_by"` // null unless a session with dives was opened
	Judged        *Judged    `json:"judged"`  // null: the decision was not about this person

	// Papers and Unfit are left out where the reader may not read papers.

	Papers []string `json:"papers,omitzero"` // ids of those that the person was judged by
	Unfit  *bool    `json:"unfit,omitempty"` // whether marked as not fit on the day
}

// Judged is what a person was judged on beside papers and fitness.
type Judged struct {
	Roles     []string        `json:"roles"`     // at the centre
	Booked    []Booking       `json:"booked"`    // other sessions near in time; null: nobody asked
	Enrolment *EnrolmentState `json:"enrolment"` // of a student who joins
}

// Booking is a session on which a person was booked already.
type Booking struct {
	SessionID uuid.UUID `json:"session_id"`
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
}

// EnrolmentState is the enrolment by which a student joins a session.
type EnrolmentState struct {
	State        string `json:"state"`
	SameCourse   bool   `json:"same_course"`   // as the session
	SameSyllabus bool   `json:"same_syllabus"` // as the session's course
}

// ToldBy is what told a participant their low-gas pressure: a gas plan or a briefing.
type ToldBy struct {
	DiveID     uuid.UUID  `json:"dive_id"`
	PlanID     *uuid.UUID `json:"plan_id"`
	BriefingID *uuid.UUID `json:"briefing_id"`
}

// Group is what a group was judged on, and the figures that came out.
type Group struct {
	GroupID    uuid.UUID     `json:"group_id"`
	Setting    ratio.Setting `json:"setting"`
	Level      ratio.Level   `json:"level"`
	Ages       []int         `json:"ages"`       // of the students
	Assistants int           `json:"assistants"` // who count
	Uncounted  int           `json:"uncounted"`  // assistants who do not
	Instructor bool          `json:"instructor"` // one is in charge
	NotDiving  int           `json:"not_diving"` // of the assistants
	Ashore     bool          `json:"ashore"`     // the one in charge does not dive
	LoweredTo  *int          `json:"lowered_to"`
	Places     int           `json:"places"` // the most students, as judged
	Book       string        `json:"book"`   // that set the figure; "" for none
	Books      []Edition     `json:"books"`
	Before     GroupBefore   `json:"before"`
}

// GroupBefore is how a group stood before the decision: a plan is held against what it
// makes worse.
type GroupBefore struct {
	Students int  `json:"students"`
	Places   int  `json:"places"`
	Cleared  bool `json:"cleared"`
}

// Worse reports whether a group is worse off than before the decision, or stood within
// its ratio until then.
func (b GroupBefore) Worse(students, places int) bool {
	return b.Cleared || students > b.Students || places < b.Places
}

// Schedule is what the time and the site of a session were judged on.
type Schedule struct {
	Water  string        `json:"water"`  // of the site
	Dives  []int         `json:"dives"`  // their numbers in the syllabus
	Beside []Appointment `json:"beside"` // the other sessions of the course
}

// Appointment is a session as the order of teaching judges it.
type Appointment struct {
	SessionID uuid.UUID     `json:"session_id"`
	Setting   ratio.Setting `json:"setting"`
	From      time.Time     `json:"from"`
	To        time.Time     `json:"to"`
	Dives     []int         `json:"dives"`
}
