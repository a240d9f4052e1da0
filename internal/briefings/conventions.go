package briefings

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/signal"
)

// Convention is a convention of hand signals that a centre can agree on: a ready one,
// which comes with the service, or one of the centre's own.
type Convention struct {
	signal.Convention
	ID        uuid.UUID  // uuid.Nil of a ready one
	Version   int64      // 1 of a ready one, which never changes within a release
	CreatedAt *time.Time // nil of a ready one
	UpdatedAt *time.Time
}

// Own reports whether the convention is the centre's own.
func (c Convention) Own() bool { return c.ID != uuid.Nil }

// CheckConvention returns the findings about a convention, whose subject is its code.
func CheckConvention(c signal.Convention) finding.List {
	found := c.Examine()
	for i := range found {
		found[i].Subjects = append(found[i].Subjects, finding.Subject{Type: "convention", ID: c.Code})
	}
	return found
}

// Conventions returns the ready conventions, then the centre's own by name.
func (s *Service) Conventions(ctx context.Context, by actor.Actor) ([]Convention, error) {
	return pg.InTx(ctx, s.db, by.Centre, func(ctx context.Context, tx *pg.Tx) (out []Convention, err error) {
		for _, c := range signal.Ready() {
			out = append(out, Convention{Convention: c, Version: 1})
		}
		rows, err := pg.Rows[conventionRow](ctx, tx, `SELECT `+conventionColumns+
			` FROM convention WHERE centre_id = app_centre() ORDER BY name, code`,
			pgx.StrictNamedArgs{})
		if err != nil {
			return nil, fmt.Errorf("list conventions: %w", err)
		}
		for _, r := range rows {
			c, err := r.convention()
			if err != nil {
				return nil, err
			}
			out = append(out, c)
		}
		return out, nil
	})
}

// Convention returns the convention that has a code, a ready one or the centre's own.
// Fault: not_found.
func (s *Service) Convention(ctx context.Context, by actor.Actor, code string) (out Convention, err error) {
	if out, ok := ready(code); ok {
		return out, nil
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findConvention(ctx, tx, code, "")
		return err
	})
	return out, err
}

// ready returns the ready convention that has a code.
func ready(code string) (Convention, bool) {
	all := signal.Ready()
	if i := slices.IndexFunc(all, func(c signal.Convention) bool { return c.Code == code }); i >= 0 {
		return Convention{Convention: all[i], Version: 1}, true
	}
	return Convention{}, false
}

// CreateConvention adds a convention of the centre's own. It is refused while anything is
// forbidden and until a person has accepted each caution. created is false when the same
// request was answered before. Faults: id_reused; refused; code_taken for the code of a
// ready convention or another one.
func (s *Service) CreateConvention(ctx context.Context, by actor.Actor, key once.Key, c signal.Convention,
	accept []journal.Acceptance) (out Convention, found finding.List, created bool, err error) {
	if _, taken := ready(c.Code); taken {
		return out, nil, false, codeTaken()
	}
	found = CheckConvention(c)
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, again, err := pg.OptionalRow[conventionRow](ctx, tx, `SELECT `+conventionColumns+
			` FROM convention WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": key.ID})
		if err != nil {
			return fmt.Errorf("create convention: %w", err)
		}
		if again {
			if err := key.Replays(row.BodyDigest); err != nil {
				return err
			}
			out, err = row.convention()
			return err
		}
		if found, err = decideConvention(ctx, by, tx, "create_convention", key.ID, c, found,
			accept); err != nil {
			return err
		}
		content, err := conventionJSON(c)
		if err != nil {
			return err
		}
		row, err = pg.Row[conventionRow](ctx, tx,
			`INSERT INTO convention (centre_id, id, code, name, content, body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @code, @name, @content, @digest, @now, @now) RETURNING `+conventionColumns,
			pgx.StrictNamedArgs{"id": key.ID, "code": c.Code, "name": c.Name, "content": content,
				"digest": key.Digest, "now": tx.Now})
		if err != nil {
			return err
		}
		created = true
		out, err = row.convention()
		return err
	})
	return out, found, created, err
}

// ChangeConvention edits the version named of one of the centre's own conventions. It is
// judged again; a caution that was accepted before need not be accepted again. Briefings
// keep their copies. Faults: not_found; changed; refused; wrong_state for a ready one.
func (s *Service) ChangeConvention(ctx context.Context, by actor.Actor, code string, version int64,
	edit func(*signal.Convention), accept []journal.Acceptance) (out Convention, found finding.List, err error) {
	if _, ok := ready(code); ok {
		return out, nil, fault.WrongState("convention", "one that comes with the service",
			"Create your own beside it, and change that.")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := findConvention(ctx, tx, code, "FOR UPDATE")
		if err != nil {
			return err
		}
		if c.Version != version {
			return fault.Changed(c.Version)
		}
		edit(&c.Convention)
		found = CheckConvention(c.Convention)
		if found, err = decideConvention(ctx, by, tx, "change_convention", c.ID, c.Convention, found,
			accept); err != nil {
			return err
		}
		content, err := conventionJSON(c.Convention)
		if err != nil {
			return err
		}
		row, err := pg.Row[conventionRow](ctx, tx,
			`UPDATE convention SET name = @name, content = @content, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id RETURNING `+conventionColumns,
			pgx.StrictNamedArgs{"id": c.ID, "name": c.Name, "content": content, "now": tx.Now})
		if err != nil {
			return err
		}
		out, err = row.convention()
		return err
	})
	return out, found, err
}

// decideConvention refuses a convention, or keeps the decision. It returns the findings,
// each with who accepted it. Fault: refused.
func decideConvention(ctx context.Context, by actor.Actor, tx *pg.Tx, kind string, id uuid.UUID,
	c signal.Convention, found finding.List,
	accept []journal.Acceptance) (finding.List, error) {
	before, err := journal.Accepted(ctx, tx, "convention", id)
	if err != nil {
		return found, err
	}
	if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
		return found, err
	}
	if found, err = journal.RequireAccepted(by, found, accept, before...); err != nil {
		return found, err
	}
	stored, err := conventionJSON(c)
	if err != nil {
		return found, err
	}
	return found, journal.Decide(ctx, by, tx,
		journal.Decision{Kind: kind, Subject: finding.Subject{Type: "convention", ID: id.String()},
			JudgedOn: decision.JudgedOn{Convention: json.RawMessage(stored)}.Stamped(),
			Findings: found, Accepted: accept})
}

func codeTaken() *fault.Fault {
	return fault.New(fault.Conflict, "code_taken",
		"Another convention has this code, a ready one or one of your centre's. Choose another code, or change that convention.")
}
