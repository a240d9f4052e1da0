package pg

import "context"

// DryRun returns a handle on the same database for dry runs: its InTx checks every deferred
// constraint after fn, then rolls back everything, and returns what it would have returned. A
// service on such a handle need not know of it.
func (db *DB) DryRun() *DB { return &DB{connections: db.connections, dry: true} }

// rehearse ends a transaction without committing: it checks what a commit would check.
func rehearse(ctx context.Context, o *open) error {
	_, err := o.Exec(ctx, checkAll)
	return err
}

const checkAll = "SET CONSTRAINTS ALL IMMEDIATE"
