// Package training keeps what was done and what it proves: dives, gas checks,
// drill attempts and theory results as they were witnessed; credits, sign-offs
// and completions as they were decided; and what follows from them, progress
// and the record.
//
// It owns the tables dive_start, dive_end, gas_check, gas_response,
// log_completion, drill_attempt, theory_result, credit, credit_void, sign_off,
// sign_off_void, completion and completion_void. It must not judge: package
// signal judges gas checks and what follows from them, package gas foretells,
// package syllabus judges everything that is learned, package ratio says how
// deep the centre's rule books let a student go. It must not know how
// people, courses, sessions and plans are kept; it reads them through their
// views.
package training

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
	"tankside/internal/when"
)

// Service keeps what was trained.
type Service struct {
	db         *pg.DB
	syllabuses *versions.Cache[syllabus.Syllabus]
	judges     Judges
}

// New returns the service on a database, which reads syllabuses through a cache. It
// panics where a judge is missing.
func New(db *pg.DB, syllabuses *versions.Cache[syllabus.Syllabus], judges Judges) *Service {
	judges.require()
	db.MapConstraints(map[string]func() *fault.Fault{
		"sign_off_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_signed_off",
				"The skill was signed off while this request was judged. Read the progress again.")
		},
		"completion_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_completed",
				"The enrolment was completed while this request was judged. Read it again.")
		},
	})
	return &Service{db: db, syllabuses: syllabuses, judges: judges}
}

// session is what training asks about a session.
type session struct {
	ID        uuid.UUID
	CourseID  uuid.UUID
	Kind      syllabus.Setting
	Title     string
	State     syllabus.SessionState
	EndedAt   *time.Time // when it was closed, called off or abandoned
	OutingID  *uuid.UUID
	StartsAt  time.Time
	EndsAt    time.Time
	OnDay     time.Time
	TimeZone  string
	SiteDepth *units.Reading
}

// sessionsSQL reads the sessions of the ids @sessions. Here and below, rows are reached
// by their keys, as in package dayview.
const sessionsSQL = `
	SELECT s.id, s.course_id, s.kind, s.title, s.state, s.ended_at, s.outing_id, s.starts_at, s.ends_at, s.on_day,
		s.time_zone, t.max_depth AS site_depth
	FROM unnest(@sessions::uuid[]) w (id)
	CROSS JOIN LATERAL (
		SELECT *
		FROM sessions_session s
		WHERE s.centre_id = app_centre() AND s.id BETWEEN w.id AND w.id
		ORDER BY s.id) s
	LEFT JOIN LATERAL (
		SELECT t.max_depth
		FROM courses_site t
		WHERE t.centre_id = s.centre_id AND t.id BETWEEN s.site_id AND s.site_id
		ORDER BY t.id) t ON true`

// sessionOf returns what training asks about a session that was read.
func sessionOf(v dayview.View) session {
	return session{ID: v.ID, CourseID: v.CourseID, Kind: syllabus.Setting(v.Kind), Title: v.Title,
		State: syllabus.SessionState(v.State), EndedAt: v.EndedAt, OutingID: v.OutingID, StartsAt: v.StartsAt,
		EndsAt: v.EndsAt, OnDay: v.OnDay, TimeZone: v.TimeZone, SiteDepth: v.Site.MaxDepth}
}

// day returns the day of the session as rules know it.
func (s session) day() syllabus.Day { return syllabus.Day(s.OnDay.Format(time.DateOnly)) }

// dayOf returns the day of an instant in the session's zone.
func (s session) dayOf(at time.Time) syllabus.Day {
	return dayOf(when.DayOf(at, s.zone()))
}

// zone returns the time zone of the session's place.
func (s session) zone() *time.Location {
	loc, err := when.Zone(s.TimeZone, "")
	if err != nil {
		return time.UTC // a zone that was known once and is no more
	}
	return loc
}

// clock returns a moment by the clock of the session's place: with the day, where
// it is another than the session's.
func (s session) clock(at time.Time) finding.Moment {
	m := finding.Clock(at, s.zone())
	m.Dated = s.dayOf(at) != s.day()
	return m
}

// siteMax returns the site's greatest depth, zero when there is no site.
func (s session) siteMax() syllabus.Quantity {
	if r := s.SiteDepth; r != nil {
		return syllabus.Quantity(*r)
	}
	return syllabus.Quantity{}
}

// part is a participant as training asks.
type part struct {
	ID           uuid.UUID
	GroupID      *uuid.UUID
	PersonID     uuid.UUID
	EnrolmentID  *uuid.UUID
	Role         string
	GaugeUnit    units.Unit
	Attendance   string
	AttendanceAt *time.Time // of the roll call that says so
	Name         string
	BirthOn      time.Time
	Cleared      *bool     // of the group
	Said         []arrival // of somebody who came unexpected: what each roll call says
}

// partOf returns a participant of a session that was read. The birth date is known
// where people were read.
func partOf(v dayview.View, p dayview.Participant) part {
	out := part{ID: p.ID, GroupID: p.GroupID, PersonID: p.PersonID, EnrolmentID: p.EnrolmentID,
		Role:      string(p.Role),
		GaugeUnit: p.GaugeUnit, Attendance: string(p.Attendance), AttendanceAt: p.AttendanceAt,
		Name:    p.PersonName,
		BirthOn: v.People[p.PersonID].BirthOn, Said: arrivalsOf(v, p)}
	if p.GroupID != nil {
		if g, there := v.Group(*p.GroupID); there {
			out.Cleared = &g.Cleared
		}
	}
	return out
}

// named returns the person as a message calls them.
func (p part) named() finding.Named { return finding.Person(p.PersonID, p.Name) }

// age returns the age on the session's day.
func (p part) age(s session) syllabus.Years { return syllabus.Years(when.Age(p.BirthOn, s.OnDay)) }

// stage is a session with its participants and planned dives, as what happened
// in it is judged.
type stage struct {
	view     dayview.View
	session  session
	parts    map[uuid.UUID]part
	dives    []Dive
	managers []uuid.UUID          // of those whom the entries name as witnesses
	before   map[uuid.UUID][]byte // digests of entries that were recorded before
	stillIn  []stillIn            // who was in the water when the session ended
}

// asked is what entries ask to be read for them: whether their ids were used
// before, and their witnesses, the caller where nobody is named.
type asked struct{ ids, witnesses []uuid.UUID }

func ask[I any](items []I, of func(I) (id uuid.UUID, witness *uuid.UUID)) asked {
	var a asked
	for _, item := range items {
		id, witness := of(item)
		a.ids = append(a.ids, id)
		if witness != nil {
			a.witnesses = append(a.witnesses, *witness)
		}
	}
	return a
}

// facts are what a stage has beside the view of its session.
type facts struct {
	stillIn  []stillIn
	used     []journal.Used
	managers []uuid.UUID
}

// queue reads them, with what entries ask.
func (f *facts) queue(b *pgx.Batch, session uuid.UUID, a asked) {
	pg.QueueRows(b, &f.stillIn, stillInSQL, pgx.StrictNamedArgs{"session": session})
	if len(a.ids) > 0 {
		journal.QueueUsed(b, &f.used, a.ids)
	}
	if len(a.witnesses) > 0 {
		pg.QueueRows(b, &f.managers, `
			SELECT id
			FROM people_person
			WHERE centre_id = app_centre() AND id = ANY (@ids) AND 'manager' = ANY (roles)`,
			pgx.StrictNamedArgs{"ids": a.witnesses})
	}
}

// newStage returns the stage of a session that was read with dayview.Called.
func newStage(v dayview.View, f facts) stage {
	st := stage{view: v, session: sessionOf(v), parts: make(map[uuid.UUID]part, len(v.Participants)),
		managers: f.managers,
		before:   journal.ByID(f.used), stillIn: f.stillIn}
	for _, p := range v.Participants {
		st.parts[p.ID] = partOf(v, p)
	}
	for _, d := range v.Dives {
		st.dives = append(st.dives, Dive{ID: d.ID, Number: d.Number, TrainingDive: d.TrainingDive})
	}
	return st
}

// readStage reads a session with its roll calls, further parts of its view and what
// entries ask, in one round trip, with whatever more queues.
func readStage(ctx context.Context, tx *pg.Tx, id uuid.UUID, want dayview.Parts, a asked,
	more ...func(*pgx.Batch)) (stage, error) {
	var b pgx.Batch
	var f facts
	rows := dayview.Query{Sessions: []uuid.UUID{id}, Want: want | dayview.Called}.Queue(&b)
	f.queue(&b, id, a)
	for _, queue := range more {
		queue(&b)
	}
	if err := tx.Send(ctx, &b); err != nil {
		return stage{}, err
	}
	v, err := rows.View()
	if err != nil {
		return stage{}, err
	}
	return newStage(v, f), nil
}

// entry makes the header of something that was seen of a participant.
func (st stage) entry(k journal.Kind, p part, saw uuid.UUID, at time.Time, found finding.List) journal.Entry {
	return journal.Entry{Also: st.notHeld(k, p, at), Kind: k, Session: &st.session.ID,
		Outing: st.session.OutingID, Participant: &p.ID, Enrolment: p.EnrolmentID,
		WitnessedBy: saw, WitnessedAt: at, Findings: found}
}

// sighting is what an entry says of its witness.
type sighting struct {
	by     *uuid.UUID // the caller unless said
	at     time.Time
	member string // the name of the time in the entry
}

// witness returns who saw it: the caller unless said. Only crew of the session, or
// a manager, can have, and not in the future. pointer is the entry's.
func (st stage) witness(by actor.Actor, now time.Time, s sighting,
	pointer string) (uuid.UUID, error) {
	saw := by.Person
	if s.by != nil {
		saw = *s.by
	}
	manager := saw == by.Person && by.Is(actor.Manager) || slices.Contains(st.managers, saw)
	if !manager && !st.crew(saw) {
		return saw, fault.UnknownReference("crew of this session, nor a manager", pointer+"/witnessed_by")
	}
	return saw, journal.CheckTime(now, s.at, pointer+"/"+s.member)
}

// crew reports whether somebody is of the session's crew.
func (st stage) crew(person uuid.UUID) bool {
	for _, p := range st.parts {
		if p.PersonID == person && p.crew() {
			return true
		}
	}
	return false
}

// participant finds a participant of the session.
func (st stage) participant(id uuid.UUID, pointer string) (part, error) {
	p, ok := st.parts[id]
	if !ok {
		return p, fault.UnknownReference("participant of this session", pointer)
	}
	return p, nil
}

// trainingDive returns the number of the training dive that a dive of the session
// is, 0 for none.
func (st stage) trainingDive(id *uuid.UUID, pointer string) (int, error) {
	return diveNumber(st.dives, id, pointer)
}

// refusalOf returns the fault of an error, and reports whether it concerns one item
// alone and does not end the whole request.
func refusalOf(err error) (*fault.Fault, bool) {
	f, ok := fault.Of(err)
	if !ok {
		return nil, false
	}
	switch f.Kind {
	case fault.Malformed, fault.Refused, fault.NotFound, fault.Conflict:
		return f, true
	}
	return nil, false
}
