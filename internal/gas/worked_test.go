package gas_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/gas"
	"tankside/internal/units"
)

var (
	product = regexp.MustCompile(`([\d.]+) × ([\d.]+) (?:L|cu ft)/min × ([\d.]+) = ([\d.]+) (?:L|cu ft)\.$`)
	total   = regexp.MustCompile(`together: ([\d.]+) `)
)

// Whoever checks the board with a pocket calculator gets what it says, within
// the decimals written; and it ends in the figures of the plan.
func TestTheBoardAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, divers, s := anyGroup(t)
		d.Depth += 6
		p := planned(t, d, divers, s)
		system := rapid.SampledFrom([]units.Unit{units.UnitBar, units.UnitPSI}).Draw(t, "system")
		steps := p.Worked(0, system)
		sum, legs := 0.0, 0
		var all strings.Builder
		for _, step := range steps {
			require.NotEmpty(t, step.Source)
			require.NotContains(t, step.Text, "NaN")
			all.WriteString(step.Text + "\n")
			if m := product.FindStringSubmatch(step.Text); m != nil {
				x := func(i int) float64 { return float(t, m[i]) }
				rate, volume := 0.05, 0.5 // half of the last decimal written
				if system == units.UnitPSI {
					rate, volume = 0.005, 0.005
				}
				require.InDelta(t, x(1)*x(2)*x(3), x(4), 1.1*(volume+x(4)*(0.005/x(1)+rate/x(2)+0.005/x(3))),
					step.Text)
				sum, legs = sum+x(4), legs+1
			}
			if m := total.FindStringSubmatch(step.Text); m != nil {
				require.InDelta(t, sum, float(t, m[1]), 2.01, step.Text)
			}
		}
		require.Equal(t, 4, legs)
		w := p.People[0]
		require.Contains(t, all.String(), "rounded up: "+gas.CallPressure(w.LowExact, system).String())
		require.Contains(t, all.String(), gas.CallPressure(w.TurnExact, system).String())
		require.Contains(t, all.String(), "rounded down: "+gas.ReportedPressure(w.EndExact, system).String())
		require.Equal(t, gas.Caution, steps[len(steps)-1].Text)
	})
}

func float(t require.TestingT, s string) float64 {
	r, err := units.ParseReading(s + " m")
	require.NoError(t, err)
	return r.Value.Float()
}

func TestThereIsNoBoardForNobody(t *testing.T) {
	d, divers := fourPeople(t)
	p := planned(t, d, divers, gas.DefaultSettings())
	require.Nil(t, p.Worked(-1, units.UnitBar))
	require.Nil(t, p.Worked(4, units.UnitBar))
}
