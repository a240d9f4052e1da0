package assessment

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/standing"
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

// granted is a completion that stands, with what it rests on.
type granted struct {
	EnrolmentID uuid.UUID
	ID          uuid.UUID
	RestsOn     []uuid.UUID
}

// standingCompletions reads the completions that stand, by enrolment.
func standingCompletions(ctx context.Context, tx *pg.Tx, enrolments ...uuid.UUID) (map[uuid.UUID][]granted,
	error) {
	rows, err := pg.Rows[granted](ctx, tx, `SELECT c.enrolment_id, c.id, c.rests_on`+completionFrom+
		`WHERE c.centre_id = app_centre()
		AND c.enrolment_id = ANY (@ids) AND v.completion_id IS NULL`, pgx.StrictNamedArgs{"ids": enrolments})
	out := make(map[uuid.UUID][]granted, len(rows))
	for _, g := range rows {
		out[g.EnrolmentID] = append(out[g.EnrolmentID], g)
	}
	return out, err
}

func progressOf(e *standing.Enrolment, completions []granted) Progress {
	out := Progress{EnrolmentID: e.ID, PersonID: e.PersonID, Name: e.Name, State: e.State, Syllabus: e.Syllabus,
		Progress: syllabus.ProgressOf(e.Syllabus, *e.Standing)}
	for _, g := range completions {
		out.Flags = append(out.Flags, syllabus.CompletionFlags(g.ID.String(), standing.Texts(g.RestsOn),
			*e.Standing)...)
	}
	return out
}

// Progress reads the progress of one enrolment; a student their own.
func (s *Service) Progress(ctx context.Context, by actor.Actor, id uuid.UUID) (out Progress, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		all, err := s.standings.Read(ctx, tx, []uuid.UUID{id})
		if err != nil {
			return err
		}
		e, ok := all[id]
		if !ok || !permission.Covers("getProgress", by, e.PersonID) {
			return fault.NoSuch("enrolment")
		}
		granted, err := standingCompletions(ctx, tx, id)
		out = progressOf(e, granted[id])
		return err
	})
	return out, err
}

// CourseProgress reads the progress of every enrolment of a course that is
// active or completed, by name.
func (s *Service) CourseProgress(ctx context.Context, by actor.Actor, course uuid.UUID) (out []Progress,
	y syllabus.Syllabus, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, found, err := pg.OptionalRow[standing.Version](ctx, tx,
			`SELECT syllabus_id, syllabus_number AS syllabus_no FROM courses_course
			WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": course})
		if err == nil && !found {
			err = fault.NoSuch("course")
		}
		if err != nil {
			return err
		}
		if y, err = s.standings.Syllabus(ctx, tx, c); err != nil {
			return err
		}
		ids, err := pg.Rows[uuid.UUID](ctx, tx,
			`SELECT e.id
			FROM courses_enrolment e
			JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id
			WHERE e.centre_id = app_centre() AND e.course_id = @id AND e.state IN ('active', 'completed')
			ORDER BY n.name, e.id`, pgx.StrictNamedArgs{"id": course})
		if err != nil {
			return err
		}
		all, err := s.standings.Read(ctx, tx, ids)
		if err != nil {
			return err
		}
		completions, err := standingCompletions(ctx, tx, ids...)
		if err != nil {
			return err
		}
		out = nil
		for _, id := range ids {
			if e, ok := all[id]; ok {
				out = append(out, progressOf(e, completions[id]))
			}
		}
		return nil
	})
	return out, y, err
}
