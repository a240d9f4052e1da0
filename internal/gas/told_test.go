package gas_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// schoolroom is a plan to 18 m of two who breathe 20 L/min, reckoned as on a
// blackboard: 1 bar more every 10 m, pressure times volume.
func schoolroom(t require.TestingT, litres units.Volume, gauge units.Unit) gas.Plan {
	c, err := gas.Sized(litres, 0)
	require.NoError(t, err)
	v := gas.Diver{Name: "Ada", Cylinder: c, Start: units.Read(200, units.UnitBar), Gauge: gauge,
		Rate: 20 * units.LitrePerMinute}
	s := gas.DefaultSettings()
	s.Law, s.Water = gas.IdealGas, gas.RoundBar
	p, err := gas.PlanGroup(gas.Dive{Depth: 18 * units.Metre, Planned: 20 * time.Minute}, []gas.Diver{v, v}, s)
	require.NoError(t, err)
	return p
}

func bars(x float64) units.Reading { return units.Read(x, units.UnitBar) }

// By hand, leg by leg (the method of the US Navy Diving Manual's emergency gas
// supply), two at 1.5 times 20 L/min: 1 min at 18 m 168 L, up to 5 m 186.3 L, 3 min
// there 270 L, up 41.7 L: 666 L, 55.5 bar in 12 L. The floors are our choice.
func TestToldPressuresAreJudged(t *testing.T) {
	t.Parallel()
	open, pool := bars(50), bars(35)
	psi := func(x float64) units.Reading { return units.Read(x, units.UnitPSI) }
	for name, c := range map[string]struct {
		litres units.Volume
		told   gas.ToldPressures
		floor  units.Reading
		want   []string
	}{
		"enough for two": {12, gas.ToldPressures{Low: bars(56)}, open, nil},
		"a bar too little for two": {12, gas.ToldPressures{Low: bars(55)}, open,
			[]string{"gas.told_below_ascent"}},
		"enough for two and below the floor": {24, gas.ToldPressures{Low: bars(49)}, open,
			[]string{"gas.told_below_floor"}},
		"at the floor":               {24, gas.ToldPressures{Low: bars(50)}, open, nil},
		"the pool has its own floor": {24, gas.ToldPressures{Low: bars(35)}, pool, nil},
		"the floor of a psi gauge":   {24, gas.ToldPressures{Low: psi(700)}, psi(700), nil},
		"below both": {12, gas.ToldPressures{Low: psi(300), Turn: psi(400)}, psi(700),
			[]string{"gas.told_below_floor", "gas.told_below_ascent"}},
		"turn and low the same": {12,
			gas.ToldPressures{Start: bars(200), Turn: bars(60), Low: bars(60)}, open, nil},
		"start, turn and low in their order": {12,
			gas.ToldPressures{Start: bars(200), Turn: bars(120), Low: bars(60)}, open, nil},
		"start and turn the same": {12,
			gas.ToldPressures{Start: bars(120), Turn: bars(120), Low: bars(60)}, open,
			[]string{"gas.told_out_of_order"}},
		"low above turn and start": {12,
			gas.ToldPressures{Start: psi(500), Turn: psi(400), Low: psi(900)}, psi(700),
			[]string{"gas.told_out_of_order", "gas.told_out_of_order"}},
		"in two units": {12, gas.ToldPressures{Turn: psi(800), Low: bars(60)}, open,
			[]string{"gas.told_out_of_order"}},
		"a turn alone is judged by its order": {12, gas.ToldPressures{Turn: bars(20)}, open, nil},
		"nothing told is nothing to speak of": {12, gas.ToldPressures{}, open, nil},
		"a start no higher than low, no turn": {12, gas.ToldPressures{Start: bars(60), Low: bars(60)}, open,
			[]string{"gas.told_out_of_order"}},
		"a small cylinder needs more pressure": {7, gas.ToldPressures{Low: bars(80)}, open,
			[]string{"gas.told_below_ascent"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := schoolroom(t, c.litres, units.UnitBar)
			var got []string
			for _, f := range p.JudgeTold(0, c.told, c.floor) {
				require.Equal(t, finding.Forbidden, f.Severity)
				require.NotEmpty(t, f.Cures)
				got = append(got, f.Rule)
			}
			require.Equal(t, c.want, got)
		})
	}
}

// What passes leaves two people the gas that they need, whatever the cylinder and
// the gauge, and stands above the floor in its order.
func TestToldPressuresThatPassAreEnoughForTwo(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := schoolroom(t, units.Volume(rapid.Float64Range(5, 24).Draw(t, "litres")), units.UnitBar)
		of := func(name string) units.Reading {
			u := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI}).Draw(t, name+" unit")
			return units.Read(units.Pressure(rapid.Float64Range(1, 230).Draw(t, name)).In(u), u)
		}
		told := gas.ToldPressures{Start: of("start"), Turn: of("turn"), Low: of("low")}
		if len(p.JudgeTold(0, told, bars(50))) > 0 {
			return
		}
		v := &p.Divers[0]
		left := v.Cylinder.Contents(told.Low.Pressure(), gas.Physics{Law: gas.IdealGas, Water: gas.RoundBar})
		require.GreaterOrEqual(t, float64(left), float64(p.People[0].AscentGas)-1e-3)
		require.GreaterOrEqual(t, told.Low.Compare(bars(50)), 0)
		require.Positive(t, told.Start.Compare(told.Turn))
		require.GreaterOrEqual(t, told.Turn.Compare(told.Low), 0)
	})
}

// Whoever was told a higher pressure than the plan's goes up by it.
func TestAToldPressureShortensTheDive(t *testing.T) {
	t.Parallel()
	p := schoolroom(t, 12, units.UnitBar)
	p.Divers[0].Told = 120 * units.Bar
	told, err := gas.PlanGroup(p.Dive, p.Divers, p.Settings)
	require.NoError(t, err)
	require.Equal(t, bars(120), told.People[0].Low)
	require.Less(t, told.People[0].GasTime, p.People[0].GasTime)
	p.Divers[0].Told = 20 * units.Bar
	lower, err := gas.PlanGroup(p.Dive, p.Divers, p.Settings)
	require.NoError(t, err)
	require.Equal(t, p.People[0].Low, lower.People[0].Low, "a lower one changes nothing")
}

func ExamplePlan_JudgeTold() {
	c, _ := gas.Sized(12, 232)
	v := gas.Diver{Name: "Ada", Cylinder: c, Start: units.Read(200, units.UnitBar)}
	p, _ := gas.PlanGroup(gas.Dive{Depth: 18 * units.Metre, Planned: 20 * time.Minute}, []gas.Diver{v, v},
		gas.DefaultSettings())
	for _, f := range p.JudgeTold(0, gas.ToldPressures{Low: units.Read(60, units.UnitBar)},
		units.Read(50, units.UnitBar)) {
		fmt.Println(f.Message)
	}
	// Output: Ada was told to signal low on gas at 60 bar. Two people need 70 bar in this cylinder to come up from 18 m.
}
