package desk

import (
	"context"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/centre"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// ChangeCentre edits the centre's settings, for managers. When its rule books or
// its own limits change, the groups of all sessions that are not over are judged
// anew by them, in the same transaction: a group that is over its ratio by what
// holds now loses its clearance, and one that no longer is gets it back. Whoever
// judged a group by the former limits and had not yet finished is caught when the
// session is opened.
func (s *Service) ChangeCentre(ctx context.Context, by actor.Actor, version int64,
	edit func(*centre.Settings)) (centre centre.Centre, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		held, err := notOver(ctx, tx)
		if err != nil {
			return err
		}
		for _, session := range held {
			if err := s.sessions.Hold(ctx, tx, session); err != nil {
				return err
			}
		}
		var limits bool
		if centre, limits, err = s.centre.ChangeCentre(ctx, tx, version, edit); err != nil || !limits {
			found = nil
			return err
		}
		now, err := notOver(ctx, tx)
		if err == nil && !slices.Equal(held, now) {
			err = pg.ErrRetry
		}
		if err != nil {
			return err
		}
		found, err = s.rejudgeAll(ctx, by, tx, held, "limits_changed")
		return err
	})
	return centre, found, err
}

func (s *Service) rejudgeAll(ctx context.Context, by actor.Actor, tx *pg.Tx, held []uuid.UUID,
	cause string) (found finding.List, err error) {
	for _, session := range held {
		f, err := s.sessions.Rejudge(ctx, by, tx, session, cause)
		if err != nil {
			return nil, err
		}
		found = append(found, f...)
	}
	return found, nil
}

// notOver returns the sessions that are planned or under way, in the order of
// locking.
func notOver(ctx context.Context, tx *pg.Tx) ([]uuid.UUID, error) {
	return pg.Rows[uuid.UUID](ctx, tx,
		`SELECT s.id FROM sessions_session s WHERE s.centre_id = app_centre() AND s.state IN ('planned', 'under_way') ORDER BY s.id`,
		pgx.StrictNamedArgs{})
}
