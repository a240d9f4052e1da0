package gas_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// Open water: come back with 50 bar, 500 to 700 psi (training organisations' manuals);
// confined water: our choice.
func TestTheFloorIsARoundFigureOfTheGauge(t *testing.T) {
	t.Parallel()
	set := gas.Floors{Open: units.Read(60, "bar"), Confined: units.Read(600, "psi")}
	for _, x := range []struct {
		floors   gas.Floors
		confined bool
		gauge    units.Unit
		want     string
	}{
		{gas.Floors{}, false, "bar", "50 bar"},
		{gas.Floors{}, false, "psi", "700 psi"},
		{gas.Floors{}, true, "bar", "35 bar"},
		{gas.Floors{}, true, "psi", "500 psi"},
		{set, false, "bar", "60 bar"},
		{set, false, "psi", "900 psi"}, // 870 psi, up to the next hundred
		{set, true, "psi", "600 psi"},
		{set, true, "bar", "45 bar"}, // 41.4 bar, up to the next five
	} {
		require.Equal(t, x.want, x.floors.For(x.confined, x.gauge).String())
	}
	require.Equal(t, "35 bar", gas.Floors{}.In(true).String())
	require.Equal(t, "600 psi", set.In(true).String())
}

func TestAFloorThatIsSetIsNeverReadLower(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI})
		set := units.Read(rapid.Float64Range(1, 2900).Draw(t, "floor"), unit.Draw(t, "unit"))
		f := gas.Floors{Open: set}.For(false, unit.Draw(t, "gauge"))
		if f.Pressure() < set.Pressure()-1e-6 {
			t.Fatalf("%s became %s", set, f)
		}
	})
}

// The least floor is our choice: 20 bar or 300 psi (20.7 bar), a round figure of each
// gauge.
func TestAFloorIsNotBelowTheLeast(t *testing.T) {
	t.Parallel()
	for _, x := range []units.Reading{units.Read(500, "psi"), units.Read(300, "psi"), units.Read(20, "bar"),
		units.Read(200, "bar")} {
		require.NoError(t, gas.CheckFloor("floor", x), x)
	}
	for _, x := range []units.Reading{units.Read(0, "bar"), units.Read(-1, "bar"), units.Read(1, "bar"),
		units.Read(19.99, "bar"),
		units.Read(0, "psi"), units.Read(299, "psi"), units.Read(201, "bar"), units.Read(3000,
			"psi"), units.Read(5, "m")} {
		var out *gas.OutOfRange
		require.ErrorAs(t, gas.CheckFloor("floor", x), &out, x)
	}
	set := gas.Floors{Open: units.Read(1, "bar"), Confined: units.Read(10,
		"psi")} // as a release before this one took it
	require.Equal(t, "20 bar", set.For(false, "bar").String())
	require.Equal(t, "300 psi", set.For(false, "psi").String())
	require.Equal(t, "300 psi", set.For(true, "psi").String())
	require.Equal(t, "25 bar", set.For(true, "bar").String(), "20.7 bar, up to the next five")
	require.Equal(t, "20 bar", gas.Floors{Open: units.Read(0, "bar")}.For(false, "bar").String())
}
