package standing

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
)

// Lessons are the syllabuses by which the students of a session are taught: a
// make-up is taught by that of the own course.
type Lessons struct {
	Own        Version // of the session's own course
	taught     map[uuid.UUID]Version
	Syllabuses map[Version]syllabus.Syllabus
}

// LessonsOf returns the lessons of a session that was read with dayview.Taught.
func (s *Reader) LessonsOf(ctx context.Context, tx *pg.Tx, v dayview.View) (l Lessons, err error) {
	l.Own = Version{v.Course.SyllabusID, v.Course.SyllabusNumber}
	l.taught = make(map[uuid.UUID]Version, len(v.Taught))
	all := []Version{l.Own}
	for _, t := range v.Taught {
		l.taught[t.EnrolmentID] = Version{t.SyllabusID, t.SyllabusNumber}
		all = append(all, l.taught[t.EnrolmentID])
	}
	l.Syllabuses, err = s.Syllabuses(ctx, tx, all...)
	return l, err
}

// Of returns the syllabus of an enrolment that takes part in the session.
func (l Lessons) Of(enrolment uuid.UUID) syllabus.Syllabus { return l.Syllabuses[l.taught[enrolment]] }
