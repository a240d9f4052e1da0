package pg

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
)

// Position is how far a list was read: a transaction's number, and the epoch in which
// that number has a meaning. A database that was restored, recovered to an earlier
// moment or failed over is in another epoch.
type Position struct {
	Epoch  string // "" for a position of a release without epochs
	Number int64
}

// errCopied is the error of an epoch that belongs to another cluster. InTx and its
// variants begin a new epoch and run again.
var errCopied = errors.New("pg: the epoch of positions belongs to another cluster")

// epochSQL reads the epoch, and returns no row where it belongs to another cluster.
const epochSQL = "SELECT epoch FROM position_epoch WHERE coalesce(cluster = app_cluster(), true)"

// Gone returns the fault for a position of another epoch.
func Gone() *fault.Fault {
	return fault.New(fault.Gone, "position_gone",
		"The database was restored or moved since updated_since was handed out, "+
			"so what changed since cannot be told from it. Read the list without updated_since, "+
			"and go on with the updated_token of that reading.")
}

// Resume prepares the reading of the changes since an earlier reading; nil reads
// everything. It returns the position that continues this reading: the number of the
// oldest transaction still running. Rows that a later reading may show and this one did
// not were written by that transaction or a later one. Call it before the list is read.
//
// It adds two arguments to args. Rows changed since have touched >= @since and touched
// < @until. Rows beyond @until were written before the database was restored, under
// numbers that have not been used again yet. A position of another epoch is the fault
// Gone.
func Resume(ctx context.Context, tx *Tx, since *Position, args pgx.StrictNamedArgs) (Position, error) {
	type row struct {
		Epoch      string
		At, Behind int64
	}
	r, there, err := OptionalRow[row](ctx, tx, `SELECT epoch,
		pg_snapshot_xmin(pg_current_snapshot())::text::bigint AS at,
			pg_snapshot_xmax(pg_current_snapshot())::text::bigint AS behind
		FROM (`+epochSQL+`) e`, pgx.StrictNamedArgs{})
	switch {
	case err != nil:
		return Position{}, fmt.Errorf("read horizon: %w", err)
	case !there:
		return Position{}, errCopied
	case since != nil && since.Epoch != r.Epoch:
		return Position{}, Gone()
	}
	var from *int64
	if since != nil {
		from = &since.Number
	}
	args["since"], args["until"] = from, r.Behind
	return Position{Epoch: r.Epoch, Number: r.At}, nil
}

// Epoch returns the present epoch of positions.
func Epoch(ctx context.Context, tx *Tx) (string, error) {
	epoch, there, err := OptionalRow[string](ctx, tx, epochSQL, pgx.StrictNamedArgs{})
	if err == nil && !there {
		err = errCopied
	}
	return epoch, err
}

// QueueEpoch adds to a batch for ReadBatch the reading of the present epoch of positions.
func QueueEpoch(b *pgx.Batch, into *string) {
	b.Queue(epochSQL).QueryRow(func(row pgx.Row) error {
		err := row.Scan(into)
		if errors.Is(err, pgx.ErrNoRows) {
			return errCopied
		}
		return err
	})
}

// CheckEpoch begins a new epoch where the recorded one belongs to another cluster, and
// reports whether it did. Of several instances at once, one begins it.
func (db *DB) CheckEpoch(ctx context.Context) (renewed bool, err error) {
	return db.renew(ctx, " WHERE cluster <> app_cluster()")
}

// RenewEpoch begins a new epoch in any case: for a copy of a cluster's disks, which looks
// like the cluster itself.
func (db *DB) RenewEpoch(ctx context.Context) error {
	renewed, err := db.renew(ctx, "")
	if err == nil && !renewed {
		err = errors.New("pg: there is no epoch to renew")
	}
	return err
}

func (db *DB) renew(ctx context.Context, where string) (bool, error) {
	tag, err := db.pool.Exec(ctx, "UPDATE position_epoch SET epoch = gen_random_uuid()::text, "+
		"cluster = app_cluster(), since = clock_timestamp()"+where)
	if err != nil {
		return false, db.translate(err)
	}
	return tag.RowsAffected() > 0, nil
}
