package gasplan

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
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

// Check refuses settings that no plan can be worked out with, and bold ones
// without a reason.
func (c CentreGas) Check() error {
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
	bold := all.Bolder(DefaultGasSettings())
	if least := gas.DefaultFloor(true, floor.Unit); floor.Compare(least) < 0 {
		bold = append(bold, fmt.Sprintf("floor in confined water %s, not %s", floor, least))
	}
	if len(bold) > 0 && c.Reason == nil {
		f := NotPossible.Say("Less than the program would choose: {less}.", strings.Join(bold, "; "))
		f.In, f.Pointer = "body", "/reason"
		f.Cures = []finding.Cure{{Code: "give_reason",
			Message: "Say in reason why the centre plans with less."}}
		return fault.New(fault.Malformed, "invalid_request",
			"A setting on the bold side of the program's own needs a reason, which is kept.").With(f)
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
	_ = c.SmallestCylinder.Filled().take("", &s)
	for i, f := range s.found {
		s.found[i].Pointer = strings.Replace(f.Pointer, "/cylinder", "/smallest_cylinder", 1)
	}
	return s.err()
}

// Names returns the names of the settings that are set, as the contract spells
// them, sorted; never nil.
func (s GasSettings) Names() []string {
	text, err := json.Marshal(s)
	if err != nil {
		panic("gasplan: settings cannot be written: " + err.Error()) // numbers and texts can
	}
	var set map[string]any
	if err := json.Unmarshal(text, &set); err != nil {
		panic("gasplan: settings cannot be read: " + err.Error())
	}
	return append([]string{}, slices.Sorted(maps.Keys(set))...)
}

// DefaultSmallestCylinder is what a cylinder is taken for of which nothing is
// known where the centre has set nothing: 10 L of water volume, the smallest that
// grown students commonly dive with (common practice; our choice). A smaller one
// needs higher pressures for the same gas.
func DefaultSmallestCylinder() CylinderInput {
	return CylinderInput{WaterVolume: &Quantity{10, string(units.UnitLitre)}, Count: 1}
}

// Smallest returns the smallest cylinder of the centre, or the program's own.
func (c CentreGas) Smallest() CylinderInput {
	if c.SmallestCylinder != nil {
		return c.SmallestCylinder.Filled()
	}
	return DefaultSmallestCylinder()
}

// Words returns a cylinder as a person would write it.
func (v CylinderInput) Words() string {
	out := ""
	switch {
	case v.WaterVolume != nil:
		out = v.WaterVolume.Reading().String()
	case v.RatedCapacity != nil && v.RatedPressure != nil:
		out = fmt.Sprintf("%s at %s", v.RatedCapacity.Reading(), v.RatedPressure.Reading())
	}
	if v.Count == 2 {
		out = "twice " + out
	}
	return out
}
