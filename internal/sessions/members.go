package sessions

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/roster"
	"tankside/internal/when"
)

// NewParticipant is a part in a session that is to be planned: a student by an
// enrolment, or one of the crew by person and role.
type NewParticipant struct {
	Key         once.Key
	SessionID   uuid.UUID
	GroupID     *uuid.UUID
	PersonID    uuid.UUID  // of crew
	EnrolmentID *uuid.UUID // of a student; of another course, it is a make-up
	Role        Role
	GaugeUnit   *string // the person's own unless said
	NotDiving   bool    // of crew: there, and not to get into the water
	named       string  // the member of the body that names the person, person_id unless said
}

// enrolled is what sessions ask about an enrolment.
type enrolled struct {
	ID         uuid.UUID
	CourseID   uuid.UUID
	PersonID   uuid.UUID
	State      string
	SyllabusID uuid.UUID
	Course     string
}

const enrolmentsSQL = `SELECT e.id, e.course_id, e.person_id, e.state, c.syllabus_id, c.title AS course
	FROM courses_enrolment e
	JOIN courses_course c ON c.centre_id = e.centre_id AND c.id = e.course_id
	WHERE e.centre_id = app_centre() AND e.id = ANY (@ids)`

func findEnrolments(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) (map[uuid.UUID]enrolled, error) {
	rows, err := pg.Rows[enrolled](ctx, tx, enrolmentsSQL, pgx.StrictNamedArgs{"ids": ids})
	out := make(map[uuid.UUID]enrolled, len(rows))
	for _, r := range rows {
		out[r.ID] = r
	}
	return out, err
}

// AddParticipant plans one person's part in a session. The rules judge papers,
// fitness, clashes and the ratio of the group.
func (s *Service) AddParticipant(ctx context.Context, by actor.Actor, n NewParticipant,
	accept []journal.Acceptance) (out Participant, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		session, err := hold(ctx, tx, n.SessionID)
		if err != nil {
			return err
		}
		before, again, err := replayed(ctx, tx, participantDigest, n.Key, findParticipant)
		if err != nil || again {
			out, created = before, false
			return err
		}
		if before, again, err = adoptedBefore(ctx, tx, n); err != nil || again {
			out, created = before, false
			return err
		}
		add := []NewParticipant{n}
		if found, err = s.join(ctx, by, tx, session, add, "create_participant", accept); err != nil {
			return err
		}
		created = true
		out, err = findParticipant(ctx, tx, add[0].Key.ID)
		return err
	})
	return out, found, created, err
}

// join adds participants to a session whose locks are held, judges the whole
// and lets it stand or refuses it.
func (s *Service) join(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, add []NewParticipant,
	kind string, accept []journal.Acceptance) (finding.List, error) {
	if err := mayRearrange(session); err != nil {
		return nil, err
	}
	also, err := s.judgeJoining(ctx, tx, session, add)
	if err != nil {
		return nil, err
	}
	if err := insertParticipants(ctx, by, tx, session, add); err != nil {
		return nil, err
	}
	j, err := s.rejudge(ctx, by, tx, session, kind, plan)
	if err != nil {
		return nil, err
	}
	found := append(append(also.found, j.binding...), joinsUncleared(session, add, j.standing)...)
	missed, err := s.joinsUnready(ctx, tx, j.snapshot.View,
		slices.DeleteFunc(slices.Clone(j.snapshot.Participants), func(p Participant) bool {
			return !slices.ContainsFunc(add, func(n NewParticipant) bool { return n.Key.ID == p.ID })
		}))
	if err != nil {
		return nil, err
	}
	found = append(found, missed...)
	on := j.judgedOn(stageOf(session), also.persons)
	if found, err = settle(ctx, by, tx, session.ID, kind, found, on, accept); err != nil {
		return nil, err
	}
	return append(found, j.standing.InSession(session.ID.String())...), nil
}

// joinsUnready forbids joining a session in the water before one could have been
// in it when it was opened. A briefing names persons, so whoever is about to join
// can be briefed before.
func (s *Service) joinsUnready(ctx context.Context, tx *pg.Tx, v dayview.View,
	joined []Participant) (finding.List, error) {
	if !inTheWater(v.Session) || len(joined) == 0 {
		return nil, nil
	}
	return s.notYet(ctx, tx, toldOf(v), joined)
}

// inTheWater reports whether a water session is under way.
func inTheWater(session Session) bool { return session.State == UnderWay && session.InWater() }

// joinsUncleared forbids joining a group in the water that is not cleared.
func joinsUncleared(session Session, add []NewParticipant, standing finding.List) finding.List {
	if session.State != UnderWay || !session.InWater() {
		return nil
	}
	var out finding.List
	for _, f := range standing.Only(finding.Forbidden) {
		if slices.ContainsFunc(add, func(n NewParticipant) bool {
			return n.Role == Student && n.GroupID != nil &&
				slices.ContainsFunc(f.Subjects,
					func(x finding.Subject) bool { return x.ID == n.GroupID.String() })
		}) {
			out = append(out, f)
		}
	}
	return out
}

// judgeJoining locks the people who are to join, with their enrolments, and
// judges each of them.
func (s *Service) judgeJoining(ctx context.Context, tx *pg.Tx, session Session,
	add []NewParticipant) (out judged, err error) {
	out.persons = personsJudged{}
	if err := mayTake(ctx, tx, session, add); err != nil {
		return out, err
	}
	enrolments, err := lockJoining(ctx, tx, add)
	if err != nil {
		return out, err
	}
	ids := joining(add)
	people, err := dayview.ReadPeople(ctx, tx, ids, session.OnDay)
	if err != nil {
		return out, err
	}
	c, err := dayview.ReadCentre(ctx, tx)
	if err != nil {
		return out, err
	}
	booked, err := bookings(ctx, tx, ids, session)
	if err != nil {
		return out, err
	}
	for i, n := range add {
		p, ok := people[n.PersonID]
		if !ok {
			return out, fault.UnknownReference("person", "/"+cmp.Or(n.named, "person_id"))
		}
		if n.GaugeUnit == nil {
			add[i].GaugeUnit = new(string(p.GaugeUnit))
		}
		on := decision.Judged{Roles: p.Roles, Booked: keptBookings(booked[n.PersonID])}
		out.found = append(out.found, judgePerson(c.Demands(session.OnDay), p, session, n.Role)...)
		out.found = append(out.found, roster.Clashes(p.Person, booking(session), booked[n.PersonID])...)
		if n.Role == Student {
			e := enrolments[*n.EnrolmentID]
			if on.Enrolment, err = enrolmentState(ctx, tx, session, e); err != nil {
				return out, err
			}
			out.found = append(out.found, judgeEnrolment(e, *on.Enrolment)...)
		}
		out.persons[n.PersonID] = on
	}
	return out, nil
}

func joining(add []NewParticipant) []uuid.UUID {
	ids := make([]uuid.UUID, len(add))
	for i, n := range add {
		ids[i] = n.PersonID
	}
	return ids
}

// lockJoining locks people, then enrolments, and reads the enrolments as they
// are under the lock: one may have ended while it waited.
func lockJoining(ctx context.Context, tx *pg.Tx, add []NewParticipant) (map[uuid.UUID]enrolled, error) {
	before, err := resolve(ctx, tx, add)
	if err != nil {
		return nil, err
	}
	if err := lockPeople(ctx, tx, joining(add)...); err != nil || len(before) == 0 {
		return nil, err
	}
	ids := slices.Collect(maps.Keys(before))
	if err := lockEnrolments(ctx, tx, ids...); err != nil {
		return nil, err
	}
	return findEnrolments(ctx, tx, ids)
}

// resolve fills in the person of each student and checks what a part consists of.
func resolve(ctx context.Context, tx *pg.Tx, add []NewParticipant) (map[uuid.UUID]enrolled, error) {
	var ids []uuid.UUID
	for _, n := range add {
		if (n.Role == Student) != (n.EnrolmentID != nil) {
			return nil, fault.Invalid("/enrolment_id",
				"A student takes part by an enrolment, and nobody else does.")
		}
		if err := mayNotDive(n.Role, n.NotDiving); err != nil {
			return nil, err
		}
		if n.EnrolmentID != nil {
			ids = append(ids, *n.EnrolmentID)
		}
	}
	enrolments, err := findEnrolments(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	for i, n := range add {
		if n.EnrolmentID == nil {
			continue
		}
		e, ok := enrolments[*n.EnrolmentID]
		if !ok {
			return nil, fault.UnknownReference("enrolment", "/enrolment_id")
		}
		add[i].PersonID = e.PersonID
	}
	return enrolments, nil
}

// judgePerson judges papers and fitness for a part. Who joins a session that is
// under way is judged as at its opening.
func judgePerson(d roster.Demands, p person, session Session, role Role) finding.List {
	day, stage := roster.Day(session.Day()), roster.Planning
	if session.State == UnderWay {
		stage = roster.Opening
	}
	if role == Student {
		if !session.InWater() {
			return nil
		}
		return roster.Water(d, p.Person, day, stage)
	}
	found := append(roster.Qualified(p.Person, p.Roles, string(role)), roster.Crew(d, p.Person, day)...)
	if session.InWater() {
		found = append(found, roster.Fit(p.Person, day)...)
	}
	return found
}

// enrolmentState returns what an enrolment is judged by that is to take part in a
// session.
func enrolmentState(ctx context.Context, tx *pg.Tx, session Session,
	e enrolled) (*decision.EnrolmentState, error) {
	out := &decision.EnrolmentState{State: e.State, SameCourse: true, SameSyllabus: true}
	if e.CourseID == session.CourseID {
		return out, nil
	}
	syllabus, err := pg.Row[uuid.UUID](ctx, tx,
		`SELECT syllabus_id FROM courses_course WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": session.CourseID})
	out.SameCourse, out.SameSyllabus = false, syllabus == e.SyllabusID
	return out, err
}

// judgeEnrolment judges whether an enrolment may take part: active, and of a
// course with the same syllabus, since a make-up in another would count for
// nothing.
func judgeEnrolment(e enrolled, s decision.EnrolmentState) finding.List {
	subject := finding.Subject{Type: "enrolment", ID: e.ID.String()}
	var found finding.List
	if s.State != "active" {
		f := EnrolmentNotActive.Say("The enrolment is {state}; only an active one takes part in sessions.",
			s.State).About(subject)
		f.Found, f.Cures = finding.Words(s.State), []finding.Cure{{Code: "activate_enrolment",
			Message: "Activate the enrolment, or enrol the person again."}}
		found = append(found, f)
	}
	if !s.SameCourse && !s.SameSyllabus {
		f := OtherSyllabus.Say(`The enrolment is on "{course}", which is taught by another syllabus: nothing done here would count for it.`, e.Course).About(subject)
		f.Cures = []finding.Cure{{Code: "choose_other_session",
			Message: "Choose a session of a course with the same syllabus."}}
		found = append(found, f)
	}
	return found
}

// keptBookings returns bookings as a decision keeps them.
func keptBookings(list []roster.Booking) []decision.Booking {
	out := make([]decision.Booking, len(list))
	for i, b := range list {
		out[i] = decision.Booking{SessionID: uuid.MustParse(b.Session), From: b.Span.From, To: b.Span.To}
	}
	return out
}

// booking is a session as it books its people: one that ended early, no longer than
// it was held.
func booking(s Session) roster.Booking {
	span := roster.Span{From: s.StartsAt, To: s.EndsAt}
	if s.EndedAt != nil && s.EndedAt.Before(s.EndsAt) {
		span.To = *s.EndedAt
	}
	zone, err := when.Zone(s.TimeZone, "")
	if err != nil {
		zone = time.UTC // a zone that was known once and is no more
	}
	return roster.Booking{Session: s.ID.String(), Title: s.Title, Span: span, Zone: zone}
}

// bookings reads what people are booked on around the time of a session.
func bookings(ctx context.Context, tx *pg.Tx, people []uuid.UUID, s Session) (map[uuid.UUID][]roster.Booking,
	error) {
	rows, err := pg.Rows[struct {
		PersonID uuid.UUID
		Session
	}](ctx, tx, `SELECT p.person_id, `+dayview.SessionColumns+
		` FROM participant p JOIN session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		WHERE p.centre_id = app_centre() AND p.person_id = ANY (@people) AND p.booked AND s.id <> @self
			AND s.starts_at < @to AND LEAST(s.ends_at, s.ended_at) > @from`,
		pgx.StrictNamedArgs{"people": people, "self": s.ID, "from": s.StartsAt, "to": s.EndsAt})
	out := make(map[uuid.UUID][]roster.Booking)
	for _, r := range rows {
		out[r.PersonID] = append(out[r.PersonID], booking(r.Session))
	}
	return out, err
}

// insertParticipants writes the parts. Somebody who kept one in the session is
// given that, and its id stands in add afterwards.
func insertParticipants(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session,
	add []NewParticipant) error {
	for i, n := range add {
		if n.GroupID != nil {
			if g, err := findGroup(ctx, tx, *n.GroupID); err != nil || g.SessionID != session.ID {
				if err != nil && fault.KindOf(err) != fault.NotFound {
					return err
				}
				return fault.UnknownReference("group of this session", "/group_id")
			}
		}
		kept, found, err := adopt(ctx, tx, session, n)
		if err != nil {
			return err
		}
		if found {
			add[i].Key.ID = kept
			continue
		}
		if _, err := tx.Do(ctx, `INSERT INTO participant (centre_id, id, session_id, group_id, person_id, enrolment_id, role, gauge_unit, during, body_digest, created_at, updated_at)
			SELECT app_centre(), @id, s.id, @group, @person, @enrolment, @role, @gauge, s.during, @digest, @now, @now
			FROM session s WHERE s.centre_id = app_centre() AND s.id = @session`,
			pgx.StrictNamedArgs{"id": n.Key.ID, "session": session.ID, "group": n.GroupID, "person": n.PersonID,
				"enrolment": n.EnrolmentID,
				"role":      n.Role, "gauge": n.GaugeUnit, "digest": n.Key.Digest, "now": tx.Now}); err != nil {
			return err
		}
		if n.NotDiving {
			if err := markNotDiving(ctx, by, tx, n.Key.ID, true); err != nil {
				return err
			}
		}
	}
	return nil
}
