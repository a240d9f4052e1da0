package training

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
)

// Progress is how far one student is.
type Progress struct {
	EnrolmentID uuid.UUID
	PersonID    uuid.UUID
	Name        string
	State       syllabus.EnrolmentState
	Syllabus    syllabus.Syllabus
	syllabus.Progress
}

func progressOf(e *enrolment) Progress {
	return Progress{EnrolmentID: e.ID, PersonID: e.PersonID, Name: e.Name, State: e.State, Syllabus: e.Syllabus,
		Progress: syllabus.ProgressOf(e.Syllabus, *e.Standing)}
}

// Progress reads the progress of one enrolment; a student the own one.
func (s *Service) Progress(ctx context.Context, id uuid.UUID) (out Progress, err error) {
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		all, err := s.standings(ctx, tx, []uuid.UUID{id})
		if err != nil {
			return err
		}
		e, ok := all[id]
		if !ok || mayReadOf(ctx, e.PersonID) != nil {
			return fault.Missing("enrolment")
		}
		out = progressOf(e)
		return nil
	})
	return out, err
}

// CourseProgress reads the progress of every enrolment of a course that is
// active or completed, by name.
func (s *Service) CourseProgress(ctx context.Context, course uuid.UUID) (out []Progress, y syllabus.Syllabus, err error) {
	if err := mayRead(ctx); err != nil {
		return nil, y, err
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		type row struct {
			SyllabusID   uuid.UUID
			SyllabusNo   int
			SyllabusText []byte
		}
		c, found, err := pg.Maybe[row](ctx, tx, `SELECT c.syllabus_id, c.syllabus_number AS syllabus_no, y.content AS syllabus_text FROM courses_course c
			JOIN courses_syllabus y ON y.centre_id = c.centre_id AND y.syllabus_id = c.syllabus_id AND y.number = c.syllabus_number
			WHERE c.centre_id = app_centre() AND c.id = @id`, pgx.StrictNamedArgs{"id": course})
		if err == nil && !found {
			err = fault.Missing("course")
		}
		if err != nil {
			return err
		}
		if y, err = s.syllabusOf(tx.Centre, c.SyllabusID, c.SyllabusNo, c.SyllabusText); err != nil {
			return err
		}
		ids, err := pg.Many[uuid.UUID](ctx, tx, `SELECT e.id FROM courses_enrolment e JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id
			WHERE e.centre_id = app_centre() AND e.course_id = @id AND e.state IN ('active', 'completed') ORDER BY n.name, e.id`, pgx.StrictNamedArgs{"id": course})
		if err != nil {
			return err
		}
		all, err := s.standings(ctx, tx, ids)
		if err != nil {
			return err
		}
		out = make([]Progress, len(ids))
		for i, id := range ids {
			out[i] = progressOf(all[id])
		}
		return nil
	})
	return out, y, err
}
