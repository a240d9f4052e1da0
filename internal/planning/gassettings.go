package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// CentreGas is how a centre plans gas where a plan says nothing else.
type CentreGas struct {
	Settings      GasSettings // as the centre set them; what is absent is the program's default
	ConfinedFloor *Quantity   // the floor for confined water; nil: gas.DefaultFloor
	// SmallestCylinder is what a cylinder is taken for of which nothing is known;
	// nil: DefaultSmallestCylinder.
	SmallestCylinder *CylinderInput
	Reason           *string // why a figure is on the bold side of the default
	Version          int64   // 1 where nobody has set any
	UpdatedBy        *uuid.UUID
	UpdatedAt        *time.Time
}

// Floors returns the pressures below which nobody stays in the water, by its kind:
// in open water the floor of the settings. What the centre has not set is zero.
func (c CentreGas) Floors() (f gas.Floors) {
	if c.Settings.Floor != nil {
		f.Open = c.Settings.Floor.Reading()
	}
	if c.ConfinedFloor != nil {
		f.Confined = c.ConfinedFloor.Reading()
	}
	return f
}

const centreGasSQL = `SELECT settings, confined_floor, smallest_cylinder, reason, version, updated_by, updated_at
	FROM gas_settings WHERE centre_id = app_centre()`

// queueGasSettings adds the reading of the centre's settings to a batch.
func queueGasSettings(b *pgx.Batch, into *[]GasSettings) {
	b.Queue(`SELECT settings FROM gas_settings WHERE centre_id = app_centre()`).Query(func(rows pgx.Rows) (err error) {
		*into, err = pgx.CollectRows(rows, pgx.RowTo[GasSettings])
		return err
	})
}

// CentreGas reads how the centre plans gas.
func (s *Service) CentreGas(ctx context.Context) (out CentreGas, err error) {
	err = s.db.InTx(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = readCentreGas(ctx, tx)
		return err
	})
	return out, err
}

func readCentreGas(ctx context.Context, tx *pg.Tx) (CentreGas, error) {
	out, found, err := pg.OptionalRow[CentreGas](ctx, tx, centreGasSQL, pgx.StrictNamedArgs{})
	if err == nil && !found {
		out.Version = 1
	}
	return out, err
}

// ChangeCentreGas edits the version named, for managers. A figure on the bold
// side of the program's default, such as a lower floor, needs a reason. Faults:
// Stale when the version is no longer the present one; Malformed for what no
// plan can be worked out with.
func (s *Service) ChangeCentreGas(ctx context.Context, version int64, edit func(*CentreGas)) (out CentreGas, err error) {
	who := actor.From(ctx)
	if err := who.RequireRole("a manager", actor.Manager); err != nil {
		return out, err
	}
	err = s.db.InTx(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := tx.Do(ctx, `INSERT INTO gas_settings (centre_id, updated_at) VALUES (app_centre(), @now) ON CONFLICT (centre_id) DO NOTHING`,
			pgx.StrictNamedArgs{"now": tx.Now}); err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `SELECT FROM gas_settings WHERE centre_id = app_centre() FOR NO KEY UPDATE`, pgx.StrictNamedArgs{}); err != nil {
			return err
		}
		if out, err = readCentreGas(ctx, tx); err != nil {
			return err
		}
		if out.Version != version {
			return fault.Changed(out.Version)
		}
		edit(&out)
		if err := out.check(); err != nil {
			return err
		}
		text, err := json.Marshal(out.Settings)
		if err != nil {
			return fmt.Errorf("change gas settings: %w", err)
		}
		if _, err := tx.Do(ctx, `UPDATE gas_settings SET settings = @settings, confined_floor = @confined, smallest_cylinder = @smallest, reason = @reason,
				version = version + 1, updated_by = @by, updated_at = @now
			WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{"settings": string(text), "confined": out.ConfinedFloor,
			"smallest": out.SmallestCylinder, "reason": out.Reason, "by": who.Person, "now": tx.Now}); err != nil {
			return err
		}
		out, err = readCentreGas(ctx, tx)
		return err
	})
	return out, err
}

// check refuses settings that no plan can be worked out with, and bold ones
// without a reason.
func (c CentreGas) check() error {
	all := c.Settings.Or(DefaultGasSettings())
	if err := all.trial(); err != nil {
		return err
	}
	if err := c.checkSmallest(); err != nil {
		return err
	}
	if err := c.checkFloor(); err != nil {
		return err
	}
	floor, err := c.confinedFloor()
	if err != nil {
		return err
	}
	bold := all.bolder(DefaultGasSettings())
	if least := gas.DefaultFloor(true, floor.Unit); floor.Compare(least) < 0 {
		bold = append(bold, fmt.Sprintf("floor in confined water %s, not %s", floor, least))
	}
	if len(bold) > 0 && c.Reason == nil {
		f := notPossible.Say("Less than the program would choose: {less}.", strings.Join(bold, "; "))
		f.In, f.Pointer = "body", "/reason"
		f.Cures = []finding.Cure{{Code: "give_reason", Message: "Say in reason why the centre plans with less."}}
		return fault.New(fault.Malformed, "invalid_request", "A setting on the bold side of the program's own needs a reason, which is kept.").With(f)
	}
	return nil
}

// checkFloor refuses a floor for open water that is not possible, or so low that it
// would alarm nobody.
func (c CentreGas) checkFloor() error {
	var s slips
	r := s.of("/settings/floor", c.Settings.Floor, units.Pressures)
	if err := s.err(); err != nil || c.Settings.Floor == nil {
		return err
	}
	if other := s.outOfRange(gas.CheckFloor("floor", r), ""); other != nil {
		return other
	}
	return s.err()
}

// confinedFloor returns the floor for confined water, the program's where the
// centre has set none. The error is a Malformed fault for one that is not possible.
func (c CentreGas) confinedFloor() (units.Reading, error) {
	var s slips
	r := s.of("/confined_floor", c.ConfinedFloor, units.Pressures)
	if err := s.err(); err != nil {
		return r, err
	}
	if r.IsZero() {
		return gas.DefaultFloor(true, units.UnitBar), nil
	}
	if err := gas.CheckFloor("floor in confined water", r); err != nil {
		if other := s.outOfRange(err, ""); other != nil {
			return r, other
		}
	}
	return r, s.err()
}

// Set returns the names of all that the centre has set, sorted, never nil: those of
// its settings, confined_floor and smallest_cylinder.
func (c CentreGas) Set() []string {
	out := c.Settings.Names()
	if c.ConfinedFloor != nil {
		out = append(out, "confined_floor")
	}
	if c.SmallestCylinder != nil {
		out = append(out, "smallest_cylinder")
	}
	slices.Sort(out)
	return out
}

// checkSmallest refuses a smallest cylinder that is none.
func (c CentreGas) checkSmallest() error {
	if c.SmallestCylinder == nil {
		return nil
	}
	var s slips
	_ = c.SmallestCylinder.filled().take("", &s)
	for i, f := range s.found {
		s.found[i].Pointer = strings.Replace(f.Pointer, "/cylinder", "/smallest_cylinder", 1)
	}
	return s.err()
}

// Names gives the names of the settings that are set, as the contract spells
// them, sorted; never nil.
func (s GasSettings) Names() []string {
	text, err := json.Marshal(s)
	if err != nil {
		panic("planning: settings cannot be written: " + err.Error()) // numbers and texts can
	}
	var set map[string]any
	if err := json.Unmarshal(text, &set); err != nil {
		panic("planning: settings cannot be read: " + err.Error())
	}
	return append([]string{}, slices.Sorted(maps.Keys(set))...)
}
