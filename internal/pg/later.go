package pg

import (
	"context"

	"github.com/jackc/pgx/v5"
)

// SendLater adds a batch to the round trip of the next statement of the transaction, at
// the latest to that of its COMMIT. It is for writes after which the use case reads
// nothing: an error, such as a broken constraint, is returned by whatever sends them, and
// so in the end by InTx. Callbacks of the batch run then.
func (tx *Tx) SendLater(b *pgx.Batch) { tx.open.later = append(tx.open.later, b.QueuedQueries...) }

// DoLater is SendLater of one statement.
func (tx *Tx) DoLater(sql string, args pgx.StrictNamedArgs) {
	var b pgx.Batch
	b.Queue(sql, args)
	tx.SendLater(&b)
}

// send sends what was to be sent later, then statements, in one round trip. It has read the
// results of the former, and returns those of the latter.
func (o *open) send(ctx context.Context, statements ...*pgx.QueuedQuery) (pgx.BatchResults, error) {
	ahead := o.later
	b := &pgx.Batch{QueuedQueries: append(ahead[:len(ahead):len(ahead)], statements...)}
	if len(ahead) > 0 {
		o.later, o.sent = nil, o.sent+1
	}
	results := o.conn.SendBatch(ctx, b)
	for _, q := range ahead {
		read := q.Fn
		if read == nil {
			read = func(r pgx.BatchResults) error { _, err := r.Exec(); return err }
		}
		if err := read(results); err != nil {
			_ = results.Close() // returns the same error
			return results, err
		}
	}
	return results, nil
}

// flush sends what was to be sent later.
func (o *open) flush(ctx context.Context) error {
	if len(o.later) == 0 {
		return nil
	}
	results, err := o.send(ctx)
	if err != nil {
		return err
	}
	return results.Close()
}

// failedResults are the results of a batch of which a statement sent ahead has failed.
type failedResults struct {
	pgx.BatchResults
	err error
}

// Close implements pgx.BatchResults.
func (f failedResults) Close() error { return f.err }

// lastRows are the rows of the last statement of a batch, which ends with them.
type lastRows struct {
	pgx.Rows
	results pgx.BatchResults
	err     error
}

// Close implements pgx.Rows.
func (r *lastRows) Close() {
	r.Rows.Close()
	r.err = r.results.Close()
}

// Next implements pgx.Rows.
func (r *lastRows) Next() bool {
	if r.Rows.Next() {
		return true
	}
	r.Close()
	return false
}

// Err implements pgx.Rows.
func (r *lastRows) Err() error {
	if err := r.Rows.Err(); err != nil {
		return err
	}
	return r.err
}

// firstRow is the pgx.Row of a query.
type firstRow struct {
	rows pgx.Rows
	err  error
}

// Scan implements pgx.Row.
func (r firstRow) Scan(to ...any) error {
	if r.err != nil {
		return r.err
	}
	defer r.rows.Close()
	if !r.rows.Next() {
		if err := r.rows.Err(); err != nil {
			return err
		}
		return pgx.ErrNoRows
	}
	if err := r.rows.Scan(to...); err != nil {
		return err
	}
	r.rows.Close()
	return r.rows.Err()
}
