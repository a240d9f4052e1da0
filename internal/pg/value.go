package pg

import (
	"context"

	"github.com/google/uuid"
)

// InTx is DB.In for what has an answer: it hands back what fn returned when it was
// committed, and nothing of an attempt before that. A function that runs again
// must not add to a variable outside it, or it adds twice; what it returns cannot.
func InTx[T any](ctx context.Context, db *DB, centre uuid.UUID,
	fn func(ctx context.Context, tx *Tx) (T, error)) (T, error) {
	return answer(ctx, centre, db.In, fn)
}

// BrowseTx is DB.Browse for what has an answer, as InTx is DB.In.
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
