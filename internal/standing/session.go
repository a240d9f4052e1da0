package standing

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/when"
)

// DiveDone makes a dive of a student as the syllabus knows it.
func DiveDone(s Session, number int, age syllabus.Years, id uuid.UUID, in time.Time, out *time.Time,
	depth *units.Reading) syllabus.DiveDone {
	d := syllabus.DiveDone{ID: id.String(), Number: number, Age: age, On: s.Day()}
	if depth != nil {
		d.Depth = syllabus.Quantity(*depth)
	}
	if out != nil && out.After(in) {
		d.Duration = syllabus.QuantityOf(out.Sub(in).Minutes(), units.UnitMinute)
	}
	return d
}

// plannedSQL reads the planned dives of a session.
const plannedSQL = `
	SELECT d.id, d.number, d.training_dive
	FROM (
		SELECT *
		FROM sessions_dive d
		WHERE d.centre_id = app_centre() AND d.session_id BETWEEN @session AND @session
		ORDER BY d.session_id) d
	ORDER BY d.number`

// QueuePlannedDives reads the planned dives of a session, by number, in a batch.
func QueuePlannedDives(b *pgx.Batch, into *[]dayview.Dive, session uuid.UUID) {
	pg.QueueRows(b, into, plannedSQL, pgx.StrictNamedArgs{"session": session})
}

// Session is a session as it is judged by what its students learn there.
type Session struct {
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
	SELECT s.id, s.course_id, s.kind, s.title, s.state, s.ended_at, s.outing_id, s.starts_at, s.ends_at,
		s.on_day,
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

// QueueSessions reads sessions by their ids, in a batch. One that is not there has no row.
func QueueSessions(b *pgx.Batch, into *[]Session, ids []uuid.UUID) {
	pg.QueueRows(b, into, sessionsSQL, pgx.StrictNamedArgs{"sessions": ids})
}

// RequireSession returns not_found where there is no such session.
func RequireSession(ctx context.Context, tx *pg.Tx, id uuid.UUID) error {
	_, found, err := pg.OptionalRow[Session](ctx, tx, sessionsSQL,
		pgx.StrictNamedArgs{"sessions": []uuid.UUID{id}})
	if err == nil && !found {
		err = fault.NoSuch("session")
	}
	return err
}

// SessionOf returns the session of a view.
func SessionOf(v dayview.View) Session {
	return Session{ID: v.ID, CourseID: v.CourseID, Kind: syllabus.Setting(v.Kind), Title: v.Title,
		State: syllabus.SessionState(v.State), EndedAt: v.EndedAt, OutingID: v.OutingID, StartsAt: v.StartsAt,
		EndsAt: v.EndsAt, OnDay: v.OnDay, TimeZone: v.TimeZone, SiteDepth: v.Site.MaxDepth}
}

// Day returns the day of the session as rules know it.
func (s Session) Day() syllabus.Day { return syllabus.Day(s.OnDay.Format(time.DateOnly)) }

// DayOf returns the day of an instant in the session's zone.
func (s Session) DayOf(at time.Time) syllabus.Day {
	return DayOf(when.DayOf(at, s.zone()))
}

// zone returns the time zone of the session's place.
func (s Session) zone() *time.Location {
	loc, err := when.Zone(s.TimeZone, "")
	if err != nil {
		return time.UTC // a zone that was known once and is no more
	}
	return loc
}

// Clock returns a moment by the clock of the session's place: with the day, where
// it is another than the session's.
func (s Session) Clock(at time.Time) finding.Moment {
	m := finding.Clock(at, s.zone())
	m.Dated = s.DayOf(at) != s.Day()
	return m
}

// SiteMax returns the site's greatest depth, zero when there is no site.
func (s Session) SiteMax() syllabus.Quantity {
	if r := s.SiteDepth; r != nil {
		return syllabus.Quantity(*r)
	}
	return syllabus.Quantity{}
}
