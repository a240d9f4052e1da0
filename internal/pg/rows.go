package pg

import (
	"context"
	"database/sql"
	"errors"
	"reflect"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// Rows returns every row that sql finds. args must have each @name in sql, and no
// other. A struct T is filled by the columns' names (tag db), any other type from the
// only column.
func Rows[T any](ctx context.Context, tx *Tx, sql string, args pgx.StrictNamedArgs) ([]T, error) {
	rows, err := tx.Query(ctx, sql, args)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanner[T]())
}

// Row returns the one row that sql finds: pgx.ErrNoRows when there is none,
// pgx.ErrTooManyRows when there are more.
func Row[T any](ctx context.Context, tx *Tx, sql string, args pgx.StrictNamedArgs) (T, error) {
	rows, err := tx.Query(ctx, sql, args)
	if err != nil {
		var none T
		return none, err
	}
	return pgx.CollectExactlyOneRow(rows, scanner[T]())
}

// OptionalRow returns the row that sql finds, and whether there is one.
func OptionalRow[T any](ctx context.Context, tx *Tx, sql string, args pgx.StrictNamedArgs) (T, bool, error) {
	row, err := Row[T](ctx, tx, sql, args)
	if errors.Is(err, pgx.ErrNoRows) {
		return row, false, nil
	}
	return row, err == nil, err
}

// Do runs sql and returns the number of rows that it affected.
func (tx *Tx) Do(ctx context.Context, sql string, args pgx.StrictNamedArgs) (rows int64, err error) {
	tag, err := tx.Exec(ctx, sql, args)
	return tag.RowsAffected(), err
}

// scanner returns how to read T: from several columns or as a single value. Some values
// are structs themselves: a time, a range, and other types that scan themselves.
func scanner[T any]() pgx.RowToFunc[T] {
	t := reflect.TypeFor[T]()
	if t.Kind() != reflect.Struct || t == reflect.TypeFor[time.Time]() {
		return pgx.RowTo[T]
	}
	switch any(new(T)).(type) {
	case sql.Scanner, pgtype.RangeScanner:
		return pgx.RowTo[T]
	}
	return pgx.RowToStructByName[T]
}

// QueueRows adds a query to a batch. Once the batch was sent, into has its rows as Rows
// would return them: independent queries in one round trip.
func QueueRows[T any](b *pgx.Batch, into *[]T, sql string, args pgx.StrictNamedArgs) {
	b.Queue(sql, args).Query(func(rows pgx.Rows) (err error) {
		*into, err = pgx.CollectRows(rows, scanner[T]())
		return err
	})
}

// Send sends a batch, in which every statement has to succeed.
func (tx *Tx) Send(ctx context.Context, b *pgx.Batch) error { return tx.SendBatch(ctx, b).Close() }
