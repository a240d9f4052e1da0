package access

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// ticketPrefix begins the secret of a ticket, which has the form of a token's.
const ticketPrefix = "tkt_"

// ticketLife is how long a ticket opens its address, by the real clock. 60 s, our
// choice: long enough for a slow phone to follow a link and for a browser to
// reconnect, too short to be of use in a browser's history.
const ticketLife = "60 seconds"

// How many times a ticket opens its address, our choice: a page once, and a stream
// four times, since a browser reconnects to the same address automatically.
const (
	pageOpens   = 1
	streamOpens = 4
)

// Ticket opens one address, read-only, for a short time, on behalf of the token
// that asked for it.
type Ticket struct {
	Secret    string
	ExpiresAt time.Time
}

// IssueTicket returns a ticket for the address of a page or a stream: a path with
// its query in one fixed order. The edge checks that the caller may read it. Expired
// tickets are deleted in the same transaction.
func (s *Service) IssueTicket(ctx context.Context, by actor.Actor, address string, stream bool) (Ticket,
	error) {
	opens := pageOpens
	if stream {
		opens = streamOpens
	}
	ticket := Ticket{Secret: newSecret(ticketPrefix, by.Centre)}
	err := s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		if _, err := tx.Do(ctx, `DELETE FROM ticket
			WHERE centre_id = app_centre() AND expires_at < clock_timestamp()`, nil); err != nil {
			return fmt.Errorf("issue ticket: %w", err)
		}
		if err := s.roomForTicket(ctx, by, tx); err != nil {
			return err
		}
		ticket.ExpiresAt, err = pg.Row[time.Time](ctx, tx, `
			INSERT INTO ticket (centre_id, hash, token_id, address, opens_left, issued_at, expires_at)
			SELECT app_centre(), @hash, @token, @address, @opens, now,
				now + interval '`+ticketLife+`' FROM clock_timestamp() now RETURNING expires_at`,
			pgx.StrictNamedArgs{"hash": hashOf(ticket.Secret), "token": by.Token,
				"address": address, "opens": opens})
		if err != nil {
			return fmt.Errorf("issue ticket: %w", err)
		}
		return nil
	})
	return ticket, err
}

// byTicket reads the token that a ticket was issued to, where it opens an address still;
// byID reads tokens by their ids.
var (
	byTicket = bearersSQL(`
		SELECT t.*
		FROM ticket k
		CROSS JOIN LATERAL (
			SELECT *
			FROM token t
			WHERE t.centre_id = k.centre_id AND t.id BETWEEN k.token_id AND k.token_id
			ORDER BY t.id) t
		WHERE k.centre_id = app_centre() AND k.hash = @hash AND k.address = @address AND k.opens_left > 0
			AND k.expires_at > clock_timestamp()`)
	byID = bearersSQL(`
		SELECT t.*
		FROM unnest(@tokens::uuid[]) x (id)
		CROSS JOIN LATERAL (
			SELECT *
			FROM token t
			WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id
			ORDER BY t.id) t`)
)

// AuthenticateTicket returns the caller that a ticket for this address was issued
// to, with what their token may do now. It uses up one opening. The fault is the same
// for a ticket that is unknown, expired, used up or for another address, and for one
// whose token is no longer valid.
func (s *Service) AuthenticateTicket(ctx context.Context, secret, address string) (actor.Actor, error) {
	centre, ok := centreOf(ticketPrefix, secret)
	if !ok {
		return actor.Actor{}, badTicket()
	}
	var rows []bearer
	err := s.db.Recognise(ctx, centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, byTicket,
			pgx.StrictNamedArgs{"hash": hashOf(secret), "address": address})
	})
	switch {
	case err != nil:
		return actor.Actor{}, err
	case len(rows) != 1:
		return actor.Actor{}, badTicket()
	}
	return rows[0].actor(centre), s.open(ctx, centre, secret)
}

// open takes one opening off a valid ticket. Of two requests that open the last one
// at the same moment, one is refused here.
func (s *Service) open(ctx context.Context, centre uuid.UUID, secret string) error {
	return s.db.InTx(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		n, err := tx.Do(ctx, `
			UPDATE ticket SET opens_left = opens_left - 1
			WHERE centre_id = app_centre() AND hash = @hash
				AND opens_left > 0`, pgx.StrictNamedArgs{"hash": hashOf(secret)})
		if err == nil && n == 0 {
			err = badTicket()
		}
		return err
	})
}

// Holders returns, of a centre's tokens, the valid ones, each with its holder and
// what they may do now. It is for streams, which outlive the authenticated request.
func (s *Service) Holders(ctx context.Context, centre uuid.UUID,
	tokens []uuid.UUID) (map[uuid.UUID]actor.Actor, error) {
	var rows []bearer
	err := s.db.ReadBatch(ctx, centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, byID, pgx.StrictNamedArgs{"tokens": tokens})
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
