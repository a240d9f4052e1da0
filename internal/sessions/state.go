package sessions

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// Rescheduling is when and where a session is to be held instead.
type Rescheduling struct {
	SessionID uuid.UUID
	Times     Times
	SiteID    *uuid.UUID // nil: where it is
	Reason    string
	Version   *int64 // nil: whatever it is now
}

// MoveSession moves a planned session to another time or site. Every rule is
// judged again on the new day: order, papers, clashes, ages and ratios.
func (s *Service) MoveSession(ctx context.Context, by actor.Actor, r Rescheduling,
	accept []journal.Acceptance) (out Session, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, c, err := holdWithCourse(ctx, tx, r.SessionID)
		if err != nil {
			return err
		}
		if err := mayChange(row, r.Version); err != nil {
			return err
		}
		if r.SiteID != nil {
			row.SiteID = r.SiteID
		}
		place, err := findPlace(ctx, tx, row.SiteID, row.Kind)
		if err != nil {
			return err
		}
		if err := setTimes(&row, r.Times, place.TimeZone); err != nil {
			return err
		}
		on, ordered, err := judgeSchedule(ctx, tx, row, place.Kind, c)
		if err != nil {
			return err
		}
		// Everybody's other bookings wait for this session from its first row
		// on, so nothing is written before their locks are held.
		parts, err := participantsOf(ctx, tx, row.ID)
		if err != nil {
			return err
		}
		if err := lockPeople(ctx, tx, personIDs(parts)...); err != nil {
			return err
		}
		if err := writeMove(ctx, tx, row, r.Reason); err != nil {
			return err
		}
		also, err := judgeEverybody(ctx, tx, row, parts)
		if err != nil {
			return err
		}
		also.found, also.schedule = append(ordered, also.found...), on
		if found, err = s.conclude(ctx, by, tx, row, "move_session", also, accept); err != nil {
			return err
		}
		out, err = findSession(ctx, tx, row.ID)
		return err
	})
	return out, found, err
}

// mayChange lets a planned session be changed when its version is the one meant.
func mayChange(row Session, version *int64) error {
	if version != nil && *version != row.Version {
		return fault.Changed(row.Version)
	}
	if row.State != Planned {
		return fault.WrongState("session", string(row.State),
			"Only a planned session is moved: plan another one.")
	}
	return nil
}

// holdWithCourse locks the course of a session, the session and its groups.
func holdWithCourse(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Session, course, error) {
	before, err := findSession(ctx, tx, id)
	if err != nil {
		return before, course{}, err
	}
	c, err := holdCourse(ctx, tx, before.CourseID)
	if err != nil {
		return before, c, err
	}
	row, err := hold(ctx, tx, id)
	return row, c, err
}

func writeMove(ctx context.Context, tx *pg.Tx, row Session, reason string) error {
	if _, err := tx.Do(ctx, `UPDATE session SET site_id = @site, starts_local = @starts_local, ends_local = @ends_local, time_zone = @zone,
			starts_at = @starts_at, ends_at = @ends_at, during = tstzrange(@starts_at, @ends_at), on_day = @day,
			state_reason = NULLIF(@reason, ''), version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": row.ID, "site": row.SiteID, "starts_local": row.StartsLocal,
			"ends_local": row.EndsLocal, "zone": row.TimeZone,
			"starts_at": row.StartsAt, "ends_at": row.EndsAt, "day": row.OnDay, "reason": reason, "now": tx.Now}); err != nil {
		return err
	}
	// An outing of this session alone goes with it.
	_, err := tx.Do(ctx, `UPDATE outing o SET on_day = @day, version = version + 1, updated_at = @now
		WHERE o.centre_id = app_centre() AND o.id = @outing AND o.on_day <> @day
			AND NOT EXISTS (SELECT FROM session s WHERE s.centre_id = o.centre_id AND s.outing_id = o.id AND s.id <> @id)`,
		pgx.StrictNamedArgs{"outing": row.OutingID, "day": row.OnDay, "id": row.ID, "now": tx.Now})
	return err
}

// judgeEverybody judges every participant of a session as if they joined it now.
// The people are locked.
func judgeEverybody(ctx context.Context, tx *pg.Tx, row Session, parts []Participant) (out judged, err error) {
	ids := personIDs(parts)
	people, err := dayview.ReadPeople(ctx, tx, ids, row.OnDay)
	if err != nil {
		return out, err
	}
	booked, err := bookings(ctx, tx, ids, row)
	if err != nil {
		return out, err
	}
	c, err := dayview.ReadCentre(ctx, tx)
	if err != nil {
		return out, err
	}
	out.persons = personsJudged{}
	for _, p := range parts {
		who := people[p.PersonID]
		on := decision.Judged{Roles: who.Roles}
		out.found = append(out.found, judgePerson(c.Demands(row.OnDay), who, row, p.Role)...)
		if p.Booked {
			on.Booked = keptBookings(booked[p.PersonID])
			out.found = append(out.found, roster.Clashes(who.Person, booking(row), booked[p.PersonID])...)
		}
		out.persons[p.PersonID] = on
	}
	return out, nil
}

// CancelSession calls a planned session off. Nobody is booked by it any more.
func (s *Service) CancelSession(ctx context.Context, by actor.Actor, id uuid.UUID, reason string,
	version *int64) (out Session, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.endHeld(ctx, tx, id, Cancelled, reason, version)
		return err
	})
	return out, err
}

// AbandonSession breaks off a session that is under way: a fact, which whoever
// of the crew is there may report, and which says whether heads are settled.
// Nobody is booked by it from then on.
func (s *Service) AbandonSession(ctx context.Context, by actor.Actor, id uuid.UUID, reason string,
	version *int64) (out Session, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = s.endHeld(ctx, tx, id, Abandoned, reason, version); err != nil {
			return err
		}
		found, err = headsLeft(ctx, tx, out)
		return err
	})
	return out, found, err
}

// headsLeft finds whether the heads of a session's outing are settled as it ends.
func headsLeft(ctx context.Context, tx *pg.Tx, row Session) (finding.List, error) {
	found, err := headsAt(ctx, tx, row, []time.Time{everAfter})
	if err != nil {
		return nil, err
	}
	return found[0], nil
}

// CloseSession ends a session that is under way, always, and says whether heads
// are settled. Nobody is booked by it from then on, even where it was planned to
// go on.
func (s *Service) CloseSession(ctx context.Context, by actor.Actor, id uuid.UUID, logComplete bool,
	version *int64) (out Session, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, err := hold(ctx, tx, id)
		if err != nil {
			return err
		}
		if found, err = headsLeft(ctx, tx, row); err != nil {
			return err
		}
		if row.State == Closed {
			out = row
			return nil
		}
		if err := from(row, UnderWay, version,
			"Only a session that is under way is closed; a planned one is opened first, or cancelled."); err != nil {
			return err
		}
		if out, err = setState(ctx, tx, row, Closed, ""); err != nil {
			return err
		}
		_, err = tx.Do(ctx, `UPDATE session SET log_complete = @complete WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": id, "complete": logComplete})
		out.LogComplete = logComplete
		return err
	})
	return out, found, err
}

func from(row Session, want State, version *int64, cure string) error {
	if version != nil && *version != row.Version {
		return fault.Changed(row.Version)
	}
	if row.State != want {
		return fault.WrongState("session", string(row.State), cure)
	}
	return nil
}

// endHeld locks a session and cancels or abandons it, in the state that allows
// it. Again does no harm.
func (s *Service) endHeld(ctx context.Context, tx *pg.Tx, id uuid.UUID, to State, reason string,
	version *int64) (Session, error) {
	want, cure := Planned, "Only a planned session is cancelled; one that is under way is abandoned."
	if to == Abandoned {
		want, cure = UnderWay, "Only a session that is under way is abandoned; a planned one is cancelled."
	}
	row, err := hold(ctx, tx, id)
	if err != nil || row.State == to {
		return row, err
	}
	if err := from(row, want, version, cure); err != nil {
		return row, err
	}
	if to == Cancelled {
		return cancel(ctx, tx, row, reason)
	}
	return setState(ctx, tx, row, to, reason)
}

// cancel calls a planned session off, and books nobody by it any more.
func cancel(ctx context.Context, tx *pg.Tx, row Session, reason string) (Session, error) {
	if _, err := tx.Do(ctx, `UPDATE participant SET booked = false WHERE centre_id = app_centre() AND session_id = @id`, pgx.StrictNamedArgs{"id": row.ID}); err != nil {
		return row, err
	}
	return setState(ctx, tx, row, Cancelled, reason)
}

// setState writes a new state. A session that is over books its people, with its
// span, no longer than it was held.
func setState(ctx context.Context, tx *pg.Tx, row Session, to State, reason string) (Session, error) {
	_, err := tx.Do(ctx, `UPDATE session SET state = @state, state_reason = NULLIF(@reason, ''), version = version + 1, updated_at = @now,
			opened_at = CASE WHEN @state = 'under_way' THEN @now ELSE opened_at END,
			ended_at = CASE WHEN @over THEN @now ELSE ended_at END,
			during = CASE WHEN @over THEN tstzrange(starts_at, GREATEST(starts_at, LEAST(ends_at, @now))) ELSE during END
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": row.ID, "state": to, "reason": reason, "now": tx.Now,
		"over": to == Closed || to == Cancelled || to == Abandoned})
	if err != nil {
		return row, err
	}
	return findSession(ctx, tx, row.ID)
}
