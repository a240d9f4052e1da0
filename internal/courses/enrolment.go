package courses

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/when"
)

// The rules about enrolling.
var (
	TooYoung = finding.Rule{ID: "courses.too_young", Severity: finding.Forbidden,
		Title:  "Nobody younger than the syllabus allows",
		Text:   "A student has reached the least age of the syllabus on the course's first day.",
		Source: "the syllabus; 10 years for junior grades in training organisations' manuals (seen)"}
	CourseFull = finding.Rule{ID: "courses.full", Severity: finding.Forbidden,
		Title:  "No more active enrolments than places",
		Text:   "A course with a number of places takes no more active enrolments; a further student waits.",
		Source: "the centre's own number"}
	NotAStudent = finding.Rule{ID: "courses.not_a_student", Severity: finding.Forbidden,
		Title:  "Whoever is enrolled has the role student",
		Text:   "A person is enrolled as a student: the role is given first.",
		Source: "our choice"}
)

// Rules lists the rules of this package.
func Rules() []finding.Rule { return []finding.Rule{TooYoung, CourseFull, NotAStudent} }

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
func (s *Service) Enrol(ctx context.Context, n NewEnrolment, accept []journal.Acceptance) (out Enrolment, found finding.List, created bool, err error) {
	who := actor.From(ctx)
	if err := mayTeach(who); err != nil {
		return out, nil, false, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := lockCourse(ctx, tx, n.CourseID)
		if err != nil {
			return err
		}
		digest, again, err := pg.Maybe[[]byte](ctx, tx, `SELECT body_digest FROM enrolment WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
		if err != nil {
			return err
		}
		if created = !again; again {
			if err := n.Replays(digest); err != nil {
				return err
			}
		} else if found, err = enrolOnce(ctx, tx, c, n, accept); err != nil {
			return err
		}
		out, err = findEnrolment(ctx, tx, n.ID)
		return err
	})
	return out, found, created, err
}

func enrolOnce(ctx context.Context, tx *pg.Tx, c Course, n NewEnrolment, accept []journal.Acceptance) (finding.List, error) {
	state := "active"
	if n.Waiting {
		state = "waiting"
	}
	found, basis, err := judgeEnrolment(ctx, tx, c, n.PersonID, state)
	if err != nil {
		return nil, err
	}
	if err := journal.Settle(actor.From(ctx), found, accept); err != nil {
		return nil, err
	}
	if _, err := tx.Do(ctx, `INSERT INTO enrolment (centre_id, id, course_id, person_id, state, body_digest, created_at, updated_at)
		VALUES (app_centre(), @id, @course, @person, @state, @digest, @now, @now)`,
		pgx.StrictNamedArgs{"id": n.ID, "course": n.CourseID, "person": n.PersonID, "state": state, "digest": n.Digest, "now": tx.Now}); err != nil {
		return nil, err
	}
	return found, journal.Decide(ctx, tx, journal.Decision{Kind: "enrol", Subject: finding.Subject{Type: "enrolment", ID: n.ID.String()},
		Judged: basis, Findings: found, Accepted: accept})
}

// judgeEnrolment judges whether a person may be on a course in a state. The
// course is locked, so that its places are counted by one at a time.
func judgeEnrolment(ctx context.Context, tx *pg.Tx, c Course, person uuid.UUID, state string) (finding.List, map[string]any, error) {
	if c.State != "open" {
		return nil, nil, fault.WrongState("course", c.State, "Only an open course takes enrolments: choose one that is.")
	}
	type row struct {
		Name    string
		BirthOn time.Time
		Student bool
	}
	p, ok, err := pg.Maybe[row](ctx, tx, `SELECT name, birth_on, 'student' = ANY (roles) AS student FROM people_person WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": person})
	if err == nil && !ok {
		err = fault.UnknownReference("person", "/person_id")
	}
	if err != nil {
		return nil, nil, err
	}
	v, err := findVersion(ctx, tx, c.SyllabusID, c.SyllabusNumber)
	if err != nil {
		return nil, nil, err
	}
	age := syllabus.Years(when.Age(p.BirthOn, c.StartsOn))
	who := finding.Subject{Type: "person", ID: person.String()}
	found := tooYoung(p.Name, age, c.StartsOn, v.Content.MinAge, who)
	if !p.Student {
		f := NotAStudent.Of(p.Name+" does not have the role student.", who)
		f.Cures = []finding.Cure{{Code: "give_role", Message: "Give the person the role student."}}
		found = append(found, f)
	}
	if state == "active" && c.Places != nil && c.ActiveEnrolment >= *c.Places {
		f := CourseFull.Say("The course has {places} places, all taken.", *c.Places).About(finding.Subject{Type: "course", ID: c.ID.String()})
		f.Limit, f.Found = finding.Count(*c.Places, "students"), finding.Count(c.ActiveEnrolment+1, "students")
		f.Cures = []finding.Cure{{Code: "wait", Message: "Enrol the student as waiting."}, {Code: "add_places", Message: "Raise the number of places, if the ratios have room."}}
		found = append(found, f)
	}
	return found, map[string]any{"age": age, "syllabus": v.SyllabusID, "number": v.Number, "state": state}, nil
}

// tooYoung returns the finding that a person is younger, on the day that a course
// starts, than its syllabus asks for.
func tooYoung(name string, age syllabus.Years, on time.Time, least syllabus.Years, about ...finding.Subject) finding.List {
	if age >= least {
		return nil
	}
	f := TooYoung.Say("{person} is {age} on {on}; the syllabus asks for {least_age}.", name, age, on.Format(time.DateOnly), least).About(about...)
	f.Limit, f.Found = finding.Count(int(least), "years"), finding.Count(int(age), "years")
	return finding.List{f}
}

// TooYoungFor returns, in the caller's transaction, the findings about enrolments of a
// person on open courses whose syllabus asks for a greater age.
func (s *Service) TooYoungFor(ctx context.Context, tx *pg.Tx, person uuid.UUID) (out finding.List, err error) {
	type row struct {
		ID             uuid.UUID
		Name           string
		BirthOn        time.Time
		StartsOn       time.Time
		SyllabusID     uuid.UUID
		SyllabusNumber int
	}
	rows, err := pg.Many[row](ctx, tx, `SELECT e.id, n.name, n.birth_on, c.starts_on, c.syllabus_id, c.syllabus_number
		FROM enrolment e
		JOIN course c ON c.centre_id = e.centre_id AND c.id = e.course_id
		JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id
		WHERE e.centre_id = app_centre() AND e.person_id = @person AND e.state IN ('active', 'waiting') AND c.state = 'open'
		ORDER BY c.starts_on, e.id`, pgx.StrictNamedArgs{"person": person})
	for _, e := range rows {
		v, err := findVersion(ctx, tx, e.SyllabusID, e.SyllabusNumber)
		if err != nil {
			return nil, err
		}
		out = append(out, tooYoung(e.Name, syllabus.Years(when.Age(e.BirthOn, e.StartsOn)), e.StartsOn, v.Content.MinAge,
			finding.Subject{Type: "enrolment", ID: e.ID.String()}, finding.Subject{Type: "person", ID: person.String()})...)
	}
	return out, err
}

func findEnrolment(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Enrolment, error) {
	e, found, err := pg.Maybe[Enrolment](ctx, tx, `SELECT `+enrolmentColumns+enrolmentFrom+`WHERE e.centre_id = app_centre() AND e.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("enrolment")
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
func (s *Service) Enrolments(ctx context.Context, f EnrolmentFilter, p page.Request) (out []Enrolment, next *page.Place, horizon pg.Position, err error) {
	who := actor.From(ctx)
	args := pgx.StrictNamedArgs{"courses": f.CourseIDs, "people": f.PersonIDs, "states": f.States,
		"all": who.Staff() || who.IsProgram(), "self": who.Person}
	from, order, err := p.SQL(page.Column{Name: "e.created_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, horizon, err
	}
	err = s.db.Browse(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if horizon, err = pg.Resume(ctx, tx, f.Since, args); err != nil {
			return err
		}
		rows, err := pg.Many[Enrolment](ctx, tx, `SELECT * FROM (SELECT `+enrolmentColumns+enrolmentFrom+`WHERE e.centre_id = app_centre()
			AND (@courses::uuid[] IS NULL OR e.course_id = ANY (@courses)) AND (@people::uuid[] IS NULL OR e.person_id = ANY (@people))
			AND (@states::text[] IS NULL OR e.state = ANY (@states)) AND (@since::bigint IS NULL OR e.touched >= @since AND e.touched < @until)
			AND (@all OR e.person_id = @self)) e WHERE `+from+` `+order, args)
		out, next = page.Cut(p, rows, func(e Enrolment) page.Place { return page.At(e.CreatedAt, e.ID) })
		return err
	})
	return out, next, horizon, err
}

// Enrolment reads one enrolment; a student the own one.
func (s *Service) Enrolment(ctx context.Context, id uuid.UUID) (out Enrolment, err error) {
	who := actor.From(ctx)
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findEnrolment(ctx, tx, id)
		if err == nil && !who.Staff() && !who.IsProgram() && out.PersonID != who.Person {
			err = fault.MissingRole("the crew and managers; a student reads the own enrolment")
		}
		return err
	})
	return out, err
}

// Activate makes a waiting enrolment active, if there is a place.
func (s *Service) Activate(ctx context.Context, id uuid.UUID, version *int64, accept []journal.Acceptance) (out Enrolment, found finding.List, err error) {
	who := actor.From(ctx)
	if err := mayTeach(who); err != nil {
		return out, nil, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
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
		var basis map[string]any
		if found, basis, err = judgeEnrolment(ctx, tx, c, e.PersonID, "active"); err != nil {
			return err
		}
		if err := journal.Settle(who, found, accept); err != nil {
			return err
		}
		if err := journal.Decide(ctx, tx, journal.Decision{Kind: "activate", Subject: finding.Subject{Type: "enrolment", ID: id.String()},
			Judged: basis, Findings: found, Accepted: accept}); err != nil {
			return err
		}
		out, err = setState(ctx, tx, e.ID, "active", "")
		return err
	})
	return out, found, err
}

// mayLeave gives a fault unless the enrolment is in one of the states, in the
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
	cure := "Enrol the person anew."
	switch e.State {
	case "completed":
		cure = "Void the completion first, if it was a mistake."
	case "waiting":
		cure = "Activate it first."
	}
	return fault.WrongState("enrolment", e.State, "This is for an enrolment that is "+strings.Join(states, " or ")+". "+cure)
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
func (s *Service) Withdraw(ctx context.Context, tx *pg.Tx, id uuid.UUID, reason string, version *int64) (Enrolment, error) {
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
func (s *Service) Transfer(ctx context.Context, tx *pg.Tx, id uuid.UUID, n NewEnrolment, version *int64, accept []journal.Acceptance) (Enrolment, finding.List, error) {
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
	found, err := enrolOnce(ctx, tx, c, n, accept)
	if err != nil {
		return e, nil, err
	}
	out, err := findEnrolment(ctx, tx, n.ID)
	return out, found, err
}

// Replayed tells whether an enrolment was made before by the same request, in
// the caller's transaction.
func (s *Service) Replayed(ctx context.Context, tx *pg.Tx, key once.Key) (Enrolment, bool, error) {
	digest, again, err := pg.Maybe[[]byte](ctx, tx, `SELECT body_digest FROM enrolment WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": key.ID})
	if err != nil || !again {
		return Enrolment{}, false, err
	}
	if err := key.Replays(digest); err != nil {
		return Enrolment{}, true, err
	}
	e, err := findEnrolment(ctx, tx, key.ID)
	return e, true, err
}
