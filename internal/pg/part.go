package pg

import "context"

// Savepoint runs fn as a part of a transaction that can fail alone: an error rolls back
// what fn wrote, and the transaction goes on. A broken constraint is returned as the
// fault that MapConstraints registered. An error that repeats or ends the whole transaction is
// returned unchanged, for the caller to return.
func (db *DB) Savepoint(ctx context.Context, tx *Tx, fn func(ctx context.Context, tx *Tx) error) error {
	sp, err := tx.Begin(ctx)
	if err != nil {
		return err
	}
	err = fn(ctx, &Tx{Tx: sp, Centre: tx.Centre, Now: tx.Now})
	if err == nil {
		return sp.Commit(ctx)
	}
	if givenUp(err) || unreachable(err) {
		return err
	}
	if back := sp.Rollback(ctx); back != nil {
		return back
	}
	return db.translate(err)
}
