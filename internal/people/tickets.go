package people

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// A ticket's secret has the form of a token's, with a prefix of its own.
const ticketPrefix = "tkt_"

// ticketLife is how long a ticket opens its address, by the real clock. 60 s,
// our choice: long enough for a slow phone to follow a link and for a browser
// to reconnect at once, too short to be of use in somebody's history.
const ticketLife = "60 seconds"

// Ticket opens one address, read-only, for a short time, on behalf of the token
// that asked for it.
type Ticket struct {
	Secret    string
	ExpiresAt time.Time
}

// IssueTicket gives the caller a ticket for an address, a path with its query
// in one settled order. That the caller may read it is for the edge to see.
// Tickets that are over are swept away with it.
func (s *Service) IssueTicket(ctx context.Context, address string) (Ticket, error) {
	who := actor.From(ctx)
	ticket := Ticket{Secret: newSecret(ticketPrefix, who.Centre)}
	err := s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		if _, err := tx.Do(ctx, `DELETE FROM ticket WHERE centre_id = app_centre() AND expires_at < clock_timestamp()`, nil); err != nil {
			return fmt.Errorf("issue ticket: %w", err)
		}
		if err := s.roomForTicket(ctx, tx, who); err != nil {
			return err
		}
		ticket.ExpiresAt, err = pg.One[time.Time](ctx, tx, `INSERT INTO ticket (centre_id, hash, token_id, address, issued_at, expires_at)
			SELECT app_centre(), @hash, @token, @address, now, now + interval '`+ticketLife+`' FROM clock_timestamp() now RETURNING expires_at`,
			pgx.StrictNamedArgs{"hash": hashOf(ticket.Secret), "token": who.Token, "address": address})
		if err != nil {
			return fmt.Errorf("issue ticket: %w", err)
		}
		return nil
	})
	return ticket, err
}

// AuthenticateTicket recognises the caller by a ticket for this address: it is
// whoever asked for it, with what their token may do now. Whether a ticket is
// unknown, over, another address's or its token's life is over, the fault is
// the same.
func (s *Service) AuthenticateTicket(ctx context.Context, secret, address string) (actor.Actor, error) {
	centre, ok := centreOf(ticketPrefix, secret)
	if !ok {
		return actor.Actor{}, badTicket()
	}
	var rows []bearer
	err := s.db.Recognise(ctx, centre, func(b *pgx.Batch) {
		pg.Queue(b, &rows, bearers+` AND EXISTS (SELECT FROM ticket k WHERE k.centre_id = t.centre_id AND k.token_id = t.id
				AND k.hash = @hash AND k.address = @address AND k.expires_at > clock_timestamp())`,
			pgx.StrictNamedArgs{"hash": hashOf(secret), "address": address})
	})
	switch {
	case err != nil:
		return actor.Actor{}, err
	case len(rows) != 1:
		return actor.Actor{}, badTicket()
	}
	return rows[0].actor(centre), nil
}

// Holders gives, of a centre's tokens, those that are still good, each with who
// holds it and what they may do now: for what outlives the request that was
// recognised by a token.
func (s *Service) Holders(ctx context.Context, centre uuid.UUID, tokens []uuid.UUID) (map[uuid.UUID]actor.Actor, error) {
	var rows []bearer
	err := s.db.Look(ctx, centre, func(b *pgx.Batch) {
		pg.Queue(b, &rows, bearers+` AND t.id = ANY (@tokens)`, pgx.StrictNamedArgs{"tokens": tokens})
	})
	if err != nil {
		return nil, fmt.Errorf("look at tokens again: %w", err)
	}
	out := make(map[uuid.UUID]actor.Actor, len(rows))
	for _, r := range rows {
		out[r.ID] = r.actor(centre)
	}
	return out, nil
}
