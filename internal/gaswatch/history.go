package gaswatch

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
	"tankside/internal/waterview"
)

// PastDives is one session of a person: their own gas checks with how they
// were reported, and their own dives.
type PastDives struct {
	SessionID uuid.UUID
	CourseID  uuid.UUID
	Title     string
	Kind      string
	OnDay     time.Time
	StartsAt  time.Time
	Verdicts  []waterview.CheckCount
	Checks    []waterview.GasCheck
	Dives     []waterview.Dive
}

// History lists the sessions in which somebody's gas was looked at or who
// dived, the newest first; a student reads their own.
func (s *Service) History(ctx context.Context, by actor.Actor, person uuid.UUID,
	p page.Request) (out []PastDives, next *page.Place, err error) {
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
		var rows []waterview.PastSession
		pg.QueueRows(&b, &known,
			`SELECT EXISTS (SELECT FROM people_person WHERE centre_id = app_centre() AND id = @person)`,
			pgx.StrictNamedArgs{"person": person})
		waterview.QueuePastSessions(&b, &rows, cond+` `+order, args)
		if err := tx.Send(ctx, &b); err != nil {
			return err
		}
		if !known[0] {
			return fault.NoSuch("person")
		}
		out = make([]PastDives, 0, len(rows))
		for _, r := range rows {
			out = append(out, PastDives{SessionID: r.ID, CourseID: r.CourseID, Title: r.Title, Kind: r.Kind,
				OnDay: r.OnDay, StartsAt: r.StartsAt})
		}
		out, next = page.Cut(p, out, func(h PastDives) page.Place { return page.At(h.StartsAt, h.SessionID) })
		return fillHistory(ctx, tx, person, out)
	})
	return out, next, err
}

// fillHistory reads the checks and dives of somebody in some sessions.
func fillHistory(ctx context.Context, tx *pg.Tx, person uuid.UUID, sessions []PastDives) error {
	var b pgx.Batch
	var checks []waterview.GasCheck
	var dives []waterview.SessionDive
	ids := make([]uuid.UUID, len(sessions))
	for i, h := range sessions {
		ids[i] = h.SessionID
	}
	waterview.QueueGasOf(&b, &checks, &dives, person, ids)
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
				h.Dives = append(h.Dives, d.Dive)
			}
		}
		h.Verdicts = counted(h.Checks)
	}
	return nil
}
