package dayview

import (
	"cmp"
	"time"

	"github.com/google/uuid"

	"tankside/internal/ratio"
	"tankside/internal/units"
)

// State is the state of a session.
type State string

// The states of a session.
const (
	Planned   State = "planned"
	UnderWay  State = "under_way"
	Closed    State = "closed"
	Cancelled State = "cancelled"
	Abandoned State = "abandoned"
)

// Session is one appointment of a course.
type Session struct {
	ID            uuid.UUID
	CourseID      uuid.UUID
	Kind          ratio.Setting
	Title         string
	SiteID        *uuid.UUID
	OutingID      *uuid.UUID
	StartsLocal   time.Time // the clock on the wall, its fields in UTC
	EndsLocal     time.Time
	TimeZone      string
	StartsAt      time.Time
	EndsAt        time.Time
	OnDay         time.Time // ages and papers are judged on this day
	State         State
	StateReason   *string
	OpenedAt      *time.Time
	EndedAt       *time.Time
	LogComplete   bool
	PlacesLowered *int
	Water
	Dives     []Dive
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// InWater reports whether the session is in water at all.
func (s Session) InWater() bool { return s.Kind != ratio.Theory }

// Day returns the day of the session as 2006-01-02.
func (s Session) Day() string { return s.OnDay.Format(time.DateOnly) }

// TrainingDives returns the numbers of the training dives that are made on a dive, or on
// every dive of the session for nil.
func (s Session) TrainingDives(dive *uuid.UUID) (out []int) {
	for _, d := range s.Dives {
		if d.TrainingDive != nil && (dive == nil || d.ID == *dive) {
			out = append(out, *d.TrainingDive)
		}
	}
	return out
}

// Water holds the conditions as last reported; what was not reported is nil.
type Water struct {
	Visibility  *units.Reading // how far one sees
	Current     *units.Reading // its speed
	Temperature *units.Reading // of the water
}

// Conditions returns the quantities that the ratio rule judges by.
func (w Water) Conditions() ratio.Conditions {
	var c ratio.Conditions
	if r := w.Visibility; r != nil {
		d := r.Depth()
		c.Visibility = &d
	}
	if r := w.Current; r != nil {
		s := r.Speed()
		c.Current = &s
	}
	if r := w.Temperature; r != nil {
		t := r.Temperature()
		c.Temperature = &t
	}
	return c
}

// Over returns what is known of the water after this report: what it did not look
// at stays as before.
func (w Water) Over(before Water) Water {
	return Water{
		Visibility:  cmp.Or(w.Visibility, before.Visibility),
		Current:     cmp.Or(w.Current, before.Current),
		Temperature: cmp.Or(w.Temperature, before.Temperature),
	}
}

// Dive is one planned dive of a water session.
type Dive struct {
	ID           uuid.UUID `json:"id"`
	Number       int       `json:"number"`        // within the session
	TrainingDive *int      `json:"training_dive"` // in the syllabus; nil in confined water
}

// Course is the course of a session.
type Course struct {
	CourseTitle    string
	Level          ratio.Level
	SyllabusID     uuid.UUID
	SyllabusNumber int
}

// Teaching is the course by which a student of a session is taught: of another
// course, where the student makes up for a session there.
type Teaching struct {
	SessionID      uuid.UUID
	EnrolmentID    uuid.UUID
	CourseID       uuid.UUID
	SyllabusID     uuid.UUID
	SyllabusNumber int
}

// Site is where a session is held; empty where it has no site.
type Site struct {
	SiteWater *string // "fresh", "salt"
	MaxDepth  *units.Reading
	Altitude  *units.Reading // above sea level
	Emergency *string
}

// Group is one instructor in charge with further crew and students.
type Group struct {
	ID            uuid.UUID
	SessionID     uuid.UUID
	Name          string
	PlacesLowered *int
	Students      int
	Places        int
	Cleared       bool
	InWater       bool // its session, one in water, is under way
	Version       int64
	CreatedAt     time.Time
	UpdatedAt     time.Time
	Findings      []byte // JSON, as the ratio rule found last
}

// Role is a participant's part in a session.
type Role string

// The roles. A second instructor counts as an assistant towards the ratio, and
// may sign.
const (
	Student    Role = "student"
	InCharge   Role = "in_charge"
	Instructor Role = "instructor"
	Assistant  Role = "assistant"
)

// Attendance is what roll call says of a participant.
type Attendance string

// The attendances. Expected, present and late count towards a group.
const (
	Expected  Attendance = "expected"
	Present   Attendance = "present"
	Late      Attendance = "late"
	LeftEarly Attendance = "left_early"
	SatOut    Attendance = "sat_out"
	Absent    Attendance = "absent"
)

// Participant is one person's part in one session.
type Participant struct {
	ID           uuid.UUID
	SessionID    uuid.UUID
	GroupID      *uuid.UUID
	PersonID     uuid.UUID
	EnrolmentID  *uuid.UUID
	Role         Role
	GaugeUnit    units.Unit
	Attendance   Attendance
	AttendanceAt *time.Time
	Counted      bool
	Booked       bool
	Placed       bool       // by a decision; false: by roll calls alone
	NotDiving    bool       // of crew: there, and not to get into the water
	NotDivingBy  *uuid.UUID // who said so; nil where a program did
	NotDivingAt  *time.Time // when it was said
	Version      int64
	CreatedAt    time.Time
	UpdatedAt    time.Time
	PersonName   string
}

// Dives reports whether the participant takes part and is to get into the water.
func (p Participant) Dives() bool { return p.Counted && !p.NotDiving }

// Call is what one roll call said of a participant, standing or voided.
type Call struct {
	ID            uuid.UUID
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	Attendance    Attendance
	At            time.Time // witnessed
	Voided        bool
	Role          *Role      // of somebody unexpected: the part that it says; nil of others
	GroupID       *uuid.UUID // likewise
	EnrolmentID   *uuid.UUID // likewise
}

// Report is what a standing report said of the conditions.
type Report struct {
	SessionID uuid.UUID
	Water
	At time.Time // witnessed
}

// TimeIn is a standing time in of a participant on a dive.
type TimeIn struct {
	SessionID     uuid.UUID
	ID            uuid.UUID // of the entry
	ParticipantID uuid.UUID
	DiveID        uuid.UUID
	Team          *string
	InAt          time.Time
	OutAt         *time.Time // the last standing time out of it; nil: none is known
}
