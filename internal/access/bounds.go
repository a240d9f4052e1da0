package access

import (
	"cmp"
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// Bounds are the largest numbers of tickets and of tokens that may be valid at the
// same time. Concurrent requests may each take the last place.
type Bounds struct {
	Tickets       int // of one token, not expired
	CentreTickets int
	Tokens        int // of one person or program, valid ones
	CentreTokens  int
}

// defaultBounds are the default bounds, our choice: a ticket lives a minute, and a person
// has a token for each device and each program that is used.
var defaultBounds = Bounds{Tickets: 100, CentreTickets: 5000, Tokens: 50, CentreTokens: 5000}

// Bound sets the bounds that are not 0. Call it before the service is used.
func (s *Service) Bound(b Bounds) {
	s.bounds = Bounds{Tickets: cmp.Or(b.Tickets, s.bounds.Tickets),
		CentreTickets: cmp.Or(b.CentreTickets, s.bounds.CentreTickets),
		Tokens:        cmp.Or(b.Tokens, s.bounds.Tokens),
		CentreTokens:  cmp.Or(b.CentreTokens, s.bounds.CentreTokens)}
}

// validCounts is the number of valid tickets or tokens, of one holder and of the centre.
type validCounts struct{ OfOne, OfCentre int }

// roomForTicket refuses a ticket beyond the bounds.
func (s *Service) roomForTicket(ctx context.Context, by actor.Actor, tx *pg.Tx) error {
	n, err := pg.Row[validCounts](ctx, tx, `SELECT count(*) FILTER (WHERE token_id = @token) AS of_one,
		count(*) AS of_centre
		FROM ticket
		WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{"token": by.Token})
	switch {
	case err != nil:
		return fmt.Errorf("count tickets: %w", err)
	case n.OfOne >= s.bounds.Tickets:
		return fault.New(fault.TooMany, "too_many_tickets",
			fmt.Sprintf("This token has %d tickets that are not over, and may have %d. "+
				"Each is over after a minute: ask again then.", n.OfOne, s.bounds.Tickets)).
			Param("found", n.OfOne).Param("limit", s.bounds.Tickets)
	case n.OfCentre >= s.bounds.CentreTickets:
		return fault.New(fault.TooMany, "too_many_tickets",
			fmt.Sprintf("The centre has %d tickets that are not over, and may have %d. "+
				"Each is over after a minute: ask again then.", n.OfCentre, s.bounds.CentreTickets)).
			Param("found", n.OfCentre).Param("limit", s.bounds.CentreTickets)
	}
	return nil
}

// roomForToken refuses a token beyond the bounds.
func (s *Service) roomForToken(ctx context.Context, tx *pg.Tx, n NewToken) error {
	good, err := pg.Row[validCounts](ctx, tx, `SELECT count(*) FILTER (WHERE person_id = @person::uuid
		OR program = @program::text) AS of_one, count(*) AS of_centre
		FROM token
		WHERE centre_id = app_centre() AND revoked_at IS NULL AND expires_at > clock_timestamp()`,
		pgx.StrictNamedArgs{"person": n.PersonID, "program": n.Program})
	switch {
	case err != nil:
		return fmt.Errorf("count tokens: %w", err)
	case good.OfOne >= s.bounds.Tokens:
		return fault.New(fault.TooMany, "too_many_tokens",
			fmt.Sprintf("The holder has %d good tokens, and may have %d. "+
				"Revoke those that are not used any more, then ask again.", good.OfOne, s.bounds.Tokens)).
			Param("found", good.OfOne).Param("limit", s.bounds.Tokens)
	case good.OfCentre >= s.bounds.CentreTokens:
		return fault.New(fault.TooMany, "too_many_tokens",
			fmt.Sprintf("The centre has %d good tokens, and may have %d. "+
				"Revoke those that are not used any more, then ask again.", good.OfCentre,
				s.bounds.CentreTokens))
	}
	return nil
}
