package plans

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/planview"
)

// Settings returns the centre's settings for gas.
func (s *Service) Settings(ctx context.Context, by actor.Actor) (out gasplan.CentreGas, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = planview.CentreGas(ctx, tx)
		return err
	})
	return out, err
}

// ChangeSettings edits the version named of the centre's settings for gas. A figure that
// is bolder than the program's default, such as a lower floor, needs a reason. Faults:
// changed when the version is no longer the present one; invalid_request for settings
// that no plan can be computed with.
func (s *Service) ChangeSettings(ctx context.Context, by actor.Actor, version int64,
	edit func(*gasplan.CentreGas)) (out gasplan.CentreGas, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := lockSettings(ctx, tx); err != nil {
			return err
		}
		if out, err = planview.CentreGas(ctx, tx); err != nil {
			return err
		}
		if out.Version != version {
			return fault.Changed(out.Version)
		}
		edit(&out)
		if err := out.Check(); err != nil {
			return err
		}
		if err := updateSettings(ctx, by, tx, out); err != nil {
			return err
		}
		out, err = planview.CentreGas(ctx, tx)
		return err
	})
	return out, err
}

// lockSettings locks the row of the centre's settings, and adds it where there is none.
func lockSettings(ctx context.Context, tx *pg.Tx) error {
	if _, err := tx.Do(ctx, `
		INSERT INTO gas_settings (centre_id, updated_at)
		VALUES (app_centre(), @now)
		ON CONFLICT (centre_id) DO NOTHING`, pgx.StrictNamedArgs{"now": tx.Now}); err != nil {
		return err
	}
	_, err := tx.Do(ctx, `SELECT FROM gas_settings WHERE centre_id = app_centre() FOR NO KEY UPDATE`,
		pgx.StrictNamedArgs{})
	return err
}

func updateSettings(ctx context.Context, by actor.Actor, tx *pg.Tx, c gasplan.CentreGas) error {
	text, err := json.Marshal(c.Settings)
	if err != nil {
		return fmt.Errorf("change gas settings: %w", err)
	}
	_, err = tx.Do(ctx, `
		UPDATE gas_settings
		SET settings = @settings, confined_floor = @confined, smallest_cylinder = @smallest, reason = @reason,
			version = version + 1, updated_by = @by, updated_at = @now
		WHERE centre_id = app_centre()`,
		pgx.StrictNamedArgs{"settings": string(text), "confined": c.ConfinedFloor,
			"smallest": c.SmallestCylinder, "reason": c.Reason, "by": by.Person, "now": tx.Now})
	return err
}
