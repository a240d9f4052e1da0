package nostop_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/nostop"
	"tankside/internal/units"
)

func scan(t *rapid.T, s, format string, into ...any) {
	n, err := fmt.Sscanf(s, format, into...)
	require.NoError(t, err, s)
	require.Equal(t, len(into), n)
}

// Whatever is put in, nothing panics and nothing is negative; what cannot be a
// dive is refused.
func FuzzJudge(f *testing.F) {
	f.Add(int64(1800), "m", int64(0), int64(2400), int64(3000), int64(6000), 1, int64(0), "", int64(8000))
	f.Add(int64(-1), "ft", int64(10), int64(-5), int64(3), int64(2), -4, int64(-9), "m", int64(-3))
	f.Add(int64(1)<<62, "bar", int64(1)<<62, int64(-1)<<62, int64(0), int64(0), 1<<40, int64(1)<<60, "psi",
		int64(1)<<61)
	f.Fuzz(func(t *testing.T, depth int64, unit string, in, out, in2, out2 int64, ascents int, height int64,
		heightUnit string, cabin int64) {
		one := nostop.Dive{Key: "a", Depth: units.Reading{Value: units.Decimal(depth), Unit: units.Unit(unit)},
			In: time.Unix(in, in), Out: time.Unix(out, 0), Ascents: ascents,
			Altitude: units.Reading{Value: units.Decimal(height), Unit: units.Unit(heightUnit)}}
		two := one
		two.Key, two.In, two.Out, two.Altitude, two.Done = "b", time.Unix(in2, 0), time.Unix(out2,
			out), units.Reading{}, true
		p := nostop.Judge([]nostop.Dive{one, two, {}},
			nostop.Settings{Margin: nostop.Minutes(in), DivesADay: ascents, ByTheFoot: in%2 == 0})
		require.Len(t, p.Results, 3)
		for _, r := range p.Results {
			requireSound(t, r)
			for _, x := range r.Findings {
				require.NotEmpty(t, x.Message)
				require.NotEmpty(t, x.Source)
			}
		}
		require.NotEmpty(t, p.Findings().Of(nostop.RuleNotADive), "the zero dive is none")
		w := p.BeforeFlying(units.Reading{Value: units.Decimal(cabin), Unit: units.Unit(unit)})
		require.True(t, w.Table >= 0 && w.Workshop >= 0)
		w.At(time.Unix(out2, 0))
		w.Worked()
	})
}
