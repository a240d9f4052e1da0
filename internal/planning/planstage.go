package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// planStage is a session with whatever its plans are judged by.
type planStage struct {
	dayview.View
	parts    map[uuid.UUID]planPart
	settings gasplan.GasSettings // of the centre
	books    []ratio.Book        // that the centre applies
	syllabus syllabusKey         // of the session's course
	taught   map[syllabusKey]syllabus.Syllabus
}

// syllabusKey names a version of a syllabus of the centre.
type syllabusKey struct {
	SyllabusID     uuid.UUID
	SyllabusNumber int
}

// planPart is a participant as planning asks.
type planPart struct {
	ID        uuid.UUID
	GroupID   *uuid.UUID
	PersonID  uuid.UUID
	Role      string
	GaugeUnit string
	Counted   bool // and to dive
	Name      string
	BirthOn   time.Time
	TaughtBy  *syllabusKey // of a student
}

func (p planPart) named() finding.Named { return finding.Person(p.PersonID, p.Name) }

// stageParts are the parts of a view that a stage is made of.
const stageParts = dayview.People | dayview.Taught

// readPlanStage reads a session with its people in one round trip, and the
// syllabuses that are not known yet.
func (s *Service) readPlanStage(ctx context.Context, tx *pg.Tx, session uuid.UUID) (planStage, error) {
	v, err := dayview.One(ctx, tx, session, stageParts)
	if err != nil {
		return planStage{}, err
	}
	return s.stageOf(ctx, tx, v)
}

// stageOf returns the stage of a session that was read, and reads the syllabuses that
// are not known yet.
func (s *Service) stageOf(ctx context.Context, tx *pg.Tx, v dayview.View) (st planStage, err error) {
	st = planStage{View: v, parts: map[uuid.UUID]planPart{}, taught: map[syllabusKey]syllabus.Syllabus{},
		syllabus: syllabusKey{v.Course.SyllabusID, v.Course.SyllabusNumber}}
	if st.books, err = v.Centre.Books(); err != nil {
		return st, fmt.Errorf("read rule books: %w", err)
	}
	if v.Centre.GasSettings != nil {
		if err := json.Unmarshal(v.Centre.GasSettings, &st.settings); err != nil {
			return st, fmt.Errorf("read gas settings: %w", err)
		}
	}
	if err := s.learnSyllabus(ctx, tx, &st, st.syllabus); err != nil {
		return st, err
	}
	by := map[uuid.UUID]*syllabusKey{}
	for _, t := range v.Taught {
		by[t.EnrolmentID] = &syllabusKey{t.SyllabusID, t.SyllabusNumber}
		if err := s.learnSyllabus(ctx, tx, &st, *by[t.EnrolmentID]); err != nil {
			return st, err
		}
	}
	for _, p := range v.Participants {
		one := planPart{ID: p.ID, GroupID: p.GroupID, PersonID: p.PersonID, Role: string(p.Role),
			GaugeUnit: string(p.GaugeUnit),
			Counted:   p.Dives(), Name: p.PersonName, BirthOn: v.People[p.PersonID].BirthOn}
		if p.EnrolmentID != nil {
			one.TaughtBy = by[*p.EnrolmentID]
		}
		st.parts[p.ID] = one
	}
	return st, nil
}

// learnSyllabus puts a version of a syllabus on the stage.
func (s *Service) learnSyllabus(ctx context.Context, tx *pg.Tx, st *planStage, k syllabusKey) error {
	if _, ok := st.taught[k]; ok {
		return nil
	}
	y, err := s.syllabuses.Of(ctx, tx, versions.Version{SyllabusID: k.SyllabusID, Number: k.SyllabusNumber})
	if err != nil {
		return err
	}
	st.taught[k] = y
	return nil
}

// leastTime returns how long the dive must last to count, nil where the syllabus
// does not say.
func (st planStage) leastTime(dive *uuid.UUID) *gasplan.Quantity {
	var most units.Reading
	y := st.taught[st.syllabus]
	for _, n := range st.TrainingDives(dive) {
		if d := y.Dive(n); d != nil && d.LeastDuration.Unit.Dimension() == units.Times &&
			(most.IsZero() || units.Reading(d.LeastDuration).Compare(most) > 0) {
			most = units.Reading(d.LeastDuration)
		}
	}
	if most.IsZero() || st.Kind != ratio.Open {
		return nil
	}
	return new(gasplan.Of(most))
}

// known returns a quantity of two columns, nil where nothing is known.
func known(r *units.Reading) *gasplan.Quantity {
	if r == nil {
		return nil
	}
	return new(gasplan.Of(*r))
}
