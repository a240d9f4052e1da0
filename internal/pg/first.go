package pg

import (
	"context"

	"github.com/jackc/pgx/v5"
)

// ahead is a reading that goes before everything else in a transaction.
type ahead struct {
	queue func(*pgx.Batch)
	goOn  func() error
}

type aheadKey struct{}

// Ahead returns a context under which each transaction of InTx begins with a reading.
// queue adds it to the round trip that opens the transaction, so it costs none of its
// own. An error of goOn then ends the transaction before anything is done in it. A use
// case need not know of it.
func Ahead(ctx context.Context, queue func(*pgx.Batch), goOn func() error) context.Context {
	return context.WithValue(ctx, aheadKey{}, ahead{queue, goOn})
}
