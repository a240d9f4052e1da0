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

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/standing"
)

// Service plans sessions and keeps what was witnessed of them.
type Service struct {
	db        *pg.DB
	standings *standing.Reader
}

// New returns the service on a database, which reads by standings what students have
// learned. It panics without them: nothing would be found, and the water be open.
func New(db *pg.DB, standings *standing.Reader) *Service {
	if standings == nil {
		panic("sessions: New needs a reader of standings")
	}
	db.MapConstraints(map[string]func() *fault.Fault{
		"group_within_ratio": func() *fault.Fault {
			return fault.New(fault.Refused, "group_over_ratio",
				"The group would have more students than its crew may take. "+
					"It changed while this was judged: read it again, and move a student or add an assistant.")
		},
		"participant_in_one_place": func() *fault.Fault {
			return fault.New(fault.Refused, "double_booked", "A person would be on two sessions at once. "+
				"The plan changed while this was judged: read the day again and choose another time or person.")
		},
		"participant_once_a_session": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_participant",
				"This person already takes part in the session. Change that part, or move it to another group.")
		},
		"incident_person_centre_id_person_id_fkey": func() *fault.Fault { return fault.UnknownReference("person", "/people") },
		"outing_guest_centre_id_person_id_fkey":    func() *fault.Fault { return fault.UnknownReference("person", "/person_id") },
		"participant_student_dives": func() *fault.Fault {
			return fault.New(fault.Conflict, "student_not_diving",
				"This person is marked as not diving, and a student who does not dive sits out. Take the mark away first.")
		},
		"participant_student_has_enrolment": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_participant",
				"This person takes part in the session as a student, and nobody is student and crew at once. Take the student out first.")
		},
		"group_one_in_charge": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_in_charge",
				"The group has an instructor in charge. Replace the instructor in one operation instead.")
		},
	})
	return &Service{db: db, standings: standings}
}

// The nouns of a session are those of its read model.
type (
	State       = dayview.State
	Session     = dayview.Session
	Water       = dayview.Water
	Dive        = dayview.Dive
	Group       = dayview.Group
	Role        = dayview.Role
	Attendance  = dayview.Attendance
	Participant = dayview.Participant
)

// The states of a session.
const (
	Planned   = dayview.Planned
	UnderWay  = dayview.UnderWay
	Closed    = dayview.Closed
	Cancelled = dayview.Cancelled
	Abandoned = dayview.Abandoned
)

// The roles. A second instructor counts as an assistant towards the ratio, and
// may sign.
const (
	Student    = dayview.Student
	InCharge   = dayview.InCharge
	Instructor = dayview.Instructor
	Assistant  = dayview.Assistant
)

// The attendances. Expected, present and late count towards a group.
const (
	Expected  = dayview.Expected
	Present   = dayview.Present
	Late      = dayview.Late
	LeftEarly = dayview.LeftEarly
	SatOut    = dayview.SatOut
	Absent    = dayview.Absent
)

// FoundOf returns what is to be said of a group now: what the ratio rule found last,
// and, of one in the water that is not cleared, to end the dive.
func FoundOf(g Group) finding.List {
	var l finding.List
	if err := json.Unmarshal(g.Findings, &l); err != nil {
		panic("sessions: findings of a group are no JSON: " + err.Error()) // the service wrote them
	}
	l = l.InSession(g.SessionID.String())
	if g.Cleared || !g.InWater {
		return l
	}
	f := EndTheDive.Say("Group {group} is in the water and not cleared: end the dive.",
		finding.Named{Type: "group", ID: g.ID.String(), Name: g.Name}).About(finding.Subject{Type: "group",
		ID: g.ID.String()},
		finding.Subject{Type: "session", ID: g.SessionID.String()})
	f.Limit, f.Found = finding.Count(g.Places, "students"), finding.Count(g.Students, "students")
	f.Cures = []finding.Cure{{Code: "end_dive", Message: "End the dive as the instructor in charge decides."},
		{Code: "regroup", Message: "Put the group right: move students, or add crew who are there."}}
	return append(finding.List{f}, l...)
}
