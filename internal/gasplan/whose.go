package gasplan

import (
	"cmp"
	"strings"

	"tankside/internal/units"
)

// At returns the input as a centre plans gas: what its settings leave out is the
// centre's, and no floor is below the centre's.
func (in Input) At(centre GasSettings) Input {
	least := centre.Or(DefaultGasSettings()).Floor
	if f := in.Settings.Floor; f != nil && Less(*f, *least, units.Pressures) {
		in.Settings.Floor = nil
	}
	in.Settings, in.Centre = in.Settings.Or(centre), &centre
	return in
}

// named are the settings with what people call them.
var named = []struct {
	words string
	of    func(GasSettings) any // nil or the zero value where it is not set
}{
	{"law of gas", func(s GasSettings) any { return s.Law }},
	{"stress factor", func(s GasSettings) any { return s.Stress }},
	{"time to sort out", func(s GasSettings) any { return value(s.SortOut) }},
	{"speed of ascent", func(s GasSettings) any { return value(s.AscentSpeed) }},
	{"depth of the stop", func(s GasSettings) any { return value(s.StopDepth) }},
	{"length of the stop", func(s GasSettings) any { return value(s.StopTime) }},
	{"reserve", func(s GasSettings) any { return value(s.Reserve) }},
	{"floor", func(s GasSettings) any { return value(s.Floor) }},
	{"turn rule", func(s GasSettings) any { return s.TurnRule }},
	{"limit of oxygen", func(s GasSettings) any { return value(s.OxygenLimit) }},
	{"margin before the no-stop limit", func(s GasSettings) any { return value(s.NoStopMargin) }},
	{"dives a day", func(s GasSettings) any { return s.DivesADay }},
	{"ascents a day", func(s GasSettings) any { return s.AscentsADay }},
}

func value(q *Quantity) any {
	if q == nil {
		return nil
	}
	return *q
}

// whose returns where each setting comes from: the plan, where it differs from what
// would be without it; else the centre, where that has set it; else the program.
// The input is filled in.
func (in Input) whose() string {
	centre := *cmp.Or(in.Centre, &GasSettings{})
	without := centre.Or(DefaultGasSettings())
	var plans, centres []string
	for _, x := range named {
		switch {
		case x.of(in.Settings) != x.of(without):
			plans = append(plans, x.words)
		case x.of(centre) != x.of(GasSettings{}):
			centres = append(centres, x.words)
		}
	}
	var out []string
	if len(plans) > 0 {
		out = append(out, "Chosen for this plan: "+strings.Join(plans, ", ")+".")
	}
	if len(centres) > 0 {
		out = append(out, "Set by the centre: "+strings.Join(centres, ", ")+".")
	}
	switch len(plans) + len(centres) {
	case 0:
		out = append(out, "All settings are the program's own choice.")
	case len(named):
	default:
		out = append(out, "All other settings are the program's own choice.")
	}
	return strings.Join(out, " ")
}
