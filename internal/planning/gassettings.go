package planning

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
)

const centreGasSQL = `SELECT settings, confined_floor, smallest_cylinder, reason, version, updated_by, updated_at
	FROM gas_settings WHERE centre_id = app_centre()`

// CentreGas reads how the centre plans gas.
func (s *Service) CentreGas(ctx context.Context, by actor.Actor) (out gasplan.CentreGas, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = readCentreGas(ctx, tx)
		return err
	})
	return out, err
}

func readCentreGas(ctx context.Context, tx *pg.Tx) (gasplan.CentreGas, error) {
	out, found, err := pg.OptionalRow[gasplan.CentreGas](ctx, tx, centreGasSQL, pgx.StrictNamedArgs{})
	if err == nil && !found {
		out.Version = 1
	}
	return out, err
}

// ChangeCentreGas edits the version named, for managers. A figure on the bold
// side of the program's default, such as a lower floor, needs a reason. Faults:
// Stale when the version is no longer the present one; Malformed for what no
// plan can be worked out with.
func (s *Service) ChangeCentreGas(ctx context.Context, by actor.Actor, version int64,
	edit func(*gasplan.CentreGas)) (out gasplan.CentreGas, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := tx.Do(ctx, `INSERT INTO gas_settings (centre_id, updated_at) VALUES (app_centre(), @now) ON CONFLICT (centre_id) DO NOTHING`,
			pgx.StrictNamedArgs{"now": tx.Now}); err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `SELECT FROM gas_settings WHERE centre_id = app_centre() FOR NO KEY UPDATE`,
			pgx.StrictNamedArgs{}); err != nil {
			return err
		}
		if out, err = readCentreGas(ctx, tx); err != nil {
			return err
		}
		if out.Version != version {
			return fault.Changed(out.Version)
		}
		edit(&out)
		if err := out.Check(); err != nil {
			return err
		}
		text, err := json.Marshal(out.Settings)
		if err != nil {
			return fmt.Errorf("change gas settings: %w", err)
		}
		if _, err := tx.Do(ctx, `UPDATE gas_settings SET settings = @settings, confined_floor = @confined, smallest_cylinder = @smallest, reason = @reason,
				version = version + 1, updated_by = @by, updated_at = @now
			WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{"settings": string(text), "confined": out.ConfinedFloor,
			"smallest": out.SmallestCylinder, "reason": out.Reason, "by": by.Person, "now": tx.Now}); err != nil {
			return err
		}
		out, err = readCentreGas(ctx, tx)
		return err
	})
	return out, err
}
