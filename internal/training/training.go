// Package training keeps what was done and what it proves: dives, gas checks,
// drill attempts and theory results as they were witnessed; credits, sign-offs
// and completions as they were decided; and what follows from them, progress
// and the record.
//
// It owns the tables dive_start, dive_end, gas_check, drill_attempt,
// theory_result, credit, credit_void, sign_off, sign_off_void, completion and
// completion_void. It must not judge: package signal judges a gas check,
// package syllabus everything that is learned. It must not know how people,
// courses and sessions are kept; it reads them through their views.
package training

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/when"
)

// Service keeps what was trained.
type Service struct {
	db         *pg.DB
	syllabuses sync.Map // versionKey to syllabus.Syllabus: a version never changes
}

// New gives the service on a database.
func New(db *pg.DB) *Service {
	db.Explain(map[string]func() *fault.Fault{
		"sign_off_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_signed_off", "Somebody signed this skill off at the same moment. Read the progress again.")
		},
		"completion_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_completed", "Somebody completed this enrolment at the same moment. Read it again.")
		},
	})
	return &Service{db: db}
}

// session is what training asks about a session.
type session struct {
	ID           uuid.UUID
	CourseID     uuid.UUID
	Kind         syllabus.Setting
	Title        string
	State        syllabus.SessionState
	OutingID     *uuid.UUID
	OnDay        time.Time
	TimeZone     string
	SiteDepth    *float64
	SiteDepthIn  *string
	SyllabusID   uuid.UUID
	SyllabusNo   int
	SyllabusText []byte
}

const sessionSQL = `SELECT s.id, s.course_id, s.kind, s.title, s.state, s.outing_id, s.on_day, s.time_zone,
		t.max_depth_value AS site_depth, t.max_depth_unit AS site_depth_in,
		c.syllabus_id, c.syllabus_number AS syllabus_no, y.content AS syllabus_text
	FROM sessions_session s
	JOIN courses_course c ON c.centre_id = s.centre_id AND c.id = s.course_id
	JOIN courses_syllabus y ON y.centre_id = c.centre_id AND y.syllabus_id = c.syllabus_id AND y.number = c.syllabus_number
	LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
	WHERE s.centre_id = app_centre() AND s.id = @session`

// day gives the day of the session as rules know it.
func (s session) day() syllabus.Day { return syllabus.Day(s.OnDay.Format(time.DateOnly)) }

// siteMax gives the site's greatest depth, zero when there is no site.
func (s session) siteMax() syllabus.Quantity {
	if r := pg.Reading(s.SiteDepth, s.SiteDepthIn); r != nil {
		return syllabus.Quantity(*r)
	}
	return syllabus.Quantity{}
}

// part is a participant as training asks.
type part struct {
	ID          uuid.UUID
	GroupID     *uuid.UUID
	PersonID    uuid.UUID
	EnrolmentID *uuid.UUID
	Role        string
	GaugeUnit   units.Unit
	Attendance  string
	Name        string
	BirthOn     time.Time
	Cleared     *bool // of the group
	GroupName   *string
}

const partsSQL = `SELECT p.id, p.group_id, p.person_id, p.enrolment_id, p.role, p.gauge_unit, p.attendance, n.name, n.birth_on, g.cleared, g.name AS group_name
	FROM sessions_participant p
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN sessions_group g ON g.centre_id = p.centre_id AND g.id = p.group_id
	WHERE p.centre_id = app_centre() AND p.session_id = @session ORDER BY n.name, p.id`

// age gives the age on the session's day.
func (p part) age(s session) syllabus.Years { return syllabus.Years(when.Age(p.BirthOn, s.OnDay)) }

// stage is a session with its participants, as what happened in it is judged.
type stage struct {
	session session
	parts   map[uuid.UUID]part
	before  map[uuid.UUID][]byte // digests of entries that were recorded before
}

// readStage reads a session, its participants and which of the ids were used
// before, in one round trip.
func readStage(ctx context.Context, tx *pg.Tx, id uuid.UUID, ids []uuid.UUID) (stage, error) {
	var b pgx.Batch
	var rows []session
	var parts []part
	var used []journal.Used
	args := pgx.StrictNamedArgs{"session": id}
	pg.Queue(&b, &rows, sessionSQL, args)
	pg.Queue(&b, &parts, partsSQL, args)
	journal.QueueUsed(&b, &used, ids)
	if err := tx.Send(ctx, &b); err != nil {
		return stage{}, err
	}
	if len(rows) == 0 {
		return stage{}, fault.Missing("session")
	}
	st := stage{session: rows[0], parts: make(map[uuid.UUID]part, len(parts)), before: journal.ByID(used)}
	for _, p := range parts {
		st.parts[p.ID] = p
	}
	return st, nil
}

// witness gives who saw it: the caller unless said. Only crew of the session,
// or a manager who records it, can have.
func (st stage) witness(ctx context.Context, said *uuid.UUID, pointer string) (uuid.UUID, error) {
	who := actor.From(ctx)
	saw := who.Person
	if said != nil {
		saw = *said
	}
	if saw == uuid.Nil {
		return saw, fault.Invalid(pointer, "Say in witnessed_by who saw it; a program saw nothing itself.")
	}
	if saw == who.Person && who.Is(actor.Manager) {
		return saw, nil
	}
	for _, p := range st.parts {
		if p.PersonID == saw && p.Role != "student" {
			return saw, nil
		}
	}
	return saw, fault.UnknownReference("crew of this session", pointer)
}

// participant finds a participant of the session.
func (st stage) participant(id uuid.UUID, pointer string) (part, error) {
	p, ok := st.parts[id]
	if !ok {
		return p, fault.UnknownReference("participant of this session", pointer)
	}
	return p, nil
}

// mayReport lets the crew, managers and programs report what happened.
func mayReport(ctx context.Context) error {
	return actor.From(ctx).RequireRole("the crew and managers, and programs with the scope", actor.Manager, actor.Instructor, actor.Assistant, actor.Program)
}

// mayRead lets staff and programs read everything of the centre's training.
func mayRead(ctx context.Context) error {
	who := actor.From(ctx)
	if who.Staff() || who.IsProgram() {
		return nil
	}
	return fault.MissingRole("the crew and managers; a student reads the own record and progress")
}

// versionKey names a version of a syllabus of a centre.
type versionKey struct {
	centre, syllabus uuid.UUID
	number           int
}

// syllabusOf parses a version of a syllabus, once for each.
func (s *Service) syllabusOf(centre, id uuid.UUID, number int, text []byte) (syllabus.Syllabus, error) {
	key := versionKey{centre, id, number}
	if known, ok := s.syllabuses.Load(key); ok {
		return known.(syllabus.Syllabus), nil
	}
	var y syllabus.Syllabus
	if err := json.Unmarshal(text, &y); err != nil {
		return y, fmt.Errorf("read syllabus: %w", err)
	}
	s.syllabuses.Store(key, y)
	return y, nil
}

// refusalOf tells a fault that concerns one item alone from one that ends the
// whole request.
func refusalOf(err error) (*fault.Fault, bool) {
	f, ok := err.(*fault.Fault)
	if !ok {
		return nil, false
	}
	switch f.Kind {
	case fault.Malformed, fault.Refused, fault.NotFound, fault.Conflict:
		return f, true
	}
	return nil, false
}

// batch is a set of entries with their detail rows, sent in one round trip.
type batch[T any] struct {
	results []journal.Result
	entries []journal.Entry
	rows    []T
}

// collect judges entries one by one: what was recorded before is answered as
// such, what cannot be recorded is refused by itself.
func collect[I, T any](st stage, items []I, id func(I) uuid.UUID, judge func(item I, at string) (journal.Entry, T, error)) (batch[T], error) {
	b := batch[T]{results: make([]journal.Result, len(items))}
	for i, item := range items {
		digest := journal.DigestOf(item)
		if r, ok := journal.Before(st.before, id(item), digest); ok {
			b.results[i] = r
			continue
		}
		st.before[id(item)] = digest // the same id twice in one call
		entry, row, err := judge(item, fmt.Sprintf("/items/%d", i))
		if err != nil {
			refusal, ok := refusalOf(err)
			if !ok {
				return b, err
			}
			b.results[i] = journal.Result{ID: id(item), Status: journal.NotRecorded, Refusal: refusal}
			continue
		}
		entry.ID, entry.Digest = id(item), digest
		b.results[i] = journal.Result{ID: entry.ID, Status: journal.Recorded, Findings: entry.Findings}
		b.entries, b.rows = append(b.entries, entry), append(b.rows, row)
	}
	return b, nil
}

// write sends the entries and their details; insert is an INSERT that selects
// from the rows as a JSON array, @rows.
func (b batch[T]) write(ctx context.Context, tx *pg.Tx, insert string) error {
	if len(b.entries) == 0 {
		return nil
	}
	rows, err := json.Marshal(b.rows)
	if err != nil {
		return fmt.Errorf("record entries: %w", err)
	}
	var out pgx.Batch
	if err := journal.Queue(ctx, tx, &out, b.entries...); err != nil {
		return err
	}
	out.Queue(insert, pgx.StrictNamedArgs{"rows": string(rows)})
	return tx.Send(ctx, &out)
}

// value and unit are the two columns of a reading in a detail row.
func value(r *units.Reading) *float64 {
	v, _ := pg.Columns(r)
	return v
}

func unit(r *units.Reading) *string {
	_, u := pg.Columns(r)
	return u
}
