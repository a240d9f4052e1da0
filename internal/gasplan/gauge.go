package gasplan

import (
	"time"

	"tankside/internal/gas"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// system is the units that go with a gauge, and the steps in which volumes and
// depths are shown: whole litres and decimetres, tenths of a cubic foot and
// whole feet. Our choice.
type system struct {
	gauge, volume, rate, depth units.Unit
	litres, metres             float64
}

// unitsWith returns the units that go with a gauge's.
func unitsWith(gauge units.Unit) system {
	if gauge == units.UnitPSI {
		return system{gauge, units.UnitCuFt, units.UnitCuFtMin, units.UnitFoot, 0.1, 1}
	}
	return system{gauge, units.UnitLitre, units.UnitLPerMin, units.UnitMetre, 1, 0.1}
}

func (system) down(x, step float64, u units.Unit) Quantity {
	return Of(units.Read(units.RoundDown(x, step), u))
}

func (system) up(x, step float64, u units.Unit) Quantity {
	return Of(units.Read(units.RoundUp(x, step), u))
}

// rateOf returns a breathing rate, rounded up.
func (s system) rateOf(r units.Rate) Quantity { return s.up(r.In(s.rate), 0.01, s.rate) }

// inMinutes returns a time in minutes.
func inMinutes(d time.Duration) Quantity { return Of(units.Read(d.Minutes(), units.UnitMinute)) }

// limitOf returns a table's limit, nil for none.
func limitOf(l nostop.Limit) *Quantity {
	if l.Unlimited {
		return nil
	}
	return new(inMinutes(l.At.Duration()))
}

// tabled returns what the tables say of a dive.
func tabled(r nostop.Result) NoStopResult {
	out := NoStopResult{OutsideTables: r.Outside, OfDay: r.OfDay, AscentsOfDay: r.Ascents,
		RowFSW: int(r.Row.Depth),
		Total:  inMinutes(max(r.Total, r.Under).Duration())}
	if r.Before != nostop.None {
		out.GroupBefore = r.Before.String()
	}
	if r.Row.Depth > 0 {
		out.Limit, out.Longest = limitOf(r.Row.Limit), limitOf(r.Left)
		if !r.Residual.Undefined {
			out.Residual = new(inMinutes(r.Residual.Minutes.Duration()))
		}
	}
	if !r.Outside {
		out.GroupAfter = r.After.String()
	}
	return out
}

// lawWords returns by which law gas is reckoned.
func lawWords(l gas.GasLaw) string {
	if l == gas.IdealGas {
		return "Gas is reckoned by the ideal law: pressure times volume."
	}
	return "Air is reckoned as a real gas, nitrox as if it were air."
}
