package sessions

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// ParticipantFields are what may be said of somebody's part in a session without
// moving them; nil leaves it as it is.
type ParticipantFields struct {
	GaugeUnit *string
	NotDiving *bool // of crew: there, and not to get into the water
}

// ChangeParticipant writes which unit a participant's gauge has in this session,
// and whether one of the crew is not to dive. Who does not dive still counts in
// the ratio, and the group's findings say so. A student who does not dive sits
// out: that is a roll call.
func (s *Service) ChangeParticipant(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	f ParticipantFields) (out Participant, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		before, err := findParticipant(ctx, tx, id)
		if err != nil {
			return err
		}
		session, err := hold(ctx, tx, before.SessionID)
		if err != nil {
			return err
		}
		p, err := findParticipant(ctx, tx, id)
		if err == nil && p.Version != version {
			err = fault.Changed(p.Version)
		}
		if err != nil {
			return err
		}
		if err := s.writePart(ctx, by, tx, session, p, f); err != nil {
			return err
		}
		out, err = findParticipant(ctx, tx, id)
		return err
	})
	return out, err
}

// writePart writes what is said of a part. The session is locked; its groups are
// judged anew where the mark changes.
func (s *Service) writePart(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, p Participant,
	f ParticipantFields) error {
	if _, err := tx.Do(ctx, `UPDATE participant SET gauge_unit = COALESCE(@unit, gauge_unit), version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": p.ID, "unit": f.GaugeUnit, "now": tx.Now}); err != nil {
		return err
	}
	if f.NotDiving == nil || *f.NotDiving == p.NotDiving {
		return nil
	}
	if err := mayNotDive(p.Role, *f.NotDiving); err != nil {
		return err
	}
	if err := untilOver(session,
		"Who dives is said while it is planned or under way. Who was in the water shows in what was logged."); err != nil {
		return err
	}
	if err := markNotDiving(ctx, by, tx, p.ID, *f.NotDiving); err != nil {
		return err
	}
	_, err := s.rejudge(ctx, by, tx, session, "not_diving", fact)
	return err
}

// mayNotDive lets crew alone be marked as not diving.
func mayNotDive(role Role, mark bool) error {
	if mark && role == Student {
		return fault.Invalid("/not_diving",
			"Only crew are marked as not diving. A student who does not dive sits out: say so by roll call.")
	}
	return nil
}

// markNotDiving writes the mark, who said so and when, or takes it away.
func markNotDiving(ctx context.Context, by actor.Actor, tx *pg.Tx, participant uuid.UUID, mark bool) error {
	_, err := tx.Do(ctx, `UPDATE participant SET not_diving = @mark, not_diving_by = CASE WHEN @mark THEN @by::uuid END,
			not_diving_at = CASE WHEN @mark THEN @now::timestamptz END
		WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": participant, "mark": mark, "by": speaking(by), "now": tx.Now})
	return err
}

// speaking returns the person who calls, nil for a program.
func speaking(by actor.Actor) *uuid.UUID {
	if !by.IsProgram() {
		return &by.Person
	}
	return nil
}
