package training

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// GasHistory is one session of a person: their own gas checks with how they
// were reported, and their own dives.
type GasHistory struct {
	SessionID uuid.UUID
	CourseID  uuid.UUID
	Title     string
	Kind      string
	OnDay     time.Time
	StartsAt  time.Time
	Verdicts  []CheckCount
	Checks    []GasCheckLogged
	Dives     []LoggedDive
}

const historySQL = `SELECT * FROM (SELECT s.id, s.course_id, s.title, s.kind, s.on_day, s.starts_at
	FROM sessions_session s WHERE s.centre_id = app_centre() AND EXISTS (SELECT FROM sessions_participant p
		WHERE p.centre_id = s.centre_id AND p.session_id = s.id AND p.person_id = @person AND (
			EXISTS (SELECT FROM gas_check g JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
				WHERE g.centre_id = p.centre_id AND g.participant_id = p.id AND e.voided_at IS NULL)
			OR EXISTS (SELECT FROM dive_start b JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
				WHERE b.centre_id = p.centre_id AND b.participant_id = p.id AND e.voided_at IS NULL)))) s `

// GasHistoryOf lists the sessions in which somebody's gas was looked at or who
// dived, the newest first; a student reads their own.
func (s *Service) GasHistoryOf(ctx context.Context, by actor.Actor, person uuid.UUID,
	p page.Request) (out []GasHistory, next *page.Place, err error) {
	if !permission.Covers("getGasHistory", by, person) {
		return nil, nil, fault.NoSuch("person")
	}
	p.Descending = true
	args := pgx.StrictNamedArgs{"person": person}
	cond, order, err := p.SQL(page.Column{Name: "starts_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		var known []bool
		var rows []struct {
			ID, CourseID    uuid.UUID
			Title, Kind     string
			OnDay, StartsAt time.Time
		}
		pg.QueueRows(&b, &known,
			`SELECT EXISTS (SELECT FROM people_person WHERE centre_id = app_centre() AND id = @person)`, pgx.StrictNamedArgs{"person": person})
		pg.QueueRows(&b, &rows, historySQL+`WHERE `+cond+` `+order, args)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if !known[0] {
			return fault.NoSuch("person")
		}
		out = make([]GasHistory, 0, len(rows))
		for _, r := range rows {
			out = append(out, GasHistory{SessionID: r.ID, CourseID: r.CourseID, Title: r.Title, Kind: r.Kind,
				OnDay: r.OnDay, StartsAt: r.StartsAt})
		}
		out, next = page.Cut(p, out, func(h GasHistory) page.Place { return page.At(h.StartsAt, h.SessionID) })
		return fillHistory(ctx, tx, person, out)
	})
	return out, next, err
}

// fillHistory reads the checks and dives of somebody in some sessions.
func fillHistory(ctx context.Context, tx *pg.Tx, person uuid.UUID, sessions []GasHistory) error {
	var b pgx.Batch
	var checks []GasCheckLogged
	var dives []struct {
		LoggedDive
		SessionID uuid.UUID
	}
	ids := make([]uuid.UUID, len(sessions))
	for i, h := range sessions {
		ids[i] = h.SessionID
	}
	args := pgx.StrictNamedArgs{"sessions": ids, "person": person}
	const own = `AND e.participant_id IN (SELECT id FROM sessions_participant WHERE centre_id = app_centre() AND person_id = @person) `
	pg.QueueRows(&b, &checks, gasChecksFrom+
		`WHERE e.centre_id = app_centre() AND e.session_id = ANY (@sessions) AND e.voided_at IS NULL `+own+
		`ORDER BY e.witnessed_at, e.id`, args)
	pg.QueueRows(&b, &dives, `SELECT x.*, e.session_id FROM (`+loggedFrom+`AND e.session_id = ANY (@sessions) `+
		own+`) x
		JOIN journal_entry e ON e.centre_id = app_centre() AND e.id = x.start_id ORDER BY x.in_at, x.start_id`, args)
	if err := tx.Send(ctx, &b); err != nil {
		return err
	}
	for i := range sessions {
		h := &sessions[i]
		for _, c := range checks {
			if *c.SessionID == h.SessionID {
				h.Checks = append(h.Checks, c)
			}
		}
		for _, d := range dives {
			if d.SessionID == h.SessionID {
				h.Dives = append(h.Dives, d.LoggedDive)
			}
		}
		h.Verdicts = counted(h.Checks)
	}
	return nil
}
