package gasplan

import (
	"fmt"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// Bolder names the settings that ask for less than others do: less gas kept, or
// more risked. Both are complete.
func (s GasSettings) Bolder(than GasSettings) []string {
	var out []string
	less := func(name string, a, b *Quantity) {
		if x, y := a.Reading(), b.Reading(); x.Unit.Dimension() == y.Unit.Dimension() && x.Compare(y) < 0 {
			out = append(out, fmt.Sprintf("%s %s, not %s", name, x, y))
		}
	}
	less("time to sort out", s.SortOut, than.SortOut)
	less("safety stop", s.StopTime, than.StopTime)
	less("reserve", s.Reserve, than.Reserve)
	if !sameFloor(s.Floor, than.Floor) {
		less("floor", s.Floor, than.Floor)
	}
	less("margin before the no-stop limit", s.NoStopMargin, than.NoStopMargin)
	more := func(name string, a, b *Quantity) {
		if x, y := a.Reading(), b.Reading(); x.Unit.Dimension() == y.Unit.Dimension() && x.Compare(y) > 0 {
			out = append(out, fmt.Sprintf("%s %s, not %s", name, x, y))
		}
	}
	more("ascent at", s.AscentSpeed, than.AscentSpeed)
	more("oxygen up to", s.OxygenLimit, than.OxygenLimit)
	if s.Stress < than.Stress {
		out = append(out, fmt.Sprintf("stress factor %s, not %s", units.DecimalOf(s.Stress),
			units.DecimalOf(than.Stress)))
	}
	if s.Law == "ideal" && than.Law == "real" {
		out = append(out, "the ideal law, not the real gas")
	}
	if share[s.TurnRule] < share[than.TurnRule] {
		out = append(out, fmt.Sprintf("turn rule %s, not %s", s.TurnRule, than.TurnRule))
	}
	if s.DivesADay > than.DivesADay || s.AscentsADay > than.AscentsADay {
		out = append(out, "more dives or ascents a day")
	}
	return out
}

// sameFloor reports whether a floor of 700 psi stands beside one of 50 bar: they are
// the same round figure, each on its gauge.
func sameFloor(a, b *Quantity) bool {
	at := func(u units.Unit) units.Reading { return gas.DefaultFloor(false, u) }
	return a.Reading() == at(units.UnitPSI) && b.Reading() == at(units.UnitBar)
}

// share orders the turn rules by how much they keep for the way back.
var share = map[string]int{"all_usable": 0, "halves": 1, "thirds": 2}

// trial works out an ordinary plan with the settings, to find what no plan can
// be worked out with.
func (s GasSettings) trial() error {
	v := DiverInput{Cylinder: CylinderInput{WaterVolume: &Quantity{12, "L"}}, Start: Quantity{200, "bar"}}
	a, b := v, v
	a.Key, b.Key = "a", "b"
	_, err := Calculate(Input{Dive: DiveInput{Depth: Quantity{12, "m"}, PlannedTime: Quantity{20, "min"}},
		Divers: []DiverInput{a, b}, Settings: s})
	return err
}
