package sessions

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// Outing gathers the sessions that go to a place together. Head counts and
// incidents belong to it.
type Outing struct {
	ID         uuid.UUID
	Title      string
	OnDay      time.Time
	SessionIDs []uuid.UUID
	Version    int64
	CreatedAt  time.Time
	UpdatedAt  time.Time
}

const outingColumns = `o.id, o.title, o.on_day,
	ARRAY(SELECT s.id FROM session s WHERE s.centre_id = o.centre_id AND s.outing_id = o.id
		ORDER BY s.starts_at, s.id) AS session_ids,
	o.version, o.created_at, o.updated_at`

const outingDigest = `SELECT body_digest FROM outing WHERE centre_id = app_centre() AND id = @id`

// ListedPerson is one of those an outing's head count must find.
type ListedPerson struct {
	PersonID *uuid.UUID // nil for a guest who is no person of the centre
	GuestID  *uuid.UUID // of a guest
	Name     string
	Part     string // the role in a session, or what the guest does
}

// Guest goes along without taking part in a session: the skipper, an escort.
type Guest struct {
	ID        uuid.UUID
	OutingID  uuid.UUID
	PersonID  *uuid.UUID
	Name      string
	Part      string
	LeftAt    *time.Time
	CreatedAt time.Time
}

const guestColumns = `g.id, g.outing_id, g.person_id, g.name, g.part, g.left_at, g.created_at`

const guestDigest = `SELECT body_digest FROM outing_guest WHERE centre_id = app_centre() AND id = @id`

// NewOuting adds an outing for several sessions to share.
func (s *Service) NewOuting(ctx context.Context, by actor.Actor, key once.Key, title string,
	day time.Time) (out Outing, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		n, err := tx.Do(ctx, `INSERT INTO outing (centre_id, id, title, on_day, body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @title, @day, @digest, @now, @now) ON CONFLICT (centre_id, id) DO NOTHING`,
			pgx.StrictNamedArgs{"id": key.ID, "title": title, "day": day, "digest": key.Digest, "now": tx.Now})
		if err != nil {
			return err
		}
		if created = n == 1; !created {
			if _, err := createdBefore(ctx, tx, outingDigest, key); err != nil {
				return err
			}
		}
		out, err = findOuting(ctx, tx, key.ID)
		return err
	})
	return out, created, err
}

func findOuting(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Outing, error) {
	o, found, err := pg.OptionalRow[Outing](ctx, tx, `SELECT `+outingColumns+
		` FROM outing o WHERE o.centre_id = app_centre() AND o.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("outing")
	}
	return o, err
}

// Outings lists outings by their day, from and before those days.
func (s *Service) Outings(ctx context.Context, by actor.Actor, from, before *time.Time,
	p page.Request) (out []Outing, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"from": from, "before": before}
	cond, order, err := p.SQL(page.Column{Name: "on_day", Type: "date"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		rows, err := pg.Rows[Outing](ctx, tx, `SELECT `+outingColumns+
			` FROM outing o WHERE o.centre_id = app_centre()
			AND (@from::date IS NULL OR o.on_day >= @from) AND (@before::date IS NULL OR o.on_day < @before) AND `+cond+` `+order, args)
		if err != nil {
			return fmt.Errorf("list outings: %w", err)
		}
		out, next = page.Cut(p, rows,
			func(o Outing) page.Place { return page.Place{Key: o.OnDay.Format(time.DateOnly), ID: o.ID} })
		return nil
	})
	return out, next, err
}

// OutingView is an outing with its list and how its head counts stand.
type OutingView struct {
	Outing
	Aboard []ListedPerson
	Counts []LegCount
}

// Outing reads an outing with its list and its head counts.
func (s *Service) Outing(ctx context.Context, by actor.Actor, id uuid.UUID) (out OutingView, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = viewOuting(ctx, tx, id)
		return err
	})
	return out, err
}

func viewOuting(ctx context.Context, tx *pg.Tx, id uuid.UUID) (v OutingView, err error) {
	if v.Outing, err = findOuting(ctx, tx, id); err != nil {
		return v, err
	}
	all, err := readHeads(ctx, tx, id)
	if err != nil {
		return v, err
	}
	h := all[id]
	v.Aboard, v.Counts = h.list(everAfter), h.legs()
	return v, nil
}

// ChangeOuting edits an outing's title.
func (s *Service) ChangeOuting(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	title string) (out Outing, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := lockOutings(ctx, tx, id); err != nil {
			return err
		}
		o, err := findOuting(ctx, tx, id)
		if err == nil && o.Version != version {
			err = fault.Changed(o.Version)
		}
		if err != nil {
			return err
		}
		if _, err = tx.Do(ctx, `UPDATE outing SET title = @title, version = version + 1, updated_at = @now WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": id, "title": title, "now": tx.Now}); err != nil {
			return err
		}
		out, err = findOuting(ctx, tx, id)
		return err
	})
	return out, err
}

// lockOutings locks outings, so that who goes with them does not change while
// heads are counted. It comes after the sessions and their groups.
func lockOutings(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	return lock(ctx, tx, `SELECT id FROM outing WHERE centre_id = app_centre() AND id = ANY (@ids) ORDER BY id FOR NO KEY UPDATE`, ids)
}

// mayGoWith lets a session change its outing, nil for none, while it is planned
// and no head count stands of the one that it leaves or joins: a count was held
// against everybody of the outing's sessions. Both are locked.
func mayGoWith(ctx context.Context, tx *pg.Tx, row Session, to *uuid.UUID) error {
	if same(row.OutingID, to) {
		return nil
	}
	if row.State != Planned {
		return fault.WrongState("session", string(row.State),
			"It changes its outing only while it is planned: from then on its people are counted with that one. "+
				"Who is not there is recorded by roll call.")
	}
	var both []uuid.UUID
	for _, id := range []*uuid.UUID{row.OutingID, to} {
		if id != nil {
			both = append(both, *id)
		}
	}
	if err := lockOutings(ctx, tx, both...); err != nil {
		return err
	}
	if to != nil {
		if err := outingThere(ctx, tx, *to); err != nil {
			return err
		}
	}
	return uncounted(ctx, tx, both...)
}

// uncounted insists that no head count of some outings stands. They are locked.
func uncounted(ctx context.Context, tx *pg.Tx, ids ...uuid.UUID) error {
	title, counted, err := pg.OptionalRow[string](ctx, tx,
		`SELECT o.title FROM outing o WHERE o.centre_id = app_centre() AND o.id = ANY (@ids)
			AND EXISTS (SELECT FROM journal_entry e WHERE e.centre_id = o.centre_id AND e.outing_id = o.id
				AND e.kind = 'head_count' AND e.voided_at IS NULL)
		ORDER BY o.id LIMIT 1`, pgx.StrictNamedArgs{"ids": ids})
	if err == nil && counted {
		err = fault.WrongState("outing", "counted already",
			fmt.Sprintf("Of %q a head count stands, which was held against everybody of its sessions: "+
				"leave it as it is and record by roll call who is not there, or void the count if it is wrong.", title))
	}
	return err
}

// AddGuest puts somebody on the list of an outing who takes part in no session:
// being there is a fact.
func (s *Service) AddGuest(ctx context.Context, by actor.Actor, key once.Key, g Guest) (out Guest, created bool,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findOuting(ctx, tx, g.OutingID); err != nil {
			return err
		}
		n, err := tx.Do(ctx, `INSERT INTO outing_guest (centre_id, id, outing_id, person_id, name, part, body_digest, created_at)
			VALUES (app_centre(), @id, @outing, @person, @name, @part, @digest, @now) ON CONFLICT (centre_id, id) DO NOTHING`,
			pgx.StrictNamedArgs{"id": key.ID, "outing": g.OutingID, "person": g.PersonID, "name": g.Name,
				"part": g.Part, "digest": key.Digest, "now": tx.Now})
		if err != nil {
			return err
		}
		if created = n == 1; !created {
			if _, err := createdBefore(ctx, tx, guestDigest, key); err != nil {
				return err
			}
		}
		out, err = findGuest(ctx, tx, key.ID)
		return err
	})
	return out, created, err
}

func findGuest(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Guest, error) {
	g, found, err := pg.OptionalRow[Guest](ctx, tx, `SELECT `+guestColumns+
		` FROM outing_guest g WHERE g.centre_id = app_centre() AND g.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("guest")
	}
	return g, err
}

// GuestLeft takes a guest off the list from now on.
func (s *Service) GuestLeft(ctx context.Context, by actor.Actor, id uuid.UUID) (out Guest, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := tx.Do(ctx, `UPDATE outing_guest SET left_at = @now WHERE centre_id = app_centre() AND id = @id AND left_at IS NULL`,
			pgx.StrictNamedArgs{"id": id, "now": tx.Now}); err != nil {
			return err
		}
		out, err = findGuest(ctx, tx, id)
		return err
	})
	return out, err
}
