package gas_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// row makes looks of a gauge, one each so many minutes; depth < 0: not known.
func row(every float64, unit units.Unit, depth units.Depth, readings ...float64) (out []gas.GaugeReading) {
	for i, x := range readings {
		l := gas.GaugeReading{After: time.Duration(float64(i) * every * float64(time.Minute)),
			Reading: units.Read(x, unit)}
		if depth >= 0 {
			l.Depth = &depth
		}
		out = append(out, l)
	}
	return out
}

// 25 L/min at the surface from 11.1 L are 2.25 bar or 33 psi a minute (arithmetic).
func TestAGaugeThatDoesNotFallIsDoubted(t *testing.T) {
	t.Parallel()
	eighty, err := gas.Sized(11.1, 0)
	require.NoError(t, err)
	twins, err := gas.Sized(24, 0)
	require.NoError(t, err)
	for _, x := range []struct {
		name  string
		looks []gas.GaugeReading
		b     gas.ExpectedBreathing
		want  []int // the looks that are doubted
	}{
		{"2800 three times in 12 min, then 2850", row(4, "psi", -1, 2800, 2800, 2800, 2850),
			gas.ExpectedBreathing{Cylinder: eighty}, []int{1, 2, 3}},
		{"2900 three times in 12 min, nothing else known", row(6, "psi", -1, 2900, 2900, 2900),
			gas.ExpectedBreathing{}, []int{1, 2}},
		{"at depth at the second look", row(4, "psi", 18, 2800, 2800), gas.ExpectedBreathing{Cylinder: eighty},
			[]int{1}},
		{"too soon to tell", row(3, "psi", -1, 2800, 2800), gas.ExpectedBreathing{Cylinder: eighty}, nil},
		{"as usual", row(4, "bar", 10, 200, 180, 160, 140), gas.ExpectedBreathing{Cylinder: eighty}, nil},
		{"a slow one still falls", row(4, "bar", 10, 200, 199, 198), gas.ExpectedBreathing{Cylinder: eighty},
			nil},
		{"from twins it takes longer", row(4, "bar", -1, 200, 200, 200, 200),
			gas.ExpectedBreathing{Cylinder: twins}, []int{3}},
		{"who breathes little", row(4, "bar", -1, 200, 200, 200),
			gas.ExpectedBreathing{Cylinder: eighty, Rate: 10 * units.LitrePerMinute}, nil},
		{"a rise beyond reading", row(1, "bar", -1, 150, 156), gas.ExpectedBreathing{}, []int{1}},
		{"a rise within reading", row(1, "bar", -1, 150, 155), gas.ExpectedBreathing{}, nil},
		{"stuck after a fall", row(5, "bar", 10, 200, 180, 180, 180), gas.ExpectedBreathing{Cylinder: eighty},
			[]int{2, 3}},
		{"one look", row(1, "bar", 0, 200), gas.ExpectedBreathing{}, nil},
	} {
		var got []int
		for _, d := range gas.Doubts(x.looks, x.b) {
			got = append(got, d.Look)
		}
		require.Equal(t, x.want, got, x.name)
	}
}

func TestADoubtSaysWhatWasTakenForGranted(t *testing.T) {
	t.Parallel()
	eighty, err := gas.Sized(11.1, 0)
	require.NoError(t, err)
	say := func(looks []gas.GaugeReading, b gas.ExpectedBreathing) string {
		all := gas.Doubts(looks, b)
		f := all[len(all)-1].Finding(looks, finding.Named{Name: "Sofia"}, finding.Subject{Type: "participant", ID: "x"})
		require.Equal(t, finding.Caution, f.Severity)
		return f.Message
	}
	require.Equal(t, "The gauge of Sofia shows 2850 psi, and 2800 psi 12 min before; at least 397 psi less was to be expected even at the surface, since the depth is not known. Read it again: it may be stuck.",
		say(row(4, "psi", -1, 2800, 2800, 2800, 2850), gas.ExpectedBreathing{Cylinder: eighty}))
	require.Contains(t, say(row(6, "psi", -1, 2900, 2900, 2900), gas.ExpectedBreathing{}),
		"even at the surface and from 15 L, since neither depth nor cylinder is known")
	require.Contains(t, say(row(6, "bar", 20, 200, 200), gas.ExpectedBreathing{Cylinder: eighty}),
		"bar less was to be expected. Read")
	require.Equal(t, "The gauge of Sofia shows 180 bar, more than the 150 bar of 2 min before. Read it again: one of the two was misread.",
		say(row(2, "bar", 10, 150, 180), gas.ExpectedBreathing{}))
}

// The order in which looks are given plays no part, and more breath doubts no less.
func TestDoubtsDependOnWhatWasReadAlone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var looks []gas.GaugeReading
		for i := range rapid.IntRange(0, 8).Draw(t, "looks") {
			looks = append(looks, gas.GaugeReading{After: time.Duration(i*3) * time.Minute,
				Reading: units.Read(float64(rapid.IntRange(0, 20).Draw(t, "reading")*10), "bar")})
		}
		rate := units.Rate(rapid.IntRange(5, 40).Draw(t, "rate"))
		few, many := gas.Doubts(looks, gas.ExpectedBreathing{Rate: rate}), gas.Doubts(looks,
			gas.ExpectedBreathing{Rate: rate + 10})
		if len(many) < len(few) {
			t.Fatalf("%d doubted at %v, %d at more", len(few), rate, len(many))
		}
		back := make([]gas.GaugeReading, len(looks))
		for i, l := range looks {
			back[len(looks)-1-i] = l
		}
		if len(gas.Doubts(back, gas.ExpectedBreathing{Rate: rate})) != len(few) {
			t.Fatal("the order plays a part")
		}
	})
}
