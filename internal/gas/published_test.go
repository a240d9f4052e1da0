package gas_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/gas"
	"tankside/internal/published"
	"tankside/internal/units"
)

// example is one printed worked example.
type example struct {
	*testing.T
	published.Example
}

// x returns an input; n a printed figure, m the one that was recomputed.
func (e example) x(name string) float64 { return e.at(e.Inputs, name, 0) }
func (e example) n(name string) float64 { return e.at(e.Printed, name, 0) }
func (e example) m(name string) float64 { return e.at(e.Recomputed, name, 0) }

func (e example) at(from published.Figures, name string, i int) float64 {
	e.Helper()
	require.Greater(e, len(from[name]), i, name)
	return from[name][i]
}

// near holds a result against a printed one, to the printed precision.
func (e example) near(want, got, tolerance float64, what string) {
	e.Helper()
	require.InDelta(e, want, got, tolerance, what)
}

// The waters of the pages, with the atmosphere that each takes.
var (
	manual147 = gas.Water{Surface: 14.7 * units.PSI, Deep: 33 * units.Foot} // the Navy manual's 14.7 psi
	ideal     = gas.Physics{Law: gas.IdealGas, Water: gas.NavySeaWater}
	idealBar  = gas.Physics{Law: gas.IdealGas, Water: gas.RoundBar}
)

func ft(x float64) units.Depth     { return units.Depth(x) * units.Foot }
func psi(x float64) units.Pressure { return units.Pressure(x) * units.PSI }
func cfm(x float64) units.Rate     { return units.Rate(x) * units.CubicFootPerMinute }
func mins(x float64) time.Duration { return time.Duration(x * float64(time.Minute)) }

func psiReading(x float64) units.Reading { return units.Read(x, units.UnitPSI) }
func barReading(x float64) units.Reading { return units.Read(x, units.UnitBar) }

// twoChecks measures a rate between two looks at the gauge at one depth.
func (e example) twoChecks(c gas.Cylinder, start, end units.Reading, d units.Depth, t time.Duration,
	ph gas.Physics) units.Rate {
	got, err := gas.Consumption(c, []gas.Check{{0, d, start}, {t, d, end}}, ph)
	require.NoError(e, err)
	return got.Rate
}

// used is twoChecks for a fall of pressure without its start.
func (e example) used(fall float64, c gas.Cylinder, d units.Depth) units.Rate {
	return e.twoChecks(c, psiReading(3000), psiReading(3000-fall), d, mins(e.x("min")), ideal)
}

// Every row of the table is checked by the function of its name; a row without
// one, or one without its row, fails.
func TestPublishedWorkedExamples(t *testing.T) {
	all := published.Examples(t)
	require.Len(t, all, len(workedExamples))
	for _, row := range all {
		t.Run(row.ID+" "+row.Kind, func(t *testing.T) {
			check := workedExamples[row.ID]
			require.NotNil(t, check, "no check for this row")
			check(example{t, row})
		})
	}
}

// workedExamples checks each row; where the page rounds on its way, its own steps
// are repeated to show that the difference is its rounding.
var workedExamples = map[string]func(example){
	"W01": func(e example) {
		c := sized(e, units.Volume(e.x("floodable_ft3"))*units.CubicFoot, psi(3000)).Twin()
		ph := gas.Physics{Law: gas.IdealGas, Water: manual147}
		v := gas.Usable(c, psi(e.x("start_psig")), psi(e.x("min_psig")), ph)
		e.near(e.m("Va_scf"), v.In(units.UnitCuFt), 0.005, "capacity")
		rate := gas.Need(cfm(e.x("rmv_acfm")), ft(e.x("depth_fsw")), time.Minute, manual147)
		e.near(e.m("C_scfm"), rate.In(units.UnitCuFt), 0.005, "consumption")
		got := gas.GasTime(v, cfm(e.x("rmv_acfm")), ft(e.x("depth_fsw")), manual147)
		e.near(e.m("duration_min"), got.Minutes(), 0.01, "duration")
	},
	"W02": func(e example) {
		// The manual rounds the ascent of 6:20 up to 7 min: so fast go we.
		a := gas.Ascent{SortOut: mins(e.x("min_at_depth")),
			Speed: units.Speed(ft(e.x("depth_fsw"))) / units.Speed(e.x("ascent_min"))}
		rmv := cfm(e.x("rmv_acfm"))
		legs := a.Legs(ft(e.x("depth_fsw")))
		e.near(e.n("bottom_scf"), legs[0].Gas(rmv, manual147).In(units.UnitCuFt), 0.005, "at depth")
		e.near(e.n("ascent_scf"), legs[3].Gas(rmv, manual147).In(units.UnitCuFt), 0.005, "ascent")
		v := a.MinimumGas(ft(e.x("depth_fsw")), rmv, manual147)
		e.near(e.n("total_scf"), v.In(units.UnitCuFt), 0.01, "both")
		c := sized(e, units.Volume(e.x("floodable_ft3"))*units.CubicFoot, psi(3000))
		p := gas.LowGas(c, v, psi(e.x("min_psig")), 0, gas.Physics{Law: gas.IdealGas, Water: manual147})
		e.near(e.n("psig"), p.In(units.UnitPSI), 0.2, "pressure")
		e.near(e.n("rounded_psig"), gas.CallPressure(p, units.UnitPSI).Value.Float(), 0, "rounded up")
	},
	"W03": func(e example) {
		least := math.Ceil(e.x("psi_per_fsw")*e.x("depth_fsw") + e.x("overbottom_psi"))
		e.near(e.n("rounded"), least, 0, "the page's least pressure")
		ph := gas.Physics{Law: gas.IdealGas, Water: manual147}
		c := sized(e, units.Volume(e.x("floodable_ft3"))*units.CubicFoot, psi(3000))
		v := gas.Usable(c, psi(e.x("start_psig")), psi(least), ph)
		// This page adds one atmosphere to what is available, so one filling
		// of the cylinder at surface pressure: our capacity plus its volume.
		e.near(e.n("scf"), (v + c.Water()).In(units.UnitCuFt), 0.05, "the page's capacity")
		got := gas.GasTime(v+c.Water(), cfm(e.x("rmv_acfm")), ft(e.x("depth_fsw")), manual147)
		e.near(e.n("min"), got.Minutes(), 0.01, "duration")
	},
	"W05": func(e example) {
		v := gas.Need(cfm(e.x("rmv_acfm")), ft(e.x("depth_fsw")), time.Minute, gas.NavySeaWater)
		e.near(e.n("surface_equiv_cfm"), v.In(units.UnitCuFt), 1e-9, "a minute at depth")
	},
	"W06": func(e example) {
		c := rated(e, 80, 3000, gas.IdealGas)
		perPSI := float64(c.Contents(psi(1), ideal))
		e.near(e.n("surface_psi_min"), float64(e.used(e.x("psi_used"), c, ft(e.x("depth_ft"))))/perPSI, 1e-6,
			"psi a minute")
	},
	"W09": func(e example) {
		c := rated(e, e.x("rated_cf"), e.x("rated_psi"), gas.IdealGas)
		e.near(e.n("cf"), c.Contents(psi(e.x("psi_used")), ideal).In(units.UnitCuFt), 0.05, "used")
		e.near(e.n("sac_cf_min"), e.used(e.x("psi_used"), c, ft(e.x("depth_ft"))).In(units.UnitCuFtMin), 0.005,
			"rate")
	},
	"W10": func(e example) {
		c := sized(e, units.Volume(e.x("cyl_l")), 200)
		got := e.twoChecks(c, barReading(e.x("start_bar")), barReading(e.x("end_bar")),
			units.Depth(e.x("avg_depth_m")), mins(e.x("min")), idealBar)
		e.near(e.m("rmv"), float64(got), 0.005, "rate")
		e.near(e.n("rmv_l_min"), math.Ceil(float64(got)), 0, "as printed, rounded up")
	},
	"W11": func(e example) {
		for i, litres := range e.Inputs["cyl_l"] {
			got := sized(e, units.Volume(litres), 232).Contents(units.Pressure(e.at(e.Inputs, "bar", i)),
				idealBar)
			e.near(e.at(e.Printed, "litres", i), float64(got), 1e-6, "contents")
		}
	},
	"W13": func(e example) {
		d := units.Depth(e.x("depth_m"))
		e.near(e.n("ambient_bar"), float64(gas.RoundBar.Ambient(d)), 1e-9, "ambient pressure")
		e.near(e.m("litres"), float64(gas.Need(units.Rate(e.x("rmv_l_min")), d, mins(e.x("min")),
			gas.RoundBar)), 1e-6, "needed")
	},
	"W15": func(e example) {
		c := sized(e, units.Volume(e.x("cyl_l")), 200)
		got := e.twoChecks(c, barReading(e.x("start_bar")), barReading(e.x("end_bar")),
			units.Depth(e.x("depth_m")), mins(e.x("min")), idealBar)
		e.near(e.n("rmv_l_min"), float64(got), 1e-6, "rate")
		e.near(e.n("sac_bar_min"), float64(got)/e.x("cyl_l"), 0.005, "bar a minute")
	},
	"W16a": func(e example) {
		c := sized(e, units.Volume(e.x("cyl_l")), 207)
		v := gas.Usable(c, units.Pressure(e.x("start_bar")), units.Pressure(e.x("reserve_bar")), idealBar)
		e.near(e.n("usable_l"), float64(v), 1e-6, "usable")
		e.near(e.n("min"), gas.GasTime(v, units.Rate(e.x("sac_l_min")), units.Depth(e.x("depth_m")),
			gas.RoundBar).Minutes(), 0.005, "minutes")
	},
	"W16b": func(e example) {
		c := rated(e, e.x("rated_cf"), e.x("rated_psi"), gas.IdealGas)
		v := gas.Usable(c, psi(e.x("rated_psi")), psi(e.x("reserve_psi")), ideal)
		e.near(e.n("usable_cf"), v.In(units.UnitCuFt), 1e-6, "usable")
		got := gas.GasTime(v, cfm(e.x("sac_cf_min")), ft(e.x("depth_ft")), gas.NavySeaWater).Minutes()
		// The printed 27.37 does not follow from the page's own 60 ÷ 2.21.
		e.near(e.n("min"), got, 0.5, "minutes")
		e.near(60/(e.x("sac_cf_min")*e.x("bar_abs")), e.m("min"), 0.005, "with the page's round 2.5 bar")
	},
	"W17": func(e example) {
		v := sized(e, units.Volume(e.x("cyl_l")), 200).Contents(units.Pressure(e.x("bar")), idealBar)
		e.near(e.n("litres"), float64(v), 1e-6, "contents")
		e.near(e.n("surface_min"), gas.GasTime(v, units.Rate(e.x("rmv_l_min")), 0, gas.RoundBar).Minutes(),
			1e-6, "at the surface")
	},
	"W19": func(e example) {
		working := cfm(e.x("sac_cf_min") * e.x("dive_factor"))
		got := gas.Need(working, ft(e.x("depth_ft")), time.Minute, gas.NavySeaWater).In(units.UnitCuFt)
		e.near(e.m("cf_min"), got, 0.001, "a minute at depth")
		e.near(e.n("cf_min"), e.x("sac_cf_min")*e.x("dive_factor")*e.n("ata"), 1e-9,
			"the page rounds 5.515 to 5.5")
	},
	"W20": func(e example) {
		c := rated(e, e.x("rated_cf"), e.x("rated_psi"), gas.IdealGas)
		e.near(e.m("cf_min"), e.used(e.x("psi_used"), c, ft(e.x("depth_ft"))).In(units.UnitCuFtMin), 0.0001,
			"rate")
	},
	"W21": func(e example) {
		c := rated(e, e.x("tank_factor")*3000, 3000, gas.IdealGas)
		got := e.used(e.x("start")-e.x("end"), c, ft(e.x("depth_ft"))).In(units.UnitCuFtMin)
		e.near(e.m("rmv"), got, 0.0005, "rate")
		e.near(e.n("sac_psi_min"), got/e.x("tank_factor"), 0.06, "psi a minute, printed cut to 15.4")
		use := gas.Need(cfm(30*e.x("tank_factor")), ft(66), 20*time.Minute, gas.NavySeaWater).In(units.UnitCuFt)
		e.near(e.n("use_psi_30psi_20min_66ft"), use/e.x("tank_factor"), 1e-6, "psi used in 20 min at 66 ft")
	},
	"W23": func(e example) {
		rate := cfm(e.x("divers") * e.x("sac_cf_min"))
		page := gas.Ascent{Speed: units.Speed(ft(e.x("depth_ft"))) / units.Speed(e.x("min"))}
		round := gas.Water{Surface: units.Atmosphere, Deep: ft(e.x("depth_ft")) / 3} // 100 ft as 4 atmospheres
		e.near(e.m("cf"), page.MinimumGas(ft(e.x("depth_ft")), rate, round).In(units.UnitCuFt), 1e-6,
			"the page's mean over 11 min")
		exact := gas.Ascent{SortOut: time.Minute, Speed: 10 * units.FootPerMinute}.MinimumGas(ft(100), rate,
			gas.NavySeaWater)
		e.near(43.77, exact.In(units.UnitCuFt), 0.01,
			"with the minute at depth counted at depth: more, the safe side")
	},
	"W25": func(e example) {
		w := gas.Water{Surface: units.Atmosphere, Deep: ft(e.x("ft_per_atm"))}
		a := gas.Ascent{SortOut: mins(e.x("min_at_depth")),
			Speed: units.Speed(e.x("ascent_ft_min")) * units.FootPerMinute,
			Stop:  ft(e.x("stop_ft")), StopFor: mins(e.x("stop_min"))}
		legs, rate := a.Legs(ft(e.x("depth_ft"))), cfm(e.x("sac_cf_min"))
		cf := func(i int) float64 { return legs[i].Gas(rate, w).In(units.UnitCuFt) }
		e.near(e.m("bottom"), cf(0), 0.005, "at depth")
		e.near(e.m("ascent"), cf(1), 0.005, "ascent")
		e.near(e.m("stop"), cf(2), 0.005, "stop")
		// The page leaves out the way from the stop to the surface.
		two := units.Volume(2*(cf(0)+cf(1)+cf(2))) * units.CubicFoot
		e.near(e.n("two_divers_cf"), two.In(units.UnitCuFt), 0.1, "two divers")
		c := rated(e, e.x("rated_cf"), e.x("rated_psi"), gas.IdealGas)
		e.near(e.m("psi"), c.Pressure(two, ideal).In(units.UnitPSI), 1,
			"pressure; reckoned there from 44.06, here from 44.07")
		whole := a.MinimumGas(ft(e.x("depth_ft")), 2*rate, w)
		require.Greater(e, whole, two, "we count the last leg too, and never round need down")
	},
}
