package gas

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/published"
)

// Two-sided 95 % points of Student's t distribution, as any table has them.
func TestStudentsPointsAreThoseOfTheTables(t *testing.T) {
	for free, want := range published.Student95(t) {
		got := student95(free)
		require.InDelta(t, want, got, 0.0005+1e-9, "%d degrees of freedom: beyond 10 an expansion", free)
		if free <= 10 {
			require.InDelta(t, want, got, 1e-9, "%d degrees of freedom", free)
		}
	}
}

func TestTheMedianIsTheMiddle(t *testing.T) {
	require.InDelta(t, 5, median([]float64{5}), 0)
	require.InDelta(t, 2, median([]float64{3, 1, 2}), 0)
	require.InDelta(t, 2.5, median([]float64{4, 1, 3, 2}), 0)
}

// What binary fractions take from a whole minute is given back, and no more.
func TestAWholeMinuteStaysOne(t *testing.T) {
	five := 5 * time.Minute
	require.Equal(t, five, wholeMinutes(five))
	require.Equal(t, five, wholeMinutes(five-50*time.Nanosecond))
	require.Equal(t, five-time.Minute, wholeMinutes(five-200*time.Nanosecond))
	require.Equal(t, five, wholeMinutes(five+59*time.Second))
}
