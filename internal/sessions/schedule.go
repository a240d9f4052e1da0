package sessions

import (
	"context"
	"encoding/json"
	"fmt"
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
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/syllabus"
	"tankside/internal/when"
)

// NewSession is a session to be planned.
type NewSession struct {
	Key           once.Key
	CourseID      uuid.UUID
	Kind          ratio.Setting
	Title         string
	SiteID        *uuid.UUID // of a water session, always
	OutingID      *uuid.UUID // nil: a water session alone is its own outing
	Times         Times
	PlacesLowered *int
	TrainingDives []int // of an open-water session: the numbers of its dives in the syllabus, in order
	ConfinedDives int   // of a confined-water session: how many times the group goes down
}

// Times are the planned times of a session, in the site's zone.
type Times struct {
	StartsLocal string
	EndsLocal   string
	UTCOffset   *string // which of two, when the clock change doubles a time
}

// PlanSession plans a session of a course: its kind must suit the site, its
// place in the course the order of teaching. Only managers and instructors
// plan. A session that was planned before with the same body is answered as it
// is now, with created false.
func (s *Service) PlanSession(ctx context.Context, by actor.Actor, n NewSession,
	accept []journal.Acceptance) (out Session, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		course, err := holdCourse(ctx, tx, n.CourseID)
		if err != nil {
			return err
		}
		before, again, err := replayed(ctx, tx, sessionDigest, n.Key, findSession)
		if err != nil || again {
			out, created = before, false
			return err
		}
		row, siteKind, err := draft(ctx, tx, n, course)
		if err != nil {
			return err
		}
		on := judgedOnOf(row, course.Level)
		if on.Schedule, found, err = judgeSchedule(ctx, tx, row, siteKind, course); err != nil {
			return err
		}
		if err := insertSession(ctx, tx, row, n.Key.Digest); err != nil {
			return err
		}
		if found, err = settle(ctx, by, tx, row.ID, "create_session", found, on, accept); err != nil {
			return err
		}
		created = true
		out, err = findSession(ctx, tx, row.ID)
		return err
	})
	return out, found, created, err
}

// course is what sessions ask about a course.
type course struct {
	ID         uuid.UUID
	Title      string
	State      string
	SyllabusID uuid.UUID
	Level      ratio.Level
	Content    []byte
}

// holdCourse locks a course, so that its sessions are planned one at a time,
// and reads it with its syllabus. A course that is not active takes no more
// plans.
func holdCourse(ctx context.Context, tx *pg.Tx, id uuid.UUID) (course, error) {
	if err := lock(ctx, tx, `SELECT id FROM courses_lock WHERE centre_id = app_centre() AND id = ANY (@ids) FOR NO KEY UPDATE`, []uuid.UUID{id}); err != nil {
		return course{}, err
	}
	c, ok, err := pg.OptionalRow[course](ctx, tx,
		`SELECT c.id, c.title, c.state, c.syllabus_id, c.level, y.content
		FROM courses_course c JOIN courses_syllabus y ON y.centre_id = c.centre_id
			AND y.syllabus_id = c.syllabus_id AND y.number = c.syllabus_number
		WHERE c.centre_id = app_centre() AND c.id = @id`, pgx.StrictNamedArgs{"id": id})
	switch {
	case err != nil:
		return c, err
	case !ok:
		return c, fault.NoSuch("course")
	case c.State != "active":
		return c, fault.WrongState("course", c.State,
			"Sessions are scheduled on an active course: choose one that is.")
	}
	return c, nil
}

// The digests of what was created before, each by its id.
const (
	sessionDigest     = `SELECT body_digest FROM session WHERE centre_id = app_centre() AND id = @id`
	groupDigest       = `SELECT body_digest FROM session_group WHERE centre_id = app_centre() AND id = @id`
	participantDigest = `SELECT body_digest FROM participant WHERE centre_id = app_centre() AND id = @id`
)

// createdBefore reports whether a row with the key's id was created before by the
// same request; by another, it is a fault.
func createdBefore(ctx context.Context, tx *pg.Tx, sql string, key once.Key) (bool, error) {
	digest, found, err := pg.OptionalRow[[]byte](ctx, tx, sql, pgx.StrictNamedArgs{"id": key.ID})
	if err == nil && found {
		err = key.Replays(digest)
	}
	return found, err
}

// replayed returns what the same request made before, when it did.
func replayed[T any](ctx context.Context, tx *pg.Tx, sql string, key once.Key,
	find func(context.Context, *pg.Tx, uuid.UUID) (T, error)) (out T, again bool, err error) {
	if again, err = createdBefore(ctx, tx, sql, key); err == nil && again {
		out, err = find(ctx, tx, key.ID)
	}
	return out, again, err
}

// draft makes the row of a new session and says which kind of water its site has.
func draft(ctx context.Context, tx *pg.Tx, n NewSession, c course) (Session, string, error) {
	out := Session{ID: n.Key.ID, CourseID: c.ID, Kind: n.Kind, Title: n.Title, SiteID: n.SiteID,
		OutingID: n.OutingID,
		State:    Planned, PlacesLowered: n.PlacesLowered}
	if err := numberDives(&out, n, c); err != nil {
		return out, "", err
	}
	place, err := findPlace(ctx, tx, n.SiteID, n.Kind)
	if err != nil {
		return out, "", err
	}
	if err := setTimes(&out, n.Times, place.TimeZone); err != nil {
		return out, "", err
	}
	if n.OutingID != nil {
		return out, place.Kind, outingThere(ctx, tx, *n.OutingID)
	}
	return out, place.Kind, nil
}

// numberDives sets the planned dives of the session.
func numberDives(out *Session, n NewSession, c course) error {
	var y syllabus.Syllabus
	if err := json.Unmarshal(c.Content, &y); err != nil {
		return fmt.Errorf("read syllabus: %w", err)
	}
	for i, number := range n.TrainingDives {
		if y.Dive(number) == nil {
			return fault.UnknownReference(fmt.Sprintf("training dive %d of the course's syllabus", number),
				fmt.Sprintf("/training_dives/%d", i))
		}
		out.Dives = append(out.Dives, Dive{ID: uuid.New(), Number: i + 1, TrainingDive: &number})
	}
	for i := range n.ConfinedDives {
		out.Dives = append(out.Dives, Dive{ID: uuid.New(), Number: i + 1})
	}
	return nil
}

// place is what a session asks of its site.
type place struct {
	Kind     string
	TimeZone string
}

func findPlace(ctx context.Context, tx *pg.Tx, site *uuid.UUID, kind ratio.Setting) (place, error) {
	if site == nil {
		if kind != ratio.Theory {
			return place{}, fault.Invalid("/site_id",
				"A session in water needs a site: say in site_id where it is.")
		}
		c, err := dayview.ReadCentre(ctx, tx)
		return place{TimeZone: c.TimeZone}, err
	}
	p, ok, err := pg.OptionalRow[place](ctx, tx, `SELECT s.kind, COALESCE(s.time_zone, c.time_zone) AS time_zone
		FROM courses_site s JOIN centre_settings c ON c.centre_id = s.centre_id WHERE s.centre_id = app_centre() AND s.id = @id`, pgx.StrictNamedArgs{"id": *site})
	if err == nil && !ok {
		err = fault.UnknownReference("site", "/site_id")
	}
	return p, err
}

// setTimes reads the planned times in the zone of the site.
func setTimes(out *Session, t Times, zone string) error {
	loc, err := when.Zone(zone, "/time_zone")
	if err != nil {
		return err
	}
	from, err := when.Parse(t.StartsLocal, loc, t.UTCOffset, "/starts_local")
	if err != nil {
		return err
	}
	to, err := when.Parse(t.EndsLocal, loc, endOffset(t, loc), "/ends_local")
	if err != nil {
		return err
	}
	if !to.At.After(from.At) {
		return fault.Invalid("/ends_local",
			"The session would end at {ends_local}, not after it starts at {starts_local}. Choose a later end.",
			t.EndsLocal, t.StartsLocal)
	}
	if to.At.Sub(from.At) > 24*time.Hour {
		return fault.Invalid("/ends_local",
			"A session is one appointment of at most 24 hours; schedule another session for the next day.")
	}
	out.TimeZone, out.StartsLocal, out.EndsLocal, out.StartsAt, out.EndsAt = zone, from.Local, to.Local, from.At, to.At
	out.OnDay = when.DayOf(from.At, loc)
	return nil
}

// endOffset passes the offset on to the end only where the end is doubled too;
// elsewhere the end has the one offset that there is.
func endOffset(t Times, loc *time.Location) *string {
	if t.UTCOffset == nil {
		return nil
	}
	if _, err := when.Parse(t.EndsLocal, loc, nil, ""); err == nil {
		return nil
	}
	return t.UTCOffset
}

// insertSession writes a session with its dives, and the outing of its own that
// a water session without another has.
func insertSession(ctx context.Context, tx *pg.Tx, row Session, digest []byte) error {
	if row.InWater() && row.OutingID == nil {
		id := uuid.New()
		if _, err := tx.Do(ctx, `INSERT INTO outing (centre_id, id, title, on_day, body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @title, @day, '', @now, @now)`,
			pgx.StrictNamedArgs{"id": id, "title": row.Title, "day": row.OnDay, "now": tx.Now}); err != nil {
			return err
		}
		row.OutingID = &id
	}
	if _, err := tx.Do(ctx, `INSERT INTO session (centre_id, id, course_id, kind, title, site_id, outing_id, starts_local, ends_local, time_zone,
			starts_at, ends_at, during, on_day, places_lowered, body_digest, created_at, updated_at)
		VALUES (app_centre(), @id, @course, @kind, @title, @site, @outing, @starts_local, @ends_local, @zone,
			@starts_at, @ends_at, tstzrange(@starts_at, @ends_at), @day, @lowered, @digest, @now, @now)`,
		pgx.StrictNamedArgs{"id": row.ID, "course": row.CourseID, "kind": row.Kind, "title": row.Title,
			"site": row.SiteID, "outing": row.OutingID,
			"starts_local": row.StartsLocal, "ends_local": row.EndsLocal, "zone": row.TimeZone,
			"starts_at": row.StartsAt, "ends_at": row.EndsAt,
			"day": row.OnDay, "lowered": row.PlacesLowered, "digest": digest, "now": tx.Now}); err != nil {
		return err
	}
	for _, d := range row.Dives {
		if _, err := tx.Do(ctx, `INSERT INTO dive (centre_id, id, session_id, number, training_dive) VALUES (app_centre(), @id, @session, @number, @training)`,
			pgx.StrictNamedArgs{"id": d.ID, "session": row.ID, "number": d.Number,
				"training": d.TrainingDive}); err != nil {
			return err
		}
	}
	return nil
}

// judgeSchedule judges a session that is planned or moved: the site's kind of
// water and the order within the course.
func judgeSchedule(ctx context.Context, tx *pg.Tx, row Session, siteKind string,
	c course) (*decision.Schedule, finding.List, error) {
	found := roster.Site(string(row.Kind), siteKind, finding.Subject{Type: "session", ID: row.ID.String()})
	others, err := pg.Rows[Session](ctx, tx, `SELECT `+dayview.SessionColumns+` FROM session s
		WHERE s.centre_id = app_centre() AND s.course_id = @course AND s.state NOT IN ('cancelled', 'abandoned')`, pgx.StrictNamedArgs{"course": c.ID})
	if err != nil {
		return nil, nil, err
	}
	on := &decision.Schedule{Water: siteKind, Dives: numbersOf(row),
		Beside: []decision.Appointment{}}
	appointments := make([]roster.Appointment, 0, len(others))
	for _, o := range others {
		appointments = append(appointments, asAppointment(o))
		if o.ID != row.ID {
			on.Beside = append(on.Beside,
				decision.Appointment{SessionID: o.ID, Setting: o.Kind, From: o.StartsAt, To: o.EndsAt,
					Dives: numbersOf(o)})
		}
	}
	return on, append(found, roster.Order(asAppointment(row), appointments)...), nil
}

func asAppointment(s Session) roster.Appointment {
	return roster.Appointment{ID: s.ID.String(), Title: s.Title, Kind: string(s.Kind),
		Span: roster.Span{From: s.StartsAt, To: s.EndsAt}, Dives: numbersOf(s)}
}

// numbersOf returns the numbers of the training dives of a session.
func numbersOf(s Session) []int {
	out := []int{}
	for _, d := range s.Dives {
		if d.TrainingDive != nil {
			out = append(out, *d.TrainingDive)
		}
	}
	return out
}

// outingThere insists that an outing that a body names is there.
func outingThere(ctx context.Context, tx *pg.Tx, id uuid.UUID) error {
	_, ok, err := pg.OptionalRow[uuid.UUID](ctx, tx,
		`SELECT id FROM outing WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !ok {
		err = fault.UnknownReference("outing", "/outing_id")
	}
	return err
}
