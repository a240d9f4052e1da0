// Package sessions plans what is taught when and by whom: sessions with their
// groups and participants, the clearance of a group, and what was witnessed of
// them as a whole: attendance, conditions, head counts, incidents.
//
// It owns the tables outing, outing_guest, session, dive, session_group,
// participant, clearance, roll_call, conditions_report, head_count, incident
// and incident_person. It must not know what was trained: package training
// hangs its facts on participants and dives. Who may be there is judged by
// package roster, how many by package ratio.
//
// Locks are taken in one order by everybody: course, sessions, groups, people,
// enrolments, ledger heads; of each kind by ascending id; each lock in a
// statement of its own, and what is judged is read after the last of them.
package sessions

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// Service plans sessions and keeps what was witnessed of them.
type Service struct {
	db     *pg.DB
	judges Judges
}

// New returns the service on a database. It panics where a judge is missing.
func New(db *pg.DB, judges Judges) *Service {
	judges.require()
	db.Explain(map[string]func() *fault.Fault{
		"group_within_ratio": func() *fault.Fault {
			return fault.New(fault.Refused, "group_over_ratio", "The group would have more students than its crew may take. "+
				"It changed while this was judged: read it again, and move a student or add an assistant.")
		},
		"participant_in_one_place": func() *fault.Fault {
			return fault.New(fault.Refused, "double_booked", "Somebody would be on two sessions at once. "+
				"The plan changed while this was judged: read the day again and choose another time or person.")
		},
		"participant_once_a_session": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_participant", "This person already takes part in the session. Change that part, or move it to another group.")
		},
		"incident_person_centre_id_person_id_fkey": func() *fault.Fault { return fault.UnknownReference("person", "/people") },
		"outing_guest_centre_id_person_id_fkey":    func() *fault.Fault { return fault.UnknownReference("person", "/person_id") },
		"participant_student_dives": func() *fault.Fault {
			return fault.New(fault.Conflict, "student_not_diving", "This person is marked as not diving, and a student who does not dive sits out. Take the mark away first.")
		},
		"participant_student_has_enrolment": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_participant", "This person takes part in the session as a student, and nobody is student and crew at once. Take the student out first.")
		},
		"group_one_in_charge": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_in_charge", "The group has an instructor in charge. Replace the instructor in one operation instead.")
		},
	})
	return &Service{db: db, judges: judges}
}

// State is where a session stands.
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

// InWater tells whether the session is in water at all.
func (s Session) InWater() bool { return s.Kind != ratio.Theory }

// Day gives the day of the session as 2006-01-02.
func (s Session) Day() string { return s.OnDay.Format(time.DateOnly) }

// Water is what is known of the conditions, as last reported.
type Water struct {
	VisibilityValue *float64
	VisibilityUnit  *string
	CurrentValue    *float64
	CurrentUnit     *string
	WaterValue      *float64 // the temperature
	WaterUnit       *string
}

// Visibility gives how far one sees, nil when not reported.
func (w Water) Visibility() *units.Reading { return pg.Reading(w.VisibilityValue, w.VisibilityUnit) }

// Current gives the speed of the current, nil when not reported.
func (w Water) Current() *units.Reading { return pg.Reading(w.CurrentValue, w.CurrentUnit) }

// Temperature gives the water's temperature, nil when not reported.
func (w Water) Temperature() *units.Reading { return pg.Reading(w.WaterValue, w.WaterUnit) }

// conditions gives the quantities that the ratio rule judges by.
func (w Water) conditions() ratio.Conditions {
	var c ratio.Conditions
	if r := w.Visibility(); r != nil {
		d := r.Depth()
		c.Visibility = &d
	}
	if r := w.Current(); r != nil {
		s := r.Speed()
		c.Current = &s
	}
	if r := w.Temperature(); r != nil {
		t := r.Temperature()
		c.Temperature = &t
	}
	return c
}

// Dive is one planned dive of a water session.
type Dive struct {
	ID           uuid.UUID `json:"id"`
	Number       int       `json:"number"`        // within the session
	TrainingDive *int      `json:"training_dive"` // in the syllabus; nil in confined water
}

// sessionColumns are those of a Session; the table is to be called s.
const sessionColumns = `s.id, s.course_id, s.kind, s.title, s.site_id, s.outing_id, s.starts_local, s.ends_local, s.time_zone,
	s.starts_at, s.ends_at, s.on_day, s.state, s.state_reason, s.opened_at, s.ended_at, s.log_complete, s.places_lowered,
	s.visibility_value, s.visibility_unit, s.current_value, s.current_unit, s.water_value, s.water_unit,
	COALESCE((SELECT jsonb_agg(jsonb_build_object('id', d.id, 'number', d.number, 'training_dive', d.training_dive) ORDER BY d.number)
		FROM dive d WHERE d.centre_id = s.centre_id AND d.session_id = s.id), '[]') AS dives,
	s.version, s.created_at, s.updated_at`

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

// groupColumns are those of a Group; the table is to be called g.
const groupColumns = `g.id, g.session_id, g.name, g.places_lowered, g.students, g.places, g.cleared, g.version, g.created_at, g.updated_at, g.findings,
	(SELECT s.state = 'under_way' AND s.kind <> 'theory' FROM session s WHERE s.centre_id = g.centre_id AND s.id = g.session_id) AS in_water`

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
	NotDiving    bool       // of crew: there, and not to get into the water
	NotDivingBy  *uuid.UUID // who said so; nil where a program did
	NotDivingAt  *time.Time // when it was said
	Version      int64
	CreatedAt    time.Time
	UpdatedAt    time.Time
	PersonName   string
}

// participantColumns are those of a Participant; the table is to be called p
// and the view people_person n.
const participantColumns = `p.id, p.session_id, p.group_id, p.person_id, p.enrolment_id, p.role, p.gauge_unit, p.attendance,
	p.attendance_at, p.counted, p.booked, p.not_diving, p.not_diving_by, p.not_diving_at, p.version, p.created_at, p.updated_at, n.name AS person_name`

const participantFrom = ` FROM participant p JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id `

// Found gives what is to be said of the group now: what the ratio rule found last,
// and, of one in the water that is not cleared, to end the dive.
func (g Group) Found() finding.List {
	var l finding.List
	if err := json.Unmarshal(g.Findings, &l); err != nil {
		panic("sessions: findings of a group are no JSON: " + err.Error()) // the service wrote them
	}
	if g.Cleared || !g.InWater {
		return l
	}
	f := EndTheDive.Of("Group "+g.Name+" is in the water and not cleared: end the dive.", finding.Subject{Type: "group", ID: g.ID.String()})
	f.Limit, f.Found = finding.Count(g.Places, "students"), finding.Count(g.Students, "students")
	f.Cures = []finding.Cure{{Code: "end_dive", Message: "End the dive as the instructor in charge decides."},
		{Code: "regroup", Message: "Put the group right: move students, or add crew who are there."}}
	return append(finding.List{f}, l...)
}
