package courses

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// Course teaches one version of a syllabus over some days.
type Course struct {
	ID              uuid.UUID
	SyllabusID      uuid.UUID
	SyllabusNumber  int
	State           string // active, cancelled or closed
	StateReason     *string
	ActiveEnrolment int // how many enrolments are active
	CourseFields
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// CourseFields are the members of a course that may be edited.
type CourseFields struct {
	Title        string
	StartsOn     time.Time
	EndsOn       time.Time
	Places       *int              // the most active enrolments; nil: as many as the ratios allow
	ExternalRefs map[string]string // ids in other programs
}

// NewCourse asks for a course.
type NewCourse struct {
	once.Key
	SyllabusID     uuid.UUID
	SyllabusNumber *int // nil: the newest version
	CourseFields
}

const courseColumns = `c.id, c.syllabus_id, c.syllabus_number, c.state, c.state_reason, c.title, c.starts_on,
	c.ends_on, c.places, c.external_refs,
	(SELECT count(*)
	FROM enrolment e
	WHERE e.centre_id = c.centre_id AND e.course_id = c.id AND e.state = 'active') AS active_enrolment,
	c.version, c.created_at, c.updated_at`

// CreateCourse adds a course, for managers, instructors and programs.
func (s *Service) CreateCourse(ctx context.Context, by actor.Actor, n NewCourse) (out Course, created bool,
	err error) {
	if err := n.check(); err != nil {
		return out, false, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		digest, found, err := pg.OptionalRow[[]byte](ctx, tx, `SELECT body_digest
			FROM course WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
		switch {
		case err != nil:
			return err
		case found:
			if err := n.Replays(digest); err != nil {
				return err
			}
		default:
			if err := insertCourse(ctx, tx, n); err != nil {
				return err
			}
		}
		created = !found
		out, err = findCourse(ctx, tx, n.ID)
		return err
	})
	return out, created, err
}

func insertCourse(ctx context.Context, tx *pg.Tx, n NewCourse) error {
	number, found, err := pg.OptionalRow[int](ctx, tx, `SELECT number
		FROM syllabus_version WHERE centre_id = app_centre() AND syllabus_id = @id
		AND (@number::int IS NULL OR number = @number)
		ORDER BY number DESC LIMIT 1`, pgx.StrictNamedArgs{"id": n.SyllabusID, "number": n.SyllabusNumber})
	if err == nil && !found {
		err = fault.UnknownReference("syllabus in that version", "/syllabus_id")
	}
	if err != nil {
		return err
	}
	args := n.args()
	args["id"], args["syllabus"], args["number"], args["digest"], args["now"] = n.ID, n.SyllabusID,
		number, n.Digest, tx.Now
	_, err = tx.Do(ctx, `INSERT INTO course (centre_id, id, title, syllabus_id, syllabus_number, starts_on,
		ends_on, places, external_refs, body_digest, created_at, updated_at)
		VALUES (app_centre(), @id, @title, @syllabus, @number, @starts, @ends, @places, @refs, @digest, @now,
			@now)`, args)
	return err
}

func (f CourseFields) check() error {
	if f.EndsOn.Before(f.StartsOn) {
		return fault.Invalid("/ends_on", "The course would end on {ends_on}, before it starts on {starts_on}.",
			f.EndsOn.Format(time.DateOnly), f.StartsOn.Format(time.DateOnly))
	}
	return nil
}

func (f CourseFields) args() pgx.StrictNamedArgs {
	refs := f.ExternalRefs
	if refs == nil {
		refs = map[string]string{}
	}
	return pgx.StrictNamedArgs{"title": f.Title, "starts": f.StartsOn, "ends": f.EndsOn,
		"places": f.Places, "refs": refs}
}

func findCourse(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Course, error) {
	c, found, err := pg.OptionalRow[Course](ctx, tx, `SELECT `+courseColumns+
		` FROM course c WHERE c.centre_id = app_centre() AND c.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("course")
	}
	return c, err
}

// lockCourse locks a course and reads it.
func lockCourse(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Course, error) {
	if _, err := tx.Do(ctx, `SELECT id
		FROM course
		WHERE centre_id = app_centre() AND id = @id
		FOR NO KEY UPDATE`, pgx.StrictNamedArgs{"id": id}); err != nil {
		return Course{}, err
	}
	return findCourse(ctx, tx, id)
}

// CourseFilter narrows a list of courses.
type CourseFilter struct {
	States []string
	From   *time.Time   // courses that end on that day or later
	Before *time.Time   // courses that start before that day
	Since  *pg.Position // changed after that position
}

// Courses returns courses by their first day. horizon is the Since that continues
// this reading.
func (s *Service) Courses(ctx context.Context, by actor.Actor, f CourseFilter,
	p page.Request) (out []Course, next *page.Place, horizon pg.Position, err error) {
	args := pgx.StrictNamedArgs{"states": f.States, "from": f.From, "before": f.Before}
	from, order, err := p.SQL(page.Column{Name: "starts_on", Type: "date"}, args)
	if err != nil {
		return nil, nil, horizon, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if horizon, err = pg.Resume(ctx, tx, f.Since, args); err != nil {
			return err
		}
		rows, err := pg.Rows[Course](ctx, tx, `SELECT `+courseColumns+
			` FROM course c WHERE c.centre_id = app_centre()
			AND (@states::text[] IS NULL OR c.state = ANY (@states))
				AND (@from::date IS NULL OR c.ends_on >= @from)
			AND (@before::date IS NULL OR c.starts_on < @before)
				AND (@since::bigint IS NULL OR c.touched >= @since AND c.touched < @until)
					AND `+from+` `+order, args)
		out, next = page.Cut(p, rows, func(c Course) page.Place {
			return page.Place{Key: c.StartsOn.Format(time.DateOnly), ID: c.ID}
		})
		return err
	})
	return out, next, horizon, err
}

// Course returns one course.
func (s *Service) Course(ctx context.Context, by actor.Actor, id uuid.UUID) (out Course, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findCourse(ctx, tx, id)
		return err
	})
	return out, err
}

// ChangeCourse edits the given version of a course.
func (s *Service) ChangeCourse(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(*CourseFields)) (out Course, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := lockCourse(ctx, tx, id)
		if err == nil && c.Version != version {
			err = fault.Changed(c.Version)
		}
		if err != nil {
			return err
		}
		edit(&c.CourseFields)
		if err := c.check(); err != nil {
			return err
		}
		args := c.args()
		args["id"], args["now"] = id, tx.Now
		if _, err := tx.Do(ctx, `UPDATE course
			SET title = @title, starts_on = @starts, ends_on = @ends, places = @places, external_refs = @refs,
			version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id`, args); err != nil {
			return err
		}
		out, err = findCourse(ctx, tx, id)
		return err
	})
	return out, err
}

// EndCourse cancels a course, or closes one that is over, in the caller's
// transaction. It takes no further enrolments and sessions; its records stay. The
// caller checks the sessions of the course and calls them off.
func (s *Service) EndCourse(ctx context.Context, tx *pg.Tx, e Ending) (Course, error) {
	c, err := lockCourse(ctx, tx, e.CourseID)
	switch {
	case err != nil || c.State == e.State:
		return c, err
	case e.Version != nil && c.Version != *e.Version:
		return c, fault.Changed(c.Version)
	case c.State != "active":
		return c, fault.WrongState("course", c.State, "Only an active course is cancelled or closed.")
	}
	if _, err := tx.Do(ctx, `UPDATE course
		SET state = @state, state_reason = NULLIF(@reason, ''), version = version + 1, updated_at = @now
		WHERE centre_id = app_centre()
			AND id = @id`, pgx.StrictNamedArgs{"id": e.CourseID, "state": e.State, "reason": e.Reason,
		"now": tx.Now}); err != nil {
		return c, err
	}
	return findCourse(ctx, tx, e.CourseID)
}

// Ending asks to end a course.
type Ending struct {
	CourseID uuid.UUID
	State    string // "cancelled" or "closed"
	Reason   string
	Version  *int64 // nil: any version
}
