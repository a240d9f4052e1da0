package gas_test

import (
	"math"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// The rows about turning, temperature, oxygen, units and real gas.
func init() {
	workedExamples["W28"] = func(e example) {
		c := sized(e, 12, 232)
		start, low := units.Pressure(e.x("start_bar")), units.Pressure(e.x("min_gas_bar"))
		usable := gas.Usable(c, start, low, idealBar)
		e.near(e.n("usable_bar"), float64(c.Pressure(usable, idealBar)), 1e-6, "usable")
		for rule, name := range map[gas.TurnRule]string{gas.AllUsable: "turn_all", gas.Halves: "turn_halves",
			gas.Thirds: "turn_thirds"} {
			got := gas.TurnPressure(c, start, low, gas.Share(usable, rule), idealBar)
			e.near(e.m(name), float64(got), 1e-6, name)
		}
	}
	workedExamples["W29"] = func(e example) {
		c := rated(e, e.x("contents_cf"), 3000, gas.IdealGas)
		low := c.Pressure(units.Volume(e.x("min_gas_cf"))*units.CubicFoot, ideal)
		usable := gas.Usable(c, psi(3000), low, ideal)
		e.near(e.n("usable_cf"), usable.In(units.UnitCuFt), 1e-6, "usable")
		turn := gas.TurnPressure(c, psi(3000), low, gas.Share(usable, gas.Halves), ideal)
		e.near(e.n("turn_cf"), c.Contents(turn, ideal).In(units.UnitCuFt), 1e-6, "left at the turn")
	}
	workedExamples["W30"] = func(e example) {
		c := rated(e, 80, 3000, gas.IdealGas)
		start, low := psi(e.x("start_psi")), psi(e.x("reserve_psi")+e.x("stop_and_ascent_psi"))
		out := gas.Share(gas.Usable(c, start, low, ideal), gas.Halves)
		e.near(e.n("half"), c.Pressure(out, ideal).In(units.UnitPSI), 1e-6, "half")
		e.near(e.n("turn_psi"), gas.TurnPressure(c, start, low, out, ideal).In(units.UnitPSI), 1e-6, "turn")
	}
	workedExamples["W31"] = func(e example) {
		c := rated(e, 80, 3000, gas.IdealGas)
		// The page rounds the controlling diver's start down to a multiple of
		// 300 so that thirds are round; no low-gas pressure is kept.
		controlling := math.Inf(1)
		for i := range e.Inputs["start_psi"] {
			controlling = math.Min(controlling, e.at(e.Inputs, "start_psi", i))
		}
		e.near(e.n("controlling"), controlling, 0, "controlling diver")
		round := units.RoundDown(controlling, 300)
		e.near(e.n("rounded"), round, 0, "rounded")
		out := gas.Share(gas.Usable(c, psi(round), 0, ideal), gas.Thirds)
		e.near(e.n("penetration"), c.Pressure(out, ideal).In(units.UnitPSI), 1e-6, "penetration")
		for i := range e.Inputs["start_psi"] {
			got := gas.TurnPressure(c, psi(e.at(e.Inputs, "start_psi", i)), 0, out, ideal)
			e.near(e.at(e.Recomputed, "turn", i), got.In(units.UnitPSI), 1e-6, "turn")
		}
	}
	workedExamples["W32"] = func(e example) {
		c := rated(e, e.x("contents_cf"), e.x("start_psi"), gas.IdealGas)
		out := gas.Share(gas.Usable(c, psi(e.x("start_psi")), 0, ideal), gas.Thirds)
		e.near(e.n("used_cf"), out.In(units.UnitCuFt), 1e-6, "used")
		turn := gas.TurnPressure(c, psi(e.x("start_psi")), 0, out, ideal)
		e.near(e.n("turn_psi"), turn.In(units.UnitPSI), 1e-6, "turn")
		e.near(e.n("left_cf"), c.Contents(turn, ideal).In(units.UnitCuFt), 1e-6, "left")
	}
	workedExamples["W35"] = func(e example) {
		c := rated(e, e.x("rated_cf"), e.x("rated_psi"), gas.IdealGas)
		e.near(e.n("cf"), c.Contents(psi(e.x("psi")), ideal).In(units.UnitCuFt), 0.05, "contents")
	}
	workedExamples["G01"] = func(e example) {
		// The page takes gauge for absolute pressure and 465 for 459.67.
		page := e.x("P_psi") * (e.x("T2_F") + 465) / (e.x("T1_F") + 465)
		e.near(e.n("psi"), page, 0.5, "the page's steps")
		got := sized(e, 11.1, 207).AtTemperature(psi(e.x("P_psi")), units.Fahrenheit(e.x("T1_F")),
			units.Fahrenheit(e.x("T2_F")), ideal)
		e.near(e.m("gauge_correct_ideal"), got.In(units.UnitPSI), 0.1, "on absolute pressure and temperature")
		// 93 °C, and with it the real gas of this row, is beyond our range.
	}
	workedExamples["G02"] = func(e example) {
		c := sized(e, 12, 232)
		p, from, to := units.Pressure(e.x("P_bar")), units.Celsius(e.x("T1_C")), units.Celsius(e.x("T2_C"))
		e.near(e.m("ideal_bar"), float64(c.AtTemperature(p, from, to, ideal)), 0.05, "ideal")
		e.near(e.m("real_gas_bar"), float64(c.AtTemperature(p, from, to, gas.Physics{})), 0.1, "real gas")
		require.InDelta(e, 0.10, 1-float64(c.AtTemperature(p, from, to, ideal))/e.x("P_bar"), 0.01,
			"about 10 %")
	}
	workedExamples["G05"] = func(e example) {
		limit := units.Pressure(e.x("ppo2")) * units.Atmosphere
		got := gas.MaxDepth(units.Fraction(e.x("fo2")), limit, gas.NavySeaWater)
		e.near(e.m("mod_ft"), got.In(units.UnitFoot), 1e-6, "feet")
		e.near(e.n("mod_ft"), math.Floor(got.In(units.UnitFoot)), 0, "as printed, rounded down")
		e.near(e.m("mod_m"), float64(gas.MaxDepth(units.Fraction(e.x("fo2")), limit, gas.SeaWater)), 1e-6,
			"metres, 10 to the atmosphere")
	}
	workedExamples["G07"] = func(e example) {
		got := gas.EquivalentAirDepth(units.Fraction(e.x("fo2")), ft(e.x("depth_ft")), gas.NavySeaWater)
		e.near(e.m("ead"), got.In(units.UnitFoot), 0.005, "feet")
		e.near(e.n("ead_ft"), math.Trunc(got.In(units.UnitFoot)), 0,
			"as printed, cut; a table takes the next deeper")
	}
	workedExamples["G08"] = func(e example) {
		got := gas.EquivalentAirDepth(units.Fraction(e.x("fo2")), units.Depth(e.x("depth_m")), gas.SeaWater)
		e.near(e.m("ead_m"), float64(got), 0.0005, "metres")
		e.near(e.n("ead_ft"), got.In(units.UnitFoot), 0.5, "feet")
	}
	workedExamples["G10"] = func(e example) {
		w := gas.RoundBar
		p := gas.PartialPressure(units.Fraction(e.x("fo2")), units.Depth(e.x("depth_m")), w)
		e.near(e.n("ppo2"), float64(p), 1e-9, "partial pressure")
		single, _, ok := gas.OxygenLimits(p)
		require.True(e, ok)
		require.Equal(e, 300*time.Minute, single, "the full table has a row for 1.0")
		// The page's short table has 1.2 as the next row.
		single, _, ok = gas.OxygenLimits(units.Pressure(e.n("row")) * units.Atmosphere)
		require.True(e, ok)
		e.near(e.n("limit_min"), single.Minutes(), 0, "the page's row")
	}
	workedExamples["G13"] = func(e example) {
		got := sized(e, units.Volume(e.x("litres")), 232).Water().In(units.UnitCuFt)
		e.near(e.n("ft3"), got, 0.0005, "water volume")
	}
	workedExamples["Z01"] = func(e example) {
		for i := range e.Inputs["psig"] {
			p := psi(e.at(e.Inputs, "psig", i)) + units.Atmosphere
			z := gas.Compressibility(p, units.Fahrenheit(e.x("T_F")))
			e.near(e.at(e.Printed, "Z", i), z, 0.0003, "compressibility")
			e.near(e.at(e.Printed, "true_cf", i), e.x("nominal_cf")/z, 0.03, "true contents")
		}
	}
}
