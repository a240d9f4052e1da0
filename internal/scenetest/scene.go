// Package scenetest prepares data for tests of features: a centre, people with
// papers, sites, a course, enrolments, written as rows by the role of the service.
// Only tests import it.
//
// It must not know a rule: it writes what a test asks for, lawful or not.
package scenetest

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
	"tankside/internal/syllabus"
)

// Fixture is one centre in a database of its own. The centre is a demo centre in
// Lisbon, reads gauges in bar, and applies general practice.
type Fixture struct {
	DB      *pgtest.DB
	Centre  uuid.UUID
	Manager uuid.UUID
	t       testing.TB
	tokens  map[uuid.UUID]uuid.UUID // by person
}

// New returns a centre with a manager who is an instructor too, in a database of its
// own.
func New(t testing.TB) *Fixture {
	t.Helper()
	return In(t, pgtest.New(t))
}

// In returns a further centre in a database.
func In(t testing.TB, db *pgtest.DB) *Fixture {
	t.Helper()
	s := &Fixture{DB: db, Centre: uuid.New(), t: t, tokens: map[uuid.UUID]uuid.UUID{}}
	s.Exec(`INSERT INTO centre (centre_id, name, time_zone, gauge_unit, age_of_majority, rule_books,
		crew_papers, student_papers, medical_months, demo, created_at, updated_at)
		VALUES (@centre, 'Kelp Point', 'Europe/Lisbon', 'bar',
			18, '{general-open,general-confined,general-minors}', '{teaching_status,first_aid}', '{waiver}',
			12, true, @now, @now)`, nil)
	s.Manager = s.Crew("Mara Manager", "manager", "instructor")
	return s
}

// Exec runs a statement in the centre's scope; @centre and @now are set.
func (s *Fixture) Exec(sql string, args pgx.NamedArgs) {
	s.t.Helper()
	err := s.DB.InTx(s.t.Context(), s.Centre, func(ctx context.Context, tx *pg.Tx) error {
		all := pgx.NamedArgs{"centre": s.Centre, "now": tx.Now}
		for k, v := range args {
			all[k] = v
		}
		_, err := tx.Exec(ctx, sql, all)
		return err
	})
	require.NoError(s.t, err)
}

// Clock sets the demo clock so that now is at.
func (s *Fixture) Clock(at time.Time) {
	s.t.Helper()
	s.Exec(`UPDATE centre
		SET clock_offset = @at - clock_timestamp() WHERE centre_id = @centre`, pgx.NamedArgs{"at": at})
}

// Person adds a person with that birth date and those roles, and a token.
func (s *Fixture) Person(name, born string, roles ...string) uuid.UUID {
	s.t.Helper()
	id, token := uuid.New(), uuid.New()
	s.Exec(`INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at,
		updated_at) VALUES (@centre, @id, @name, @born, 'bar', '', @now, @now)`,
		pgx.NamedArgs{"id": id, "name": name, "born": born})
	s.Exec(`INSERT INTO person_role (centre_id, person_id, role)
		SELECT @centre, @id, unnest(@roles::text[])`, pgx.NamedArgs{"id": id, "roles": roles})
	s.Exec(`INSERT INTO token (centre_id, id, person_id, hash, scopes, issued_at, expires_at, body_digest)
		VALUES (@centre, @token, @id, @hash, '{}', @now, @now, '')`,
		pgx.NamedArgs{"id": id, "token": token, "hash": token[:]})
	s.tokens[id] = token
	return id
}

// Crew adds a person born in 1985 with every paper that crew may need, valid from
// 2020 to 2040.
func (s *Fixture) Crew(name string, roles ...string) uuid.UUID {
	s.t.Helper()
	id := s.Person(name, "1985-03-01", roles...)
	for _, kind := range []string{"teaching_status", "first_aid", "insurance", "oxygen_provider"} {
		s.Paper(id, kind, "valid", "2020-01-01", "2040-01-01")
	}
	return id
}

// Student adds a student with that birth date and the papers that an adult needs to
// get into the water: a waiver, and a medical from 2026-01-01 to 2040.
func (s *Fixture) Student(name, born string) uuid.UUID {
	s.t.Helper()
	id := s.Person(name, born, "student")
	s.Paper(id, "waiver", "valid", "2026-01-01", "2040-01-01")
	s.Paper(id, "medical", "nothing_flagged", "2026-01-01", "2040-01-01")
	return id
}

// Paper records a paper; until is "" for one that does not expire.
func (s *Fixture) Paper(person uuid.UUID, kind, outcome, issued, until string) uuid.UUID {
	s.t.Helper()
	id, seen := uuid.New(), s.Manager
	if seen == uuid.Nil {
		seen = person
	}
	s.Exec(`INSERT INTO paper (centre_id, id, person_id, kind, outcome, issued_on, valid_until, seen_by,
		body_digest, recorded_at, recorded_by)
		VALUES (@centre, @id, @person, @kind, @outcome, @issued, NULLIF(@until, '')::date, @seen, '', @now,
			@seen)`,
		pgx.NamedArgs{"id": id, "person": person, "kind": kind, "outcome": outcome, "issued": issued,
			"until": until, "seen": seen})
	return id
}

// Site adds a site of a kind, "confined" or "open", 18 m deep.
func (s *Fixture) Site(kind string) uuid.UUID {
	s.t.Helper()
	id := uuid.New()
	s.Exec(`INSERT INTO site (centre_id, id, name, kind, water, max_depth, emergency,
		body_digest, created_at, updated_at)
		VALUES (@centre, @id, @kind, @kind, 'salt', '(18,m)', '112', '', @now,
			@now)`, pgx.NamedArgs{"id": id, "kind": kind})
	return id
}

// Course adds a course by a syllabus, in June 2026.
func (s *Fixture) Course(y syllabus.Syllabus) uuid.UUID {
	s.t.Helper()
	content, err := json.Marshal(y)
	require.NoError(s.t, err)
	id, course := uuid.New(), uuid.New()
	s.Exec(`INSERT INTO syllabus (centre_id, id, title, newest, body_digest, created_at, updated_at)
		VALUES (@centre, @id, @title, 1, '', @now, @now)`,
		pgx.NamedArgs{"id": id, "title": y.Title})
	s.Exec(`INSERT INTO syllabus_version (centre_id, syllabus_id, number, content, level, made_at,
		body_digest) VALUES (@centre, @id, 1, @content, @level, @now, '')`,
		pgx.NamedArgs{"id": id, "content": string(content), "level": y.Level})
	s.CourseBy(course, id)
	return course
}

// CourseBy adds a further course by an existing syllabus.
func (s *Fixture) CourseBy(course, syllabus uuid.UUID) {
	s.t.Helper()
	s.Exec(`INSERT INTO course (centre_id, id, title, syllabus_id, syllabus_number, starts_on, ends_on,
		body_digest, created_at, updated_at)
		VALUES (@centre, @id, 'Weekend course', @syllabus, 1, '2026-06-05', '2026-06-07', '', @now,
			@now)`, pgx.NamedArgs{"id": course, "syllabus": syllabus})
}

// Enrol adds an active enrolment.
func (s *Fixture) Enrol(course, person uuid.UUID) uuid.UUID {
	s.t.Helper()
	id := uuid.New()
	s.Exec(`INSERT INTO enrolment (centre_id, id, course_id, person_id, state, body_digest, created_at,
		updated_at)
		VALUES (@centre, @id, @course, @person, 'active', '', @now,
			@now)`, pgx.NamedArgs{"id": id, "course": course, "person": person})
	return id
}

// Learned credits an enrolment with every skill and theory part of a syllabus, as learned
// at another centre, so that nothing that comes before is wanting.
func (s *Fixture) Learned(enrolment uuid.UUID, y syllabus.Syllabus) {
	s.t.Helper()
	var what, codes []string
	for _, k := range y.Skills {
		what, codes = append(what, "skill"), append(codes, k.Code)
	}
	for _, p := range y.Theory {
		what, codes = append(what, "theory_part"), append(codes, p.Code)
	}
	s.Exec(`INSERT INTO credit (centre_id, id, enrolment_id, what, code, done_at_centre, done_by, done_on,
		document, accepted_by, accepted_at, body_digest)
		SELECT @centre, gen_random_uuid(), @enrolment, x.what, x.code, 'North Quay', 'N. N.', '2026-04-01',
			'referral', @by, @now, ''
		FROM unnest(@what::text[], @codes::text[]) x (what, code)`,
		pgx.NamedArgs{"enrolment": enrolment, "what": what, "codes": codes, "by": s.Manager})
}

// Context returns the context of the test.
func (s *Fixture) Context() context.Context { return s.t.Context() }

// As returns that person as the caller, with their roles and every
// scope.
func (s *Fixture) As(person uuid.UUID) actor.Actor {
	s.t.Helper()
	who := actor.Actor{Centre: s.Centre, Person: person, Token: s.tokens[person]}
	require.NoError(s.t, s.DB.InTx(s.t.Context(), s.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		who.Roles, err = pg.Rows[actor.Role](ctx, tx, `SELECT role
			FROM person_role WHERE person_id = @p ORDER BY role`, pgx.StrictNamedArgs{"p": person})
		return err
	}))
	return who
}

// Count returns the number that a statement counts in the centre.
func (s *Fixture) Count(sql string) (n int) {
	s.t.Helper()
	require.NoError(s.t, s.DB.InTx(s.t.Context(), s.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		n, err = pg.Row[int](ctx, tx, `SELECT count(*) FROM (`+sql+`) x`, pgx.StrictNamedArgs{})
		return err
	}))
	return n
}

// Session adds a session of three hours of a course, in a state, at a site of its own.
// An open-water session has these training dives, a confined one a dive.
func (s *Fixture) Session(course uuid.UUID, kind, startsAt, state string, trainingDives ...int) uuid.UUID {
	s.t.Helper()
	id, outing, site := uuid.New(), uuid.New(), s.Site(kind)
	from, err := time.Parse(time.RFC3339, startsAt)
	require.NoError(s.t, err)
	day := from.Format(time.DateOnly)
	s.Exec(`INSERT INTO outing (centre_id, id, title, on_day, body_digest, created_at, updated_at)
		VALUES (@centre, @id, @kind, @day, '', @now, @now)`,
		pgx.NamedArgs{"id": outing, "kind": kind, "day": day})
	s.Exec(`INSERT INTO session (centre_id, id, course_id, kind, title, site_id, outing_id, starts_local,
		ends_local, time_zone, starts_at, ends_at, during, on_day, state,
			body_digest, created_at, updated_at)
		VALUES (@centre, @id, @course, @kind, @kind, @site, @outing, @local,
			@local::timestamp + interval '3 hours', 'Europe/Lisbon', @from, @to, tstzrange(@from, @to), @day,
			@state, '', @now, @now)`,
		pgx.NamedArgs{"id": id, "course": course, "kind": kind, "site": site, "outing": outing,
			"local": from.Format("2006-01-02 15:04"), "from": from,
			"to": from.Add(3 * time.Hour), "day": day, "state": state})
	if kind == "confined" {
		trainingDives = []int{0}
	}
	for i, n := range trainingDives {
		s.Exec(`INSERT INTO dive (centre_id, id, session_id, number, training_dive)
			VALUES (@centre, @id, @session, @number, NULLIF(@training, 0))`,
			pgx.NamedArgs{"id": uuid.New(), "session": id, "number": i + 1, "training": n})
	}
	return id
}

// Dives returns the planned dives of a session in their order.
func (s *Fixture) Dives(session uuid.UUID) []uuid.UUID {
	s.t.Helper()
	return s.ids(`SELECT id FROM dive WHERE session_id = @id ORDER BY number`, session)
}

// PersonOf returns the person of an enrolment.
func (s *Fixture) PersonOf(enrolment uuid.UUID) uuid.UUID {
	s.t.Helper()
	return s.ids(`SELECT person_id FROM enrolment WHERE id = @id`, enrolment)[0]
}

func (s *Fixture) ids(sql string, id uuid.UUID) (out []uuid.UUID) {
	s.t.Helper()
	require.NoError(s.t, s.DB.InTx(s.t.Context(), s.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Rows[uuid.UUID](ctx, tx, sql, pgx.StrictNamedArgs{"id": id})
		return err
	}))
	return out
}

// Group adds a cleared group with a hundred places and its instructor in charge.
func (s *Fixture) Group(session uuid.UUID, name string, instructor uuid.UUID) uuid.UUID {
	s.t.Helper()
	id := uuid.New()
	s.Exec(`INSERT INTO session_group (centre_id, id, session_id, name, places, body_digest, created_at,
		updated_at) VALUES (@centre, @id, @session, @name, 100, '', @now, @now)`,
		pgx.NamedArgs{"id": id, "session": session, "name": name})
	s.Participant(session, &id, instructor, nil, "in_charge")
	return id
}

// Participant adds a present participant to a session.
func (s *Fixture) Participant(session uuid.UUID, group *uuid.UUID, person uuid.UUID, enrolment *uuid.UUID,
	role string) uuid.UUID {
	s.t.Helper()
	id := uuid.New()
	s.Exec(`INSERT INTO participant (centre_id, id, session_id, group_id, person_id, enrolment_id, role,
		gauge_unit, attendance, during, body_digest, created_at, updated_at)
		SELECT @centre, @id, s.id, @group, @person, @enrolment, @role, 'bar', 'present', s.during, '', @now,
			@now FROM session s WHERE s.id = @session`,
		pgx.NamedArgs{"id": id, "session": session, "group": group, "person": person,
			"enrolment": enrolment, "role": role})
	return id
}

// Super runs a statement as the superuser, past every policy and grant: for tests that
// tamper.
func (s *Fixture) Super(sql string) {
	s.t.Helper()
	conn, err := pgx.Connect(s.t.Context(), s.DB.SuperURL)
	require.NoError(s.t, err)
	defer conn.Close(s.t.Context())
	_, err = conn.Exec(s.t.Context(), sql)
	require.NoError(s.t, err)
}

// SyllabusOf returns the syllabus of a course.
func (s *Fixture) SyllabusOf(course uuid.UUID) uuid.UUID {
	s.t.Helper()
	return s.ids(`SELECT syllabus_id FROM course WHERE id = @id`, course)[0]
}

// Brief adds an acknowledged briefing by the manager for all participants of a
// session, three hours before it starts. It has a low-gas pressure of 100 bar for
// every dive, as if the instructor of the group had set it.
func (s *Fixture) Brief(session uuid.UUID) {
	s.t.Helper()
	for _, person := range s.ids(`SELECT person_id FROM participant WHERE session_id = @id`, session) {
		s.BriefPerson(session, person)
	}
}

// BriefPerson adds such a briefing for one person.
func (s *Fixture) BriefPerson(session, person uuid.UUID) {
	s.t.Helper()
	s.BriefTelling(session, person,
		`[{"dive_id": null, "plan_id": null, "start": null, "turn": null,
			"low": {"value": 100, "unit": "bar"}}]`)
}

// BriefTelling adds an acknowledged briefing for one person, with the figures as they
// are stored: `[]` for none.
func (s *Fixture) BriefTelling(session, person uuid.UUID, figures string) {
	s.t.Helper()
	briefing, heard := uuid.New(), uuid.New()
	s.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, witnessed_by, token_id, witnessed_at,
		recorded_at, body_digest)
		SELECT @centre, x.id, x.kind, s.id, @by, @token, s.starts_at - interval '3 hours', @now, ''
		FROM session s, (VALUES (@briefing::uuid, 'briefing'), (@heard::uuid, 'acknowledgement')) x (id,
			kind) WHERE s.id = @session`,
		pgx.NamedArgs{"session": session, "by": s.Manager, "token": s.tokens[s.Manager],
			"briefing": briefing, "heard": heard})
	s.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, content)
		VALUES (@centre, @id, @session, '{}', '{}')`,
		pgx.NamedArgs{"id": briefing, "session": session})
	s.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
		VALUES (@centre, @id, @person, 'bar', @figures::jsonb, '')`,
		pgx.NamedArgs{"id": briefing, "person": person, "figures": figures})
	s.Exec(`INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how)
		VALUES (@centre, @id, @briefing, @person, 'said_so')`,
		pgx.NamedArgs{"id": heard, "briefing": briefing, "person": person})
}
