package courses

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
	"tankside/internal/units"
	"tankside/internal/when"
)

// Site is a place where sessions are held.
type Site struct {
	ID uuid.UUID
	SiteFields
	Version   int64
	CreatedAt time.Time
	UpdatedAt time.Time
}

// SiteFields are the members of a site that may be edited.
type SiteFields struct {
	Name      string
	Kind      string        // confined or open
	Water     string        // salt or fresh
	MaxDepth  units.Reading // the greatest depth that can be reached there; more than 0
	Altitude  units.Reading // above sea level
	TimeZone  *string       // nil: the centre's
	Emergency string        // whom to call, where oxygen and the radio are
}

// CreateSite adds a site, for managers, instructors and programs. created is false
// when the same request was answered before. Faults: id_reused; Malformed for an
// unknown time zone or no depth.
func (s *Service) CreateSite(ctx context.Context, by actor.Actor, key once.Key,
	f SiteFields) (site Site, created bool, err error) {
	if err := f.check(); err != nil {
		return Site{}, false, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		args := f.args()
		args["centre"], args["id"], args["digest"], args["now"] = tx.Centre, key.ID, key.Digest, tx.Now
		row, inserted, err := pg.OptionalRow[siteRow](ctx, tx, `
			INSERT INTO site (centre_id, id, name, kind, water, max_depth, altitude,
				time_zone, emergency, body_digest, created_at, updated_at)
			VALUES (@centre, @id, @name, @kind, @water, @max_depth, @altitude,
				@time_zone, @emergency, @digest, @now, @now)
			ON CONFLICT (centre_id, id) DO NOTHING
			RETURNING `+siteColumns, args)
		if err != nil {
			return fmt.Errorf("create site: %w", err)
		}
		if !inserted { // a site has this id already
			if row, err = readSite(ctx, tx, key.ID, ""); err == nil {
				err = key.Replays(row.BodyDigest)
			}
		}
		site, created = row.site(), inserted
		return err
	})
	return site, created, err
}

// Sites returns sites by name. kinds narrows the list to these kinds, none to all.
func (s *Service) Sites(ctx context.Context, by actor.Actor, kinds []string,
	p page.Request) (sites []Site, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"centre": by.Centre, "kinds": kinds}
	from, order, err := p.SQL(page.Column{Name: "name", Type: "text"}, args)
	if err != nil {
		return nil, nil, err
	}
	rows, err := pg.BrowseTx(ctx, s.db, by.Centre,
		func(ctx context.Context, tx *pg.Tx) ([]siteRow, error) {
			return pg.Rows[siteRow](ctx, tx, `SELECT `+siteColumns+` FROM site
			WHERE centre_id = @centre AND (@kinds::text[] IS NULL OR kind = ANY (@kinds))
				AND `+from+` `+order, args)
		})
	if err != nil {
		return nil, nil, err
	}
	rows, next = page.Cut(p, rows, func(r siteRow) page.Place { return page.Place{Key: r.Name, ID: r.ID} })
	for _, row := range rows {
		sites = append(sites, row.site())
	}
	return sites, next, nil
}

// Site returns one site.
func (s *Service) Site(ctx context.Context, by actor.Actor, id uuid.UUID) (site Site, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, err := readSite(ctx, tx, id, "")
		site = row.site()
		return err
	})
	return site, err
}

// ChangeSite edits the given version, for managers, instructors and programs.
// Faults: Stale for an outdated version; Malformed for an unknown time zone or no
// depth.
func (s *Service) ChangeSite(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(*SiteFields)) (site Site, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, err := lockSite(ctx, tx, id, version)
		if err != nil {
			return err
		}
		f := row.site().SiteFields
		edit(&f)
		if err := f.check(); err != nil {
			return err
		}
		args := f.args()
		args["centre"], args["id"], args["now"] = tx.Centre, id, tx.Now
		row, err = pg.Row[siteRow](ctx, tx, `
			UPDATE site SET name = @name, kind = @kind, water = @water,
				max_depth = @max_depth, altitude = @altitude,
				time_zone = @time_zone, emergency = @emergency, version = version + 1, updated_at = @now
			WHERE centre_id = @centre AND id = @id
			RETURNING `+siteColumns, args)
		site = row.site()
		return err
	})
	return site, err
}

// DeleteSite removes the given version, for managers. Faults: Stale for an outdated
// version; site_in_use when a session refers to the site.
func (s *Service) DeleteSite(ctx context.Context, by actor.Actor, id uuid.UUID, version int64) error {
	return s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := lockSite(ctx, tx, id, version); err != nil {
			return err
		}
		_, err := tx.Do(ctx, `DELETE FROM site WHERE centre_id = @centre AND id = @id`,
			pgx.StrictNamedArgs{"centre": tx.Centre, "id": id})
		return err
	})
}

func siteInUse() *fault.Fault {
	return fault.New(fault.Conflict, "site_in_use",
		"A session is or was held at this site, so it stays. If its figures are wrong, change them.")
}

// check returns a fault for fields that the contract's schema cannot reject.
func (f SiteFields) check() error {
	if f.MaxDepth.Value <= 0 {
		return fault.Invalid("/max_depth/value", "The greatest depth is more than 0.")
	}
	if f.TimeZone != nil {
		return when.CheckZone(*f.TimeZone, "/time_zone")
	}
	return nil
}

func (f SiteFields) args() pgx.StrictNamedArgs {
	return pgx.StrictNamedArgs{
		"name": f.Name, "kind": f.Kind, "water": f.Water,
		"max_depth": f.MaxDepth, "altitude": f.Altitude,
		"time_zone": f.TimeZone, "emergency": f.Emergency,
	}
}

// siteRow is a row of the table of sites.
type siteRow struct {
	ID         uuid.UUID
	Name       string
	Kind       string
	Water      string
	MaxDepth   units.Reading
	Altitude   units.Reading
	TimeZone   *string
	Emergency  string
	BodyDigest []byte
	Version    int64
	CreatedAt  time.Time
	UpdatedAt  time.Time
}

const siteColumns = `id, name, kind, water, max_depth, altitude,
	time_zone, emergency, body_digest, version, created_at, updated_at`

func (r siteRow) site() Site {
	return Site{
		ID: r.ID,
		SiteFields: SiteFields{
			Name:      r.Name,
			Kind:      r.Kind,
			Water:     r.Water,
			MaxDepth:  r.MaxDepth,
			Altitude:  r.Altitude,
			TimeZone:  r.TimeZone,
			Emergency: r.Emergency,
		},
		Version:   r.Version,
		CreatedAt: r.CreatedAt,
		UpdatedAt: r.UpdatedAt,
	}
}

// readSite reads a site of the centre; lock is "" or a locking clause.
func readSite(ctx context.Context, tx *pg.Tx, id uuid.UUID, lock string) (siteRow, error) {
	row, found, err := pg.OptionalRow[siteRow](ctx, tx, `SELECT `+siteColumns+
		` FROM site WHERE centre_id = @centre AND id = @id `+lock,
		pgx.StrictNamedArgs{"centre": tx.Centre, "id": id})
	if err == nil && !found {
		err = fault.NoSuch("site")
	}
	return row, err
}

// lockSite locks the given version of a site for an edit.
func lockSite(ctx context.Context, tx *pg.Tx, id uuid.UUID, version int64) (siteRow, error) {
	row, err := readSite(ctx, tx, id, "FOR UPDATE")
	if err == nil && row.Version != version {
		err = fault.Changed(row.Version)
	}
	return row, err
}
