package gas_test

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/gas"
	"tankside/internal/units"
)

// sight is a reading so many minutes after the beginning, at so many metres; a
// negative depth is not known.
func sight(minutes, metres, pressure float64, u units.Unit) gas.GaugeReading {
	l := gas.GaugeReading{After: time.Duration(minutes * float64(time.Minute)),
		Reading: units.Read(pressure, u)}
	if metres >= 0 {
		l.Depth = new(units.Depth(metres))
	}
	return l
}

// The first case by hand, by the definition of a surface rate (US Navy Diving
// Manual, 7-4.1: rate times pressure times time): at 10 m, twice the surface
// pressure, 10 bar are gone in every minute, so from 100 bar at 10 min the 50
// bar are reached at 15 min. A diver who goes from 10 m to 20 m, three times
// the surface pressure, loses 15 bar in a minute: 100 - 50 = 50 bar are gone
// in 3 min 20 s.
func TestATrendIsTheStraightLineOfPressureOverTimeAtDepth(t *testing.T) {
	at10 := []gas.GaugeReading{sight(4, 10, 160, units.UnitBar), sight(0, 10, 200, units.UnitBar),
		sight(10, 10, 100, units.UnitBar), sight(7, 10, 130, units.UnitBar)}
	trend, err := gas.PredictTrend(at10, 50*units.Bar, gas.SeaWater)
	require.NoError(t, err)
	require.InDelta(t, 15, trend.LowGas.Minutes(), 1e-6)
	require.InDelta(t, 10, float64(trend.PerMinute), 1e-6)
	require.Equal(t, gas.DepthsKnown, trend.Depths)
	require.Less(t, trend.Earliest, trend.LowGas)
	require.Greater(t, trend.Latest, trend.LowGas)

	deeper := append(at10, sight(10, 20, 100, units.UnitBar)) // the same moment, at the new depth
	trend, err = gas.PredictTrend(deeper, 50*units.Bar, gas.SeaWater)
	require.NoError(t, err)
	require.InDelta(t, 10+50.0/15, trend.LowGas.Minutes(), 1e-6)
	require.InDelta(t, 15, float64(trend.PerMinute), 1e-6)

	// 50 bar are 725 psi; the same dive read in psi foretells the same.
	var inPSI []gas.GaugeReading
	for _, l := range at10 {
		inPSI = append(inPSI, gas.GaugeReading{After: l.After, Depth: l.Depth,
			Reading: units.Read(l.Reading.Pressure().In(units.UnitPSI), units.UnitPSI)})
	}
	trend, err = gas.PredictTrend(inPSI, 50*units.Bar, gas.SeaWater)
	require.NoError(t, err)
	require.InDelta(t, 15, trend.LowGas.Minutes(), 0.001)
}

func TestATrendSaysWhatItDoesNotKnow(t *testing.T) {
	bars := func(l ...gas.GaugeReading) (gas.Trend,
		error) {
		return gas.PredictTrend(l, 50*units.Bar, gas.SeaWater)
	}
	b := units.UnitBar
	for _, c := range []struct {
		name  string
		looks []gas.GaugeReading
		want  string
	}{
		{"nothing", nil, "two readings"},
		{"one reading", []gas.GaugeReading{sight(1, 10, 190, b)}, "two readings"},
		{"two at one moment", []gas.GaugeReading{sight(1, 10, 190, b), sight(1, 10, 180, b)}, "two readings"},
		{"too close together for the error of a gauge",
			[]gas.GaugeReading{sight(0, 10, 190, b), sight(1, 10, 186, b)}, "do not tell yet"},
		{"no fall", []gas.GaugeReading{sight(0, 10, 190, b), sight(5, 10, 190, b)}, "does not fall"},
		{"a rise", []gas.GaugeReading{sight(0, 10, 150, b), sight(5, 10, 190, b)}, "does not fall"},
		{"reached", []gas.GaugeReading{sight(0, 10, 190, b), sight(9, 10, 50, b)}, "has been reached"},
		{"a free flow: the last reading is far below the others",
			[]gas.GaugeReading{sight(0, 10, 200, b), sight(2, 10, 192, b), sight(4, 10, 184, b),
				sight(6, 10, 176, b), sight(8, 10, 90, b)}, "something changed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := bars(c.looks...)
			require.ErrorContains(t, err, c.want)
		})
	}
	for _, bad := range []gas.GaugeReading{sight(2000, 10, 100, b), sight(2, 200, 100, b),
		sight(2, 10, 2000, b)} {
		_, err := bars(sight(0, 10, 200, b), bad)
		var out *gas.OutOfRange
		require.True(t, errors.As(err, &out), "%v", err)
	}
}

// A depth that was not recorded is taken from the look before, or else after;
// with none at all the diver is taken to stay where they are.
func TestDepthsThatAreNotKnown(t *testing.T) {
	b := units.UnitBar
	foretell := func(l ...gas.GaugeReading) gas.Trend {
		trend, err := gas.PredictTrend(l, 50*units.Bar, gas.SeaWater)
		require.NoError(t, err)
		return trend
	}
	known := foretell(sight(0, 10, 200, b), sight(5, 10, 150, b), sight(8, 10, 120, b))
	part := foretell(sight(0, -1, 200, b), sight(5, 10, 150, b), sight(8, -1, 120, b))
	none := foretell(sight(0, -1, 200, b), sight(5, -1, 150, b), sight(8, -1, 120, b))
	require.Equal(t, gas.DepthsInPart, part.Depths)
	require.Equal(t, gas.DepthsUnknown, none.Depths)
	for _, other := range []gas.Trend{part, none} {
		require.InDelta(t, known.LowGas.Seconds(), other.LowGas.Seconds(), 1e-3)
		require.InDelta(t, known.Earliest.Seconds(), other.Earliest.Seconds(), 1e-3)
		require.InDelta(t, float64(known.PerMinute), float64(other.PerMinute), 1e-6)
	}
}

// steady gives looks at these minutes of a dive at one depth that loses so many
// bar in a minute from 220 bar on.
func steady(minutes []float64, perMinute float64) (out []gas.GaugeReading) {
	for _, m := range minutes {
		out = append(out, gas.GaugeReading{After: time.Duration(m * float64(time.Minute)),
			Depth:   new(units.Depth(12)),
			Reading: units.Read(220-perMinute*m, units.UnitBar)})
	}
	return out
}

// drawMinutes draws the times of so many looks, 1 to 3 min apart.
func drawMinutes(t *rapid.T, n int) (out []float64) {
	at := 0.0
	for range n {
		out = append(out, at)
		at += float64(rapid.IntRange(4, 12).Draw(t, "quarters of a minute")) / 4
	}
	return out
}

// Who breathes more is never foretold to be low later.
func TestMoreConsumptionIsNeverLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minutes := drawMinutes(t, rapid.IntRange(3, 8).Draw(t, "looks"))
		most := 160 / minutes[len(minutes)-1] // still above 50 bar at the last look
		// In steps of 0.04 bar a minute every reading has two decimals.
		less := float64(rapid.IntRange(25, 125).Draw(t, "less")) * 0.04
		more := less + float64(rapid.IntRange(0, 125).Draw(t, "more"))*0.04
		if more > most {
			return
		}
		a, err := gas.PredictTrend(steady(minutes, less), 50*units.Bar, gas.SeaWater)
		if err != nil {
			return // too slow a fall to tell
		}
		b, err := gas.PredictTrend(steady(minutes, more), 50*units.Bar, gas.SeaWater)
		require.NoError(t, err, "a faster fall is told the more easily")
		require.LessOrEqual(t, b.LowGas, a.LowGas+time.Millisecond)
		require.LessOrEqual(t, b.Earliest, a.Earliest+time.Millisecond)
	})
}

func TestATrendIsOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var looks []gas.GaugeReading
		for _, m := range drawMinutes(t, rapid.IntRange(2, 10).Draw(t, "looks")) {
			looks = append(looks, sight(m, rapid.Float64Range(-1, 30).Draw(t, "depth"),
				rapid.Float64Range(0, 300).Draw(t, "bar"), units.UnitBar))
		}
		low := units.Pressure(rapid.Float64Range(0, 120).Draw(t, "low"))
		trend, err := gas.PredictTrend(looks, low, gas.SeaWater)
		if err != nil {
			return
		}
		last := looks[len(looks)-1].After
		require.LessOrEqual(t, last, trend.Earliest, "never before the last look")
		require.LessOrEqual(t, trend.Earliest, trend.LowGas)
		require.LessOrEqual(t, trend.LowGas, trend.Latest)
		require.Positive(t, trend.PerMinute)
		require.Equal(t, len(looks), trend.Readings+len(trend.LeftOut))
		require.False(t, math.IsNaN(float64(trend.PerMinute)) || math.IsInf(float64(trend.PerMinute), 0))
	})
}

// One misread check among six or more does not move the likely time by more
// than a least-squares line is moved by a reading that is out by 10 bar, twice
// the usual error of a gauge: what is further out is left out. The last check
// is excepted: one that lies below the others may be a free flow, and then
// there is no trend.
func TestAMisreadCheckDoesLittleHarm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 10).Draw(t, "looks")
		minutes := drawMinutes(t, n)
		perMinute := rapid.Float64Range(2, 150/minutes[n-1]).Draw(t, "bar a minute")
		exact, err := gas.PredictTrend(steady(minutes, perMinute), 50*units.Bar, gas.SeaWater)
		if err != nil {
			return
		}
		i := rapid.IntRange(0, n-2).Draw(t, "misread")
		looks := steady(minutes, perMinute)
		looks[i].Reading = units.Read(rapid.Float64Range(0, 300).Draw(t, "as"), units.UnitBar)
		got, err := gas.PredictTrend(looks, 50*units.Bar, gas.SeaWater)
		if err != nil {
			require.ErrorContains(t, err, "do not tell yet", "a doubtful reading may take the trend away")
			return
		}
		// The line also becomes flatter or steeper, so the time moves by somewhat more
		// than the height: by up to 1.6 of it over these dives, found by trial.
		within := influence(minutes, i, exact.LowGas.Minutes()) * 10
		require.InDelta(t, 50, 220-perMinute*got.LowGas.Minutes(), 1.6*within+0.1,
			"pressure of the true line at the time foretold")
	})
}

// influence is by how much one reading out by 1 bar moves a least-squares line
// at x: 1/n + (x - mean)(x_i - mean)/sxx (any textbook of regression).
func influence(xs []float64, i int, x float64) float64 {
	var mean, sxx float64
	for _, v := range xs {
		mean += v / float64(len(xs))
	}
	for _, v := range xs {
		sxx += (v - mean) * (v - mean)
	}
	return math.Abs(1/float64(len(xs)) + (x-mean)*(xs[i]-mean)/sxx)
}

func ExamplePredictTrend() {
	depth := 10 * units.Metre
	look := func(minutes int, bar float64) gas.GaugeReading {
		return gas.GaugeReading{After: time.Duration(minutes) * time.Minute, Depth: &depth,
			Reading: units.Read(bar, units.UnitBar)}
	}
	trend, err := gas.PredictTrend([]gas.GaugeReading{look(0, 200), look(2, 182), look(4, 160), look(6, 141),
		look(8, 120)}, 55*units.Bar, gas.SeaWater)
	fmt.Println(trend, err)
	_, err = gas.PredictTrend([]gas.GaugeReading{look(0, 200), look(1, 192)}, 55*units.Bar, gas.SeaWater)
	fmt.Println(err)
	// Output:
	// low-gas pressure likely at 14.5 min, earliest 13.6, latest 15.5; 10.1 bar a minute <nil>
	// the readings do not tell yet how fast the pressure falls
}
