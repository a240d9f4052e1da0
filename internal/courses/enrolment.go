package courses

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// Enrolment is a person on a course.
type Enrolment struct {
	ID          uuid.UUID
	CourseID    uuid.UUID
	PersonID    uuid.UUID
	PersonName  string
	State       string // waiting, active, withdrawn, transferred or completed
	StateReason *string
	Version     int64
	CreatedAt   time.Time
	UpdatedAt   time.Time
}

const enrolmentColumns = `e.id, e.course_id, e.person_id, n.name AS person_name, e.state, e.state_reason, e.version, e.created_at, e.updated_at`

const enrolmentFrom = ` FROM enrolment e JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id `

// NewEnrolment asks for an enrolment. It places nobody into a group.
type NewEnrolment struct {
	once.Key
	CourseID uuid.UUID
	PersonID uuid.UUID
	Waiting  bool // on the waiting list, whatever places there are
}

// Enrol puts a person on a course, active or waiting.
func (s *Service) Enrol(ctx context.Context, by actor.Actor, n NewEnrolment,
	accept []journal.Acceptance) (out Enrolment, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := lockCourse(ctx, tx, n.CourseID)
		if err != nil {
			return err
		}
		digest, again, err := pg.OptionalRow[[]byte](ctx, tx,
			`SELECT body_digest FROM enrolment WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
		if err != nil {
			return err
		}
		if created = !again; again {
			if err := n.Replays(digest); err != nil {
				return err
			}
		} else if found, err = enrolOnce(ctx, by, tx, c, n, accept); err != nil {
			return err
		}
		out, err = findEnrolment(ctx, tx, n.ID)
		return err
	})
	return out, found, created, err
}

func enrolOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, c Course, n NewEnrolment,
	accept []journal.Acceptance) (finding.List, error) {
	state := "active"
	if n.Waiting {
		state = "waiting"
	}
	found, on, err := judgeEnrolment(ctx, tx, c, n.PersonID, state)
	if err != nil {
		return nil, err
	}
	if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
		return nil, err
	}
	if found, err = journal.RequireAccepted(by, found, accept); err != nil {
		return nil, err
	}
	if _, err := tx.Do(ctx, `INSERT INTO enrolment (centre_id, id, course_id, person_id, state, body_digest, created_at, updated_at)
		VALUES (app_centre(), @id, @course, @person, @state, @digest, @now, @now)`,
		pgx.StrictNamedArgs{"id": n.ID, "course": n.CourseID, "person": n.PersonID, "state": state,
			"digest": n.Digest, "now": tx.Now}); err != nil {
		return nil, err
	}
	return found, journal.Decide(ctx, by, tx,
		journal.Decision{Kind: "enrol", Subject: finding.Subject{Type: "enrolment", ID: n.ID.String()},
			JudgedOn: on, Findings: found, Accepted: accept})
}

func findEnrolment(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Enrolment, error) {
	e, found, err := pg.OptionalRow[Enrolment](ctx, tx, `SELECT `+enrolmentColumns+enrolmentFrom+
		`WHERE e.centre_id = app_centre() AND e.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("enrolment")
	}
	return e, err
}

// lockEnrolment locks an enrolment and reads it.
func lockEnrolment(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Enrolment, error) {
	if _, err := tx.Do(ctx, `SELECT id FROM enrolment WHERE centre_id = app_centre() AND id = @id FOR NO KEY UPDATE`, pgx.StrictNamedArgs{"id": id}); err != nil {
		return Enrolment{}, err
	}
	return findEnrolment(ctx, tx, id)
}

// EnrolmentFilter narrows a list of enrolments.
type EnrolmentFilter struct {
	CourseIDs []uuid.UUID
	PersonIDs []uuid.UUID
	States    []string
	Since     *pg.Position // changed after that position
}

// Enrolments lists enrolments in the order in which they were made. A student
// sees only the own ones. horizon is the Since that continues this reading.
func (s *Service) Enrolments(ctx context.Context, by actor.Actor, f EnrolmentFilter,
	p page.Request) (out []Enrolment, next *page.Place, horizon pg.Position, err error) {
	args := pgx.StrictNamedArgs{"courses": f.CourseIDs, "people": f.PersonIDs, "states": f.States,
		"all": permission.Of("listEnrolments", by) == permission.All, "self": by.Person}
	from, order, err := p.SQL(page.Column{Name: "e.created_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, horizon, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if horizon, err = pg.Resume(ctx, tx, f.Since, args); err != nil {
			return err
		}
		rows, err := pg.Rows[Enrolment](ctx, tx, `SELECT * FROM (SELECT `+enrolmentColumns+enrolmentFrom+
			`WHERE e.centre_id = app_centre()
			AND (@courses::uuid[] IS NULL OR e.course_id = ANY (@courses))
				AND (@people::uuid[] IS NULL OR e.person_id = ANY (@people))
			AND (@states::text[] IS NULL OR e.state = ANY (@states))
				AND (@since::bigint IS NULL OR e.touched >= @since AND e.touched < @until)
			AND (@all OR e.person_id = @self)) e WHERE `+from+` `+order, args)
		out, next = page.Cut(p, rows, func(e Enrolment) page.Place { return page.At(e.CreatedAt, e.ID) })
		return err
	})
	return out, next, horizon, err
}

// Enrolment reads one enrolment; a student the own one.
func (s *Service) Enrolment(ctx context.Context, by actor.Actor, id uuid.UUID) (out Enrolment, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findEnrolment(ctx, tx, id)
		if err == nil && !permission.Covers("getEnrolment", by, out.PersonID) {
			err = fault.NoSuch("enrolment") // as its progress and record answer
		}
		return err
	})
	return out, err
}

// Activate makes a waiting enrolment active, if there is a place.
func (s *Service) Activate(ctx context.Context, by actor.Actor, id uuid.UUID, version *int64,
	accept []journal.Acceptance) (out Enrolment, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		before, err := findEnrolment(ctx, tx, id)
		if err != nil {
			return err
		}
		c, err := lockCourse(ctx, tx, before.CourseID)
		if err != nil {
			return err
		}
		e, err := lockEnrolment(ctx, tx, id)
		if err != nil || e.State == "active" {
			out = e
			return err
		}
		if err := mayLeave(e, version, "waiting"); err != nil {
			return err
		}
		var on decision.JudgedOn
		if found, on, err = judgeEnrolment(ctx, tx, c, e.PersonID, "active"); err != nil {
			return err
		}
		if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
			return err
		}
		if found, err = journal.RequireAccepted(by, found, accept); err != nil {
			return err
		}
		if err := journal.Decide(ctx, by, tx,
			journal.Decision{Kind: "activate", Subject: finding.Subject{Type: "enrolment", ID: id.String()},
				JudgedOn: on, Findings: found, Accepted: accept}); err != nil {
			return err
		}
		out, err = setState(ctx, tx, e.ID, "active", "")
		return err
	})
	return out, found, err
}

// mayLeave returns a fault unless the enrolment is in one of the states, in the
// version that is meant.
func mayLeave(e Enrolment, version *int64, states ...string) error {
	if version != nil && e.Version != *version {
		return fault.Changed(e.Version)
	}
	for _, s := range states {
		if e.State == s {
			return nil
		}
	}
	cure := "Enrol the person again."
	switch e.State {
	case "completed":
		cure = "Void the completion first, if it was a mistake."
	case "waiting":
		cure = "Activate it first."
	}
	return fault.WrongState("enrolment", e.State, "This is for an enrolment that is "+
		strings.Join(states, " or ")+". "+cure)
}

func setState(ctx context.Context, tx *pg.Tx, id uuid.UUID, state, reason string) (Enrolment, error) {
	if _, err := tx.Do(ctx, `UPDATE enrolment SET state = @state, state_reason = NULLIF(@reason, ''), version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": id, "state": state, "reason": reason, "now": tx.Now}); err != nil {
		return Enrolment{}, err
	}
	return findEnrolment(ctx, tx, id)
}

// SetState moves an enrolment from one state to another in the caller's
// transaction, for package desk: a completion that is granted or voided.
func (s *Service) SetState(ctx context.Context, tx *pg.Tx, id uuid.UUID, from, to string) (Enrolment, error) {
	e, err := lockEnrolment(ctx, tx, id)
	if err != nil {
		return e, err
	}
	if err := mayLeave(e, nil, from); err != nil {
		return e, err
	}
	return setState(ctx, tx, id, to, "")
}

// Withdraw ends an enrolment with a reason, in the caller's transaction: the
// caller has taken it off the sessions that are still planned.
func (s *Service) Withdraw(ctx context.Context, tx *pg.Tx, id uuid.UUID, reason string,
	version *int64) (Enrolment, error) {
	e, err := lockEnrolment(ctx, tx, id)
	if err != nil || e.State == "withdrawn" {
		return e, err
	}
	if err := mayLeave(e, version, "waiting", "active"); err != nil {
		return e, err
	}
	return setState(ctx, tx, id, "withdrawn", reason)
}

// Hold locks a course in the caller's transaction, for package desk, which locks
// sessions after it. A course that is not there is for Transfer to say.
func (s *Service) Hold(ctx context.Context, tx *pg.Tx, course uuid.UUID) error {
	if _, err := lockCourse(ctx, tx, course); err != nil && fault.KindOf(err) != fault.NotFound {
		return err
	}
	return nil
}

// Transfer ends an enrolment and makes another on a course of the same
// syllabus, in the caller's transaction. What was learned is for the caller to
// carry over.
func (s *Service) Transfer(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID, n NewEnrolment,
	version *int64, accept []journal.Acceptance) (Enrolment, finding.List, error) {
	if _, err := findEnrolment(ctx, tx, id); err != nil {
		return Enrolment{}, nil, err
	}
	c, err := lockCourse(ctx, tx, n.CourseID)
	if fault.KindOf(err) == fault.NotFound {
		err = fault.UnknownReference("course", "/course_id")
	}
	if err != nil {
		return Enrolment{}, nil, err
	}
	e, err := lockEnrolment(ctx, tx, id)
	if err != nil {
		return e, nil, err
	}
	if err := mayLeave(e, version, "waiting", "active"); err != nil {
		return e, nil, err
	}
	if _, err := setState(ctx, tx, id, "transferred", ""); err != nil {
		return e, nil, err
	}
	n.PersonID = e.PersonID
	found, err := enrolOnce(ctx, by, tx, c, n, accept)
	if err != nil {
		return e, nil, err
	}
	out, err := findEnrolment(ctx, tx, n.ID)
	return out, found, err
}

// Replayed reports whether an enrolment was made before by the same request, in
// the caller's transaction.
func (s *Service) Replayed(ctx context.Context, tx *pg.Tx, key once.Key) (Enrolment, bool, error) {
	digest, again, err := pg.OptionalRow[[]byte](ctx, tx,
		`SELECT body_digest FROM enrolment WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": key.ID})
	if err != nil || !again {
		return Enrolment{}, false, err
	}
	if err := key.Replays(digest); err != nil {
		return Enrolment{}, true, err
	}
	e, err := findEnrolment(ctx, tx, key.ID)
	return e, true, err
}
