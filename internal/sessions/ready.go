package sessions

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// UnreadyFor gives, by participant, what of papers and fitness speaks against
// somebody getting into the water on a planned dive, as at the opening of its
// session; who is ready is not in the answer.
func (s *Service) UnreadyFor(ctx context.Context, tx *pg.Tx, dive uuid.UUID) (map[uuid.UUID]finding.List, error) {
	session, found, err := pg.Maybe[Session](ctx, tx, `SELECT `+sessionColumns+` FROM session s JOIN dive d ON d.centre_id = s.centre_id AND d.session_id = s.id
		WHERE d.centre_id = app_centre() AND d.id = @id`, pgx.StrictNamedArgs{"id": dive})
	if err == nil && !found {
		err = fault.Missing("dive")
	}
	if err != nil {
		return nil, err
	}
	parts, err := participantsOf(ctx, tx, session.ID)
	if err != nil {
		return nil, err
	}
	c, err := readCentre(ctx, tx)
	if err != nil {
		return nil, err
	}
	people, err := peopleOn(ctx, tx, personIDs(parts), session.OnDay)
	if err != nil {
		return nil, err
	}
	session.State = UnderWay // people are judged as at the opening
	out := map[uuid.UUID]finding.List{}
	for _, p := range parts {
		if l := judgePerson(c.demands(session.OnDay), people[p.PersonID], session, p.Role); len(l) > 0 {
			out[p.ID] = l
		}
	}
	return out, nil
}
