package planview

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/gasplan"
	"tankside/internal/pg"
)

// CentreGas returns the centre's settings for gas, version 1 of empty ones where it has
// set none.
func CentreGas(ctx context.Context, tx *pg.Tx) (gasplan.CentreGas, error) {
	out, found, err := pg.OptionalRow[gasplan.CentreGas](ctx, tx, `
		SELECT settings, confined_floor, smallest_cylinder, reason, version, updated_by, updated_at
		FROM gas_settings
		WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{})
	if err == nil && !found {
		out.Version = 1
	}
	return out, err
}

// Computed returns a stored plan, computed again from its input.
func Computed(ctx context.Context, tx *pg.Tx, plan uuid.UUID) (gasplan.Computed, error) {
	text, err := pg.Row[[]byte](ctx, tx, `
		SELECT input
		FROM gas_plan
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": plan})
	if err != nil {
		return gasplan.Computed{}, err
	}
	var in gasplan.Input
	if err := json.Unmarshal(text, &in); err != nil {
		return gasplan.Computed{}, fmt.Errorf("read plan: %w", err)
	}
	return gasplan.Compute(in)
}
