package access

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/pg"
)

// A secret is "tsk_", the centre in hexadecimal, "_", and 256 random bits in
// lower-case base 32. Scanners for leaked secrets can look for
// tsk_[0-9a-f]{32}_[a-z2-7]{52}.
const (
	secretPrefix = "tsk_"
	secretBytes  = 32
)

var base32Lower = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

func newSecret(prefix string, centre uuid.UUID) string {
	var random [secretBytes]byte
	rand.Read(random[:]) // never fails
	return prefix + hex.EncodeToString(centre[:]) + "_" + base32Lower.EncodeToString(random[:])
}

// centreOf reads the centre from a secret, so that the scope of the transaction
// can be set before anything is looked up.
func centreOf(prefix, secret string) (uuid.UUID, bool) {
	rest, ok := strings.CutPrefix(secret, prefix)
	centre, random, found := strings.Cut(rest, "_")
	raw, err := hex.DecodeString(centre)
	if !ok || !found || err != nil || len(raw) != len(uuid.UUID{}) ||
		len(random) != base32Lower.EncodedLen(secretBytes) {
		return uuid.Nil, false
	}
	return uuid.UUID(raw), true
}

// TokenPrefix begins the secret of every token.
const TokenPrefix = secretPrefix

// CentreOf returns the centre that a token's or a ticket's secret names, whether
// or not the secret is good.
func CentreOf(secret string) (uuid.UUID, bool) {
	if centre, ok := centreOf(secretPrefix, secret); ok {
		return centre, true
	}
	return centreOf(ticketPrefix, secret)
}

// Unrecognised returns the fault for a caller whose token is not valid.
func Unrecognised() error { return unauthenticated() }

func hashOf(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

// bearer is a valid token with what is known of its holder.
type bearer struct {
	ID       uuid.UUID
	PersonID *uuid.UUID
	Program  *string
	Scopes   []actor.Scope
	Roles    []actor.Role
}

// bearersSQL returns the statement that reads the valid ones of some tokens, which a
// query selects by their keys. Validity is judged by the real clock: the settable clock
// of a demo centre must not revive a token.
func bearersSQL(tokens string) string {
	return `SELECT t.id, t.person_id, t.program, t.scopes, COALESCE(p.roles, '{}') AS roles
	FROM (` + tokens + `) t
	LEFT JOIN LATERAL (
		SELECT p.roles
		FROM people_person p
		WHERE p.centre_id = t.centre_id AND p.id BETWEEN t.person_id AND t.person_id
		ORDER BY p.id) p ON true
	WHERE t.revoked_at IS NULL AND t.expires_at > clock_timestamp()`
}

// bySecret reads the token of a secret.
var bySecret = bearersSQL(`
		SELECT *
		FROM token t
		WHERE t.centre_id = app_centre() AND t.hash BETWEEN @hash::bytea AND @hash
		ORDER BY t.hash`)

// actor returns the holder as an actor. Its scopes are those of the token that the
// holder's roles still allow.
func (b bearer) actor(centre uuid.UUID) actor.Actor {
	who := actor.Actor{Centre: centre, Token: b.ID, Roles: b.Roles}
	if b.Program != nil {
		who.Program, who.Roles = *b.Program, []actor.Role{actor.Program}
	} else {
		who.Person = *b.PersonID
	}
	allowed := MostScopes(who.Roles)
	who.Scopes = slices.DeleteFunc(b.Scopes, func(s actor.Scope) bool { return !slices.Contains(allowed, s) })
	return who
}

// Authenticate returns the caller that a token's secret belongs to. The fault is
// the same for a malformed, unknown, expired or revoked secret and for one of
// another centre.
func (s *Service) Authenticate(ctx context.Context, secret string) (actor.Actor, error) {
	centre, ok := centreOf(secretPrefix, secret)
	if !ok {
		return actor.Actor{}, unauthenticated()
	}
	var rows []bearer
	err := s.db.Recognise(ctx, centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, bySecret, pgx.StrictNamedArgs{"hash": hashOf(secret)})
	})
	switch {
	case err != nil:
		return actor.Actor{}, err
	case len(rows) != 1:
		return actor.Actor{}, unauthenticated()
	}
	return rows[0].actor(centre), nil
}

func badTicket() *fault.Fault {
	return fault.New(fault.Unauthenticated, "unauthenticated",
		"The ticket is over, or not for this address. Ask for a new one with POST /v1/tickets.").
		Param("scheme", "ticket")
}

func unauthenticated() *fault.Fault {
	return fault.New(fault.Unauthenticated, "unauthenticated",
		"The token is unknown, has expired or was revoked. A manager of your centre can issue a new one.").
		Param("scheme", "Bearer")
}
