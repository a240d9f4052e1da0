package people

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/roster"
	"tankside/internal/when"
)

// records reads the records of a person that are only added to: papers, marks. Its
// table has the alias x in columns, from and order.
type records[T any] struct {
	what, columns, from, order string
	list                       string // the operation that lists them
	// seen judges a row as of today and returns the id of its person.
	seen func(row *T, today roster.Day) uuid.UUID
}

func (k records[T]) find(ctx context.Context, tx *pg.Tx, id uuid.UUID) (out T, err error) {
	out, found, err := pg.OptionalRow[T](ctx, tx, `SELECT `+k.columns+k.from+
		`WHERE x.centre_id = app_centre() AND x.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch(k.what)
	}
	if err != nil {
		return out, err
	}
	day, err := today(ctx, tx)
	k.seen(&out, day)
	return out, err
}

// of returns the records of a person, for callers that may see the person.
func (k records[T]) of(ctx context.Context, by actor.Actor, s *Service, person uuid.UUID) (out []T, err error) {
	if !permission.Covers(k.list, by, person) {
		return nil, fault.NoSuch("person")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findPerson(ctx, tx, person); err != nil {
			return err
		}
		day, err := today(ctx, tx)
		if err != nil {
			return err
		}
		out, err = pg.Rows[T](ctx, tx, `SELECT `+k.columns+k.from+
			`WHERE x.centre_id = app_centre() AND x.person_id = @person ORDER BY `+k.order,
			pgx.StrictNamedArgs{"person": person})
		for i := range out {
			k.seen(&out[i], day)
		}
		return err
	})
	return out, err
}

// today returns the centre's present day.
func today(ctx context.Context, tx *pg.Tx) (roster.Day, error) {
	centre, err := readLocal(ctx, tx)
	if err != nil {
		return "", err
	}
	zone, err := when.Zone(centre.TimeZone, "/time_zone")
	if err != nil {
		return "", err
	}
	return roster.Day(when.DayOf(tx.Now, zone).Format(time.DateOnly)), nil
}
