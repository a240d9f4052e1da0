package access

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// How long a token lives, by the real clock. Both are our choice: a default that is
// noticed within a season, and a season with its renewal.
const (
	defaultLife = 90 * 24 * time.Hour
	longestLife = 366 * 24 * time.Hour
)

// Token is the credential of a person or a program, without its secret.
type Token struct {
	ID        uuid.UUID
	PersonID  *uuid.UUID // nil for a program
	Program   *string    // nil for a person
	Label     string
	Scopes    []actor.Scope
	IssuedBy  *uuid.UUID // nil: with the operator's command
	IssuedAt  time.Time
	ExpiresAt time.Time
	RevokedAt *time.Time
}

// NewToken asks for a token for a person or for a program, never both.
type NewToken struct {
	once.Key
	PersonID  *uuid.UUID
	Program   *string
	Label     string
	Scopes    []actor.Scope
	ExpiresAt *time.Time // nil: 90 days ahead
}

// Issued is a token with its secret, which only the issuer sees, once: it is "" in
// the answer to a repeated request.
type Issued struct {
	Token
	Secret string
}

const tokenColumns = `id, person_id, program, label, scopes, issued_by, issued_at, expires_at, revoked_at`

// IssueToken issues a token, for managers. created is false when the same
// request was answered before. Faults: Refused for scopes beyond the holder's
// roles, an expiry out of range or an unknown person; id_reused.
func (s *Service) IssueToken(ctx context.Context, by actor.Actor, n NewToken) (issued Issued, created bool,
	err error) {
	if (n.PersonID == nil) == (n.Program == nil) {
		return Issued{}, false, fault.Invalid("",
			"A token is either for a person (person_id) or for a program (program).")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		present, found, err := tokenByKey(ctx, tx, n.Key)
		if err != nil || found {
			issued = Issued{Token: present}
			return err
		}
		now, err := pg.Row[time.Time](ctx, tx, "SELECT clock_timestamp()", nil)
		if err != nil {
			return fmt.Errorf("issue token: %w", err)
		}
		if n.ExpiresAt == nil {
			n.ExpiresAt = new(now.Add(defaultLife))
		}
		if err := judgeToken(ctx, tx, n, now); err != nil {
			return err
		}
		if err := s.roomForToken(ctx, tx, n); err != nil {
			return err
		}
		issued, created, err = insertToken(ctx, by, tx, n, now)
		if err == nil && !created { // another request took the id meanwhile
			issued.Token, _, err = tokenByKey(ctx, tx, n.Key)
		}
		return err
	})
	return issued, created, err
}

// IssueFirst issues the token of a new centre's first manager, with every scope that
// a manager may have and the default life, in the caller's transaction.
func IssueFirst(ctx context.Context, tx *pg.Tx, manager uuid.UUID) (Issued, error) {
	now, err := pg.Row[time.Time](ctx, tx, "SELECT clock_timestamp()", nil)
	if err != nil {
		return Issued{}, fmt.Errorf("issue first token: %w", err)
	}
	issued, _, err := insertToken(ctx, actor.Actor{}, tx,
		NewToken{Key: once.New(), PersonID: &manager, Label: "first manager",
			Scopes: MostScopes([]actor.Role{actor.Manager}), ExpiresAt: new(now.Add(defaultLife))}, now)
	return issued, err
}

// tokenByKey reads the token of an earlier request under the same id.
func tokenByKey(ctx context.Context, tx *pg.Tx, key once.Key) (Token, bool, error) {
	type row struct {
		Token
		BodyDigest []byte
	}
	r, found, err := pg.OptionalRow[row](ctx, tx, `SELECT `+tokenColumns+
		`, body_digest FROM token WHERE centre_id = @centre AND id = @id`,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": key.ID})
	if err != nil || !found {
		return Token{}, false, err
	}
	return r.Token, true, key.Replays(r.BodyDigest)
}

// judgeToken returns a Refused fault with every finding about a new token.
func judgeToken(ctx context.Context, tx *pg.Tx, n NewToken, now time.Time) error {
	roles := []actor.Role{actor.Program}
	if n.PersonID != nil {
		type row struct{ Roles []actor.Role }
		person, found, err := pg.OptionalRow[row](ctx, tx, `SELECT roles
			FROM people_person WHERE centre_id = @centre AND id = @id`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "id": *n.PersonID})
		if err != nil {
			return fmt.Errorf("judge token: %w", err)
		}
		if !found {
			return fault.UnknownReference("person", "/person_id")
		}
		roles = person.Roles
	}
	if found := tokenFindings(n, roles, now); found.Forbids() {
		return fault.RefusedBy(found)
	}
	return nil
}

func tokenFindings(n NewToken, roles []actor.Role, now time.Time) finding.List {
	var found finding.List
	allowed := MostScopes(roles)
	for i, scope := range n.Scopes {
		if slices.Contains(allowed, scope) {
			continue
		}
		f := ScopeBeyondRole.Say("The scope {scope} is beyond the roles of the holder.", string(scope))
		f.In, f.Pointer = "body", fmt.Sprintf("/scopes/%d", i)
		found = append(found, f)
	}
	last := now.Add(longestLife)
	if n.ExpiresAt.After(now) && !n.ExpiresAt.After(last) {
		return found
	}
	f := ExpiryOutOfRange.Of("A token expires in the future, at most 366 days ahead.")
	f.In, f.Pointer = "body", "/expires_at"
	f.Limit, f.Found = finding.Day(last.UTC().Format(time.DateOnly)),
		finding.Day(n.ExpiresAt.UTC().Format(time.DateOnly))
	return append(found, f)
}

func insertToken(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewToken, now time.Time) (Issued, bool,
	error) {
	issued := Issued{Secret: newSecret(secretPrefix, tx.Centre)}
	var issuer *uuid.UUID
	if !by.IsProgram() {
		issuer = &by.Person
	}
	token, created, err := pg.OptionalRow[Token](ctx, tx, `
		INSERT INTO token (centre_id, id, person_id, program, label, hash, scopes, issued_by, issued_at,
		expires_at, body_digest)
		VALUES (@centre, @id, @person, @program, @label, @hash, @scopes, @by, @now, @expires, @digest)
		ON CONFLICT (centre_id, id) DO NOTHING
		RETURNING `+tokenColumns,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": n.ID, "person": n.PersonID, "program": n.Program,
			"label": n.Label,
			"hash":  hashOf(issued.Secret), "scopes": n.Scopes, "by": issuer, "now": now,
			"expires": *n.ExpiresAt, "digest": n.Digest})
	if err != nil {
		return Issued{}, false, fmt.Errorf("issue token: %w", err)
	}
	issued.Token = token
	return issued, created, nil
}

// Tokens returns tokens, the newest first: a manager sees all, others their own.
// people narrows the list to the tokens of these people, none to all.
func (s *Service) Tokens(ctx context.Context, by actor.Actor, people []uuid.UUID,
	p page.Request) (tokens []Token, next *page.Place, err error) {
	args := ownTokens(by)
	args["people"] = people
	from, order, err := p.SQL(page.Column{Name: "issued_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		rows, err := pg.Rows[Token](ctx, tx, `SELECT `+tokenColumns+` FROM token
			WHERE centre_id = @centre
				AND `+ownTokensSQL+` AND (@people::uuid[] IS NULL OR person_id = ANY (@people)) AND `+
			from+` `+order, args)
		if err != nil {
			return fmt.Errorf("list tokens: %w", err)
		}
		tokens, next = page.Cut(p, rows, func(t Token) page.Place { return page.At(t.IssuedAt, t.ID) })
		return nil
	})
	return tokens, next, err
}

// ownTokensSQL is the condition that the caller may see a token.
const ownTokensSQL = `(@all::boolean OR person_id = @self::uuid OR id = @token::uuid)`

func ownTokens(by actor.Actor) pgx.StrictNamedArgs {
	return pgx.StrictNamedArgs{"centre": by.Centre, "all": permission.Of("getToken", by) == permission.All,
		"self":  by.Person,
		"token": by.Token}
}

// Token returns one token: a manager reads any, others their own.
func (s *Service) Token(ctx context.Context, by actor.Actor, id uuid.UUID) (Token, error) {
	return s.tokenBy(ctx, by, id, `SELECT `+tokenColumns+
		` FROM token WHERE centre_id = @centre AND id = @id AND `+ownTokensSQL)
}

// RevokeToken revokes a token for good: a manager revokes any, others their own.
// Revoking it again changes nothing.
func (s *Service) RevokeToken(ctx context.Context, by actor.Actor, id uuid.UUID) (Token, error) {
	return s.tokenBy(ctx, by, id, `UPDATE token SET revoked_at = coalesce(revoked_at, clock_timestamp())
		WHERE centre_id = @centre AND id = @id AND `+ownTokensSQL+` RETURNING `+tokenColumns)
}

func (s *Service) tokenBy(ctx context.Context, by actor.Actor, id uuid.UUID, sql string) (token Token,
	err error) {
	args := ownTokens(by)
	args["id"] = id
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var found bool
		token, found, err = pg.OptionalRow[Token](ctx, tx, sql, args)
		if err == nil && !found {
			return fault.NoSuch("token")
		}
		return err
	})
	return token, err
}

// ScopesOf returns the largest set of scopes that a person's roles allow.
func (s *Service) ScopesOf(ctx context.Context, by actor.Actor, person uuid.UUID) (scopes []actor.Scope,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		type row struct{ Roles []actor.Role }
		found, ok, err := pg.OptionalRow[row](ctx, tx, `SELECT roles
			FROM people_person WHERE centre_id = @centre AND id = @id`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "id": person})
		if err == nil && !ok {
			err = fault.NoSuch("person")
		}
		scopes = MostScopes(found.Roles)
		return err
	})
	return scopes, err
}
