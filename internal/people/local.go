package people

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// local is what this package reads of the centre.
type local struct {
	TimeZone  string
	GaugeUnit string // of a new person who names none
}

// readLocal reads the centre of the transaction.
func readLocal(ctx context.Context, tx *pg.Tx) (local, error) {
	out, err := pg.Row[local](ctx, tx, `SELECT time_zone, gauge_unit
		FROM centre_settings
		WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{})
	if err != nil {
		return local{}, fmt.Errorf("read centre: %w", err)
	}
	return out, nil
}

// lockCentre locks the centre of the transaction until its end.
func lockCentre(ctx context.Context, tx *pg.Tx) error {
	_, err := tx.Do(ctx, `SELECT FROM centre_lock
		WHERE centre_id = app_centre() FOR NO KEY UPDATE`, pgx.StrictNamedArgs{})
	return err
}
