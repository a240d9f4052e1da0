// Package planview reads what a gas plan, and the pressures that a briefing tells, are
// judged by: a session with its divers, the centre's settings for gas, its rule books,
// the syllabuses of its students, and what each diver has dived before.
//
// It owns no table and writes none. It must not know whether a plan is asked for,
// confirmed or told, nor what a caller does with a finding: packages plans and briefings
// do.
package planview

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// Parts are the parts of a dayview.View that a Session is made of.
const Parts = dayview.People | dayview.Taught

// Reader reads sessions, and the syllabuses of their students through a cache.
type Reader struct {
	syllabuses *versions.Cache[syllabus.Syllabus]
}

// New returns a reader that uses a cache of syllabuses.
func New(syllabuses *versions.Cache[syllabus.Syllabus]) *Reader { return &Reader{syllabuses} }

// Session is a session with everything that its gas plans are judged by.
type Session struct {
	dayview.View
	Divers     map[uuid.UUID]Diver // by participant
	Settings   gasplan.GasSettings // as the centre has set them, without the program's defaults
	books      []ratio.Book        // that the centre applies
	course     versions.Version    // the course's syllabus
	syllabuses map[versions.Version]syllabus.Syllabus
}

// Diver is a participant as a gas plan takes them.
type Diver struct {
	ID        uuid.UUID // of the participant
	GroupID   *uuid.UUID
	PersonID  uuid.UUID
	Role      string
	GaugeUnit string
	Dives     bool // takes part and is to dive
	Name      string
	BirthOn   time.Time
	TaughtBy  *versions.Version // the syllabus of a student
}

// Named returns the diver as a message names them.
func (d Diver) Named() finding.Named { return finding.Person(d.PersonID, d.Name) }

// Subject returns the participant as the subject of a finding.
func (d Diver) Subject() finding.Subject { return Participant(d.ID) }

// Compare orders divers by name, then by id.
func (d Diver) Compare(o Diver) int {
	return cmp.Or(strings.Compare(d.Name, o.Name), slices.Compare(d.ID[:], o.ID[:]))
}

// Participant returns a participant as the subject of a finding.
func Participant(id uuid.UUID) finding.Subject {
	return finding.Subject{Type: "participant", ID: id.String()}
}

// Read returns a session, read in one round trip, and a further one for each syllabus
// that the cache does not have. Fault: not_found.
func (r *Reader) Read(ctx context.Context, tx *pg.Tx, session uuid.UUID) (Session, error) {
	v, err := dayview.One(ctx, tx, session, Parts)
	if err != nil {
		return Session{}, err
	}
	return r.Of(ctx, tx, v)
}

// Of returns a session from a view that has Parts, and reads each syllabus that the
// cache does not have.
func (r *Reader) Of(ctx context.Context, tx *pg.Tx, v dayview.View) (s Session, err error) {
	s = Session{View: v, Divers: map[uuid.UUID]Diver{}, syllabuses: map[versions.Version]syllabus.Syllabus{},
		course: versions.Version{SyllabusID: v.Course.SyllabusID, Number: v.Course.SyllabusNumber}}
	if s.books, err = v.Centre.Books(); err != nil {
		return s, fmt.Errorf("read rule books: %w", err)
	}
	if v.Centre.GasSettings != nil {
		if err := json.Unmarshal(v.Centre.GasSettings, &s.Settings); err != nil {
			return s, fmt.Errorf("read gas settings: %w", err)
		}
	}
	if err := r.readSyllabus(ctx, tx, s, s.course); err != nil {
		return s, err
	}
	taught := map[uuid.UUID]*versions.Version{} // by enrolment
	for _, t := range v.Taught {
		by := versions.Version{SyllabusID: t.SyllabusID, Number: t.SyllabusNumber}
		if err := r.readSyllabus(ctx, tx, s, by); err != nil {
			return s, err
		}
		taught[t.EnrolmentID] = &by
	}
	for _, p := range v.Participants {
		one := Diver{ID: p.ID, GroupID: p.GroupID, PersonID: p.PersonID, Role: string(p.Role),
			GaugeUnit: string(p.GaugeUnit), Dives: p.Dives(), Name: p.PersonName,
			BirthOn: v.People[p.PersonID].BirthOn}
		if p.EnrolmentID != nil {
			one.TaughtBy = taught[*p.EnrolmentID]
		}
		s.Divers[p.ID] = one
	}
	return s, nil
}

// readSyllabus adds a version of a syllabus to the session, unless it is there.
func (r *Reader) readSyllabus(ctx context.Context, tx *pg.Tx, s Session, v versions.Version) error {
	if _, ok := s.syllabuses[v]; ok {
		return nil
	}
	y, err := r.syllabuses.Of(ctx, tx, v)
	if err != nil {
		return err
	}
	s.syllabuses[v] = y
	return nil
}
