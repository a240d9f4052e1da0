package courses

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
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
		Title:  "An enrolled person has the role student",
		Text:   "A person is enrolled as a student: the role is given first.",
		Source: "our choice"}
)

// Rules lists the rules of this package.
func Rules() []finding.Rule { return []finding.Rule{TooYoung, CourseFull, NotAStudent} }

// judgeEnrolment judges whether a person may be on a course in a state, and returns too
// what it was judged on. The course is locked, so that its places are counted by one at
// a time.
func judgeEnrolment(ctx context.Context, tx *pg.Tx, c Course, person uuid.UUID, state string) (finding.List,
	decision.JudgedOn, error) {
	var none decision.JudgedOn
	if c.State != "active" {
		return nil, none, fault.WrongState("course", c.State,
			"Only an active course takes enrolments: choose one that is.")
	}
	type row struct {
		Name    string
		BirthOn time.Time
		Student bool
	}
	p, ok, err := pg.OptionalRow[row](ctx, tx,
		`SELECT name, birth_on, 'student' = ANY (roles) AS student FROM people_person WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": person})
	if err == nil && !ok {
		err = fault.UnknownReference("person", "/person_id")
	}
	if err != nil {
		return nil, none, err
	}
	v, err := findVersion(ctx, tx, c.SyllabusID, c.SyllabusNumber)
	if err != nil {
		return nil, none, err
	}
	on := decision.Enrolment{CourseID: c.ID, PersonID: person, StartsOn: c.StartsOn.Format(time.DateOnly),
		Age: when.Age(p.BirthOn, c.StartsOn), Student: p.Student, State: state, Places: c.Places,
		ActiveBefore: c.ActiveEnrolment, SyllabusID: v.SyllabusID, SyllabusNumber: v.Number}
	return mayEnrol(on, p.Name, v.Content), decision.JudgedOn{Enrolment: &on}.Stamped(), nil
}

// mayEnrol returns what speaks against an enrolment; name is the person's.
func mayEnrol(on decision.Enrolment, name string, y syllabus.Syllabus) finding.List {
	who := finding.Subject{Type: "person", ID: on.PersonID.String()}
	found := tooYoung(finding.Person(on.PersonID, name), syllabus.Years(on.Age), on.StartsOn, y.MinAge, who)
	if !on.Student {
		f := NotAStudent.Say("{person} does not have the role student.",
			finding.Person(on.PersonID, name)).About(who)
		f.Cures = []finding.Cure{{Code: "give_role", Message: "Give the person the role student."}}
		found = append(found, f)
	}
	if on.State == "active" && on.Places != nil && on.ActiveBefore >= *on.Places {
		f := CourseFull.Say("The course has {places} places, all taken.",
			*on.Places).About(finding.Subject{Type: "course", ID: on.CourseID.String()})
		f.Limit, f.Found = finding.Count(*on.Places, "students"), finding.Count(on.ActiveBefore+1, "students")
		f.Cures = []finding.Cure{{Code: "wait", Message: "Enrol the student as waiting."},
			{Code: "add_places", Message: "Raise the number of places, if the ratios have room."}}
		found = append(found, f)
	}
	return found
}

// tooYoung returns the finding that a person is younger, on the day that a course
// starts, than its syllabus asks for.
func tooYoung(who finding.Named, age syllabus.Years, on string, least syllabus.Years,
	about ...finding.Subject) finding.List {
	if age >= least {
		return nil
	}
	f := TooYoung.Say("{person} is {age} on {on}; the syllabus asks for {least_age}.", who, age,
		on, least).About(about...)
	f.Limit, f.Found = finding.Count(int(least), "years"), finding.Count(int(age), "years")
	return finding.List{f}
}

// TooYoungFor returns, in the caller's transaction, the findings about enrolments of a
// person on active courses whose syllabus asks for a greater age.
func (s *Service) TooYoungFor(ctx context.Context, tx *pg.Tx, person uuid.UUID) (out finding.List, err error) {
	type row struct {
		ID             uuid.UUID
		Name           string
		BirthOn        time.Time
		StartsOn       time.Time
		SyllabusID     uuid.UUID
		SyllabusNumber int
	}
	rows, err := pg.Rows[row](ctx, tx,
		`SELECT e.id, n.name, n.birth_on, c.starts_on, c.syllabus_id, c.syllabus_number
		FROM enrolment e
		JOIN course c ON c.centre_id = e.centre_id AND c.id = e.course_id
		JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id
		WHERE e.centre_id = app_centre() AND e.person_id = @person AND e.state IN ('active', 'waiting')
			AND c.state = 'active'
		ORDER BY c.starts_on, e.id`, pgx.StrictNamedArgs{"person": person})
	for _, e := range rows {
		v, err := findVersion(ctx, tx, e.SyllabusID, e.SyllabusNumber)
		if err != nil {
			return nil, err
		}
		out = append(out, tooYoung(finding.Person(person, e.Name),
			syllabus.Years(when.Age(e.BirthOn, e.StartsOn)), e.StartsOn.Format(time.DateOnly), v.Content.MinAge,
			finding.Subject{Type: "enrolment", ID: e.ID.String()}, finding.Subject{Type: "person",
				ID: person.String()})...)
	}
	return out, err
}
