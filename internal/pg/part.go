package pg

import "context"

// Part runs fn as a part of a transaction that can fail alone: an error takes
// back what fn wrote, and the transaction goes on. A broken constraint comes
// back as the fault that Explain named. What makes the whole transaction begin
// anew, or end, comes back as it is, for the caller to hand on.
func (db *DB) Part(ctx context.Context, tx *Tx, fn func(ctx context.Context, tx *Tx) error) error {
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
