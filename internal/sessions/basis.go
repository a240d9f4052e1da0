package sessions

import (
	"time"

	"github.com/google/uuid"

	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/roster"
	"tankside/internal/units"
)

// basis is what a decision about a session was judged on, kept with it so that it
// can be judged again years later. Of people it has ids, roles and the ages of
// students; of papers ids alone: never a name, and never what a paper says.
type basis struct {
	Course     uuid.UUID     `json:"course"`
	Setting    ratio.Setting `json:"setting"`
	Level      ratio.Level   `json:"level"`
	Day        string        `json:"day"`
	Site       *uuid.UUID    `json:"site"`
	SiteDepth  *measured     `json:"site_depth"`
	Conditions conditions    `json:"conditions"`
	Asked      *asked        `json:"asked"` // by the centre; null where nobody was judged
	Crew       []onList      `json:"crew"`
	Students   []onList      `json:"students"`
	Groups     []judged      `json:"groups"`
	Schedule   *schedule     `json:"schedule,omitempty"` // of a session that is planned or moved
}

// measured is a reading as it was made.
type measured struct {
	Value float64    `json:"value"`
	Unit  units.Unit `json:"unit"`
}

func asMeasured(r *units.Reading) *measured {
	if r == nil {
		return nil
	}
	value, _ := pg.Columns(r)
	return &measured{*value, r.Unit}
}

// conditions are what was known of the water.
type conditions struct {
	Visibility  *measured `json:"visibility"`
	Current     *measured `json:"current"`
	Temperature *measured `json:"temperature"`
}

// asked is what the centre asked of people that day.
type asked struct {
	CrewPapers    []roster.Kind `json:"crew_papers"`
	StudentPapers []roster.Kind `json:"student_papers"`
	MedicalSince  roster.Day    `json:"medical_since"`
	Majority      int           `json:"majority"`
}

// onList is somebody's part in the session.
type onList struct {
	Participant uuid.UUID  `json:"participant"`
	Person      uuid.UUID  `json:"person"`
	Enrolment   *uuid.UUID `json:"enrolment,omitempty"` // of a student
	Role        Role       `json:"role"`
	Age         *int       `json:"age,omitempty"` // of a student, on the day
	Group       *uuid.UUID `json:"group"`
	Counted     bool       `json:"counted"`
	NotDiving   bool       `json:"not_diving,omitempty"`
	Papers      []string   `json:"papers"` // that the person was judged by

	Told *readiness.ToldBy `json:"told,omitempty"` // the low-gas pressure, where a session is opened with dives
}

// schedule is what the time and the site of a session were judged on.
type schedule struct {
	Water  string        `json:"water"` // of the site
	From   time.Time     `json:"from"`
	To     time.Time     `json:"to"`
	Dives  []int         `json:"dives"`  // their numbers in the syllabus
	Beside []appointment `json:"beside"` // the other sessions of the course
}

// appointment is a session as the order of teaching judges it.
type appointment struct {
	Session uuid.UUID     `json:"session"`
	Setting ratio.Setting `json:"setting"`
	From    time.Time     `json:"from"`
	To      time.Time     `json:"to"`
	Dives   []int         `json:"dives"`
}

// basisOf is the basis of a session of which nobody is judged.
func basisOf(s Session, l ratio.Level) basis {
	return basis{Course: s.CourseID, Setting: s.Kind, Level: l, Day: s.Day(), Site: s.SiteID,
		Conditions: conditions{asMeasured(s.Visibility), asMeasured(s.Current),
			asMeasured(s.Temperature)},
		Crew: []onList{}, Students: []onList{}, Groups: []judged{}}
}

// basis returns what a session was judged on.
func (j judgement) basis() basis {
	b := j.bench
	out := basisOf(b.Session, b.Course.Level)
	d := b.Centre.Demands(b.OnDay)
	out.SiteDepth, out.Groups = asMeasured(b.Site.MaxDepth), j.judged
	out.Asked = &asked{CrewPapers: d.CrewPapers, StudentPapers: d.StudentPapers, MedicalSince: d.MedicalSince,
		Majority: d.Majority}
	for _, p := range b.Participants {
		who := b.People[p.PersonID]
		l := onList{Participant: p.ID, Person: p.PersonID, Enrolment: p.EnrolmentID, Role: p.Role,
			Group: p.GroupID, Counted: p.Counted, NotDiving: p.NotDiving}
		if p.Role == Student {
			l.Age, l.Papers = &who.Age, roster.PapersOf(who.Person, roster.StudentKinds(d))
			out.Students = append(out.Students, l)
			continue
		}
		l.Papers = roster.PapersOf(who.Person, roster.CrewKinds(d))
		out.Crew = append(out.Crew, l)
	}
	return out
}

// telling adds to a basis what told everybody who is to dive their low-gas pressure.
func (b basis) telling(told map[uuid.UUID]readiness.ToldBy) basis {
	for _, list := range [][]onList{b.Crew, b.Students} {
		for i, p := range list {
			if by, ok := told[p.Participant]; ok {
				list[i].Told = &by
			}
		}
	}
	return b
}
