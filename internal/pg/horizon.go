package pg

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// Horizon gives the number of the oldest transaction that was still running
// when it is asked. Whatever a later reading may show and an earlier one did
// not was written by that transaction or a later one; so a list that is read
// afterwards can be continued from there. Ask it before the list is read.
func Horizon(ctx context.Context, tx *Tx) (int64, error) {
	n, err := One[int64](ctx, tx, "SELECT pg_snapshot_xmin(pg_current_snapshot())::text::bigint", pgx.StrictNamedArgs{})
	if err != nil {
		return 0, fmt.Errorf("read horizon: %w", err)
	}
	return n, nil
}
