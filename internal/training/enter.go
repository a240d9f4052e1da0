package training

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// Entrant is a student who is about to get into the water.
type Entrant struct {
	EnrolmentID uuid.UUID
	Age         int
}

// MayEnter judges, for the planned dives of a session in their order, whether
// what the students learned before lets them get into the water. It is a plan:
// a dive counts as done for the one after it.
func (s *Service) MayEnter(ctx context.Context, tx *pg.Tx, id uuid.UUID, students []Entrant) (finding.List, error) {
	row, err := findSession(ctx, tx, id)
	if err != nil || row.Kind == syllabus.Theory {
		return nil, err
	}
	dives, err := divesOf(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(students))
	for i, e := range students {
		ids[i] = e.EnrolmentID
	}
	all, err := s.standings(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	var found finding.List
	for _, x := range students {
		e, ok := all[x.EnrolmentID]
		if !ok {
			return nil, fault.Missing("enrolment")
		}
		found = append(found, mayEnter(row, dives, *e, syllabus.Years(x.Age))...)
	}
	return found, nil
}

func mayEnter(row session, dives []Dive, e enrolment, age syllabus.Years) finding.List {
	var found finding.List
	standing := *e.Standing
	standing.Dives = append([]syllabus.DiveDone{}, standing.Dives...)
	if len(dives) == 0 {
		dives = []Dive{{}} // whoever gets in is judged, planned or not
	}
	for _, d := range dives {
		c := syllabus.DiveCase{Syllabus: e.Syllabus, Standing: standing, Setting: row.Kind, On: row.day(), Age: age, SiteMax: row.siteMax()}
		if row.Kind == syllabus.Open {
			c.Number = numbered(e.Syllabus, standing, d)
		}
		found = append(found, named(e, syllabus.MayDive(c))...)
		if c.Number > 0 {
			standing.Dives = append(standing.Dives, asPlanned(e.Syllabus, c))
		}
	}
	return found
}

// numbered gives the training dive that an open-water dive is judged as: its
// own; for one without a number the student's next, the last when all are done.
func numbered(y syllabus.Syllabus, st syllabus.Standing, d Dive) int {
	if d.TrainingDive != nil {
		return *d.TrainingDive
	}
	if n := syllabus.NextDive(y, st); n > 0 || len(y.Dives) == 0 {
		return n
	}
	return y.Dives[len(y.Dives)-1].Number
}

// asPlanned is a dive as it counts if it is done as planned.
func asPlanned(y syllabus.Syllabus, c syllabus.DiveCase) syllabus.DiveDone {
	d := syllabus.DiveDone{ID: "planned", Number: c.Number, Age: c.Age, On: c.On, Duration: syllabus.Of(60, units.UnitMinute)}
	if t := y.Dive(c.Number); t != nil {
		d.Depth = syllabus.DepthLimit(y, c.Number, c.Age, c.SiteMax).Depth
		if !t.LeastDuration.IsZero() {
			d.Duration = t.LeastDuration
		}
	}
	return d
}

// named puts the student's name before each message: the findings of a whole
// group are read together.
func named(e enrolment, l finding.List) finding.List {
	for i := range l {
		l[i].Message = e.Name + ": " + l[i].Message
		l[i].Subjects = append(l[i].Subjects, finding.Subject{Type: "person", ID: e.PersonID.String()})
	}
	return l
}
