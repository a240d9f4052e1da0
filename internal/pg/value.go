package pg

import (
	"context"

	"github.com/google/uuid"
)

// InTx is DB.InTx for a use case with a result: it returns what fn returned in the attempt
// that was committed. A function that may run again must not add to a variable outside
// it, or it adds twice; its result is safe.
func InTx[T any](ctx context.Context, db *DB, centre uuid.UUID,
	fn func(ctx context.Context, tx *Tx) (T, error)) (T, error) {
	return answer(ctx, centre, db.InTx, fn)
}

// BrowseTx is DB.Browse for a use case with a result, as InTx is DB.InTx.
func BrowseTx[T any](ctx context.Context, db *DB, centre uuid.UUID,
	fn func(ctx context.Context, tx *Tx) (T, error)) (T, error) {
	return answer(ctx, centre, db.Browse, fn)
}

type runner func(ctx context.Context, centre uuid.UUID, fn func(ctx context.Context, tx *Tx) error) error

func answer[T any](ctx context.Context, centre uuid.UUID, run runner,
	fn func(ctx context.Context, tx *Tx) (T, error)) (T, error) {
	var out, none T
	err := run(ctx, centre, func(ctx context.Context, tx *Tx) (err error) {
		out, err = fn(ctx, tx)
		return err
	})
	if err != nil {
		return none, err
	}
	return out, nil
}
