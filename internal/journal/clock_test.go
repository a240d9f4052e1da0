package journal_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/journal"
)

func TestHowTheTimeOfAnEntryIsFound(t *testing.T) {
	received := time.Date(2026, 6, 6, 12, 0, 0, 0, time.UTC)
	clock, other := uuid.New(), uuid.New()
	hour := time.Hour.Milliseconds()
	for name, c := range map[string]struct {
		sent, at time.Time // by the device's clock
		ticks    *journal.Ticks
		living   map[uuid.UUID]int64
		want     time.Duration // the correction
		doubt    string
	}{
		"no monotonic clock, the clock right": {sent: received, at: received.Add(-time.Hour)},
		"no monotonic clock, the clock slow": {sent: received.Add(-time.Minute), at: received.Add(-time.Hour),
			want: time.Minute},
		"right all the time": {sent: received.Add(-3 * time.Second), at: received.Add(-time.Hour),
			ticks:  &journal.Ticks{Clock: clock, MS: 5},
			living: map[uuid.UUID]int64{clock: hour + 5}},
		"slow all the time": {sent: received.Add(-20 * time.Minute), at: received.Add(-80 * time.Minute),
			ticks:  &journal.Ticks{Clock: clock},
			living: map[uuid.UUID]int64{clock: hour}, want: 20 * time.Minute},
		"set right before sending": {sent: received, at: received.Add(-80 * time.Minute),
			ticks:  &journal.Ticks{Clock: clock},
			living: map[uuid.UUID]int64{clock: hour}, want: 20 * time.Minute, doubt: "ticks_differ"},
		"set wrong before sending": {sent: received.Add(time.Hour), at: received.Add(-time.Hour),
			ticks:  &journal.Ticks{Clock: clock},
			living: map[uuid.UUID]int64{clock: hour}, doubt: "ticks_differ"},
		"another clock": {sent: received, at: received.Add(-time.Hour), ticks: &journal.Ticks{Clock: other},
			living: map[uuid.UUID]int64{clock: hour}, doubt: "ticks_lost"},
		"a clock that ran backwards": {sent: received.Add(-time.Minute), at: received.Add(-time.Hour),
			ticks:  &journal.Ticks{Clock: clock, MS: 7},
			living: map[uuid.UUID]int64{clock: 6}, want: time.Minute, doubt: "ticks_lost"},
		"more ticks than time has": {sent: received, at: received.Add(-time.Hour),
			ticks:  &journal.Ticks{Clock: clock},
			living: map[uuid.UUID]int64{clock: journal.MostTicks}, doubt: "ticks_lost"},
	} {
		t.Run(name, func(t *testing.T) {
			got := journal.TimingOf("phone 7", c.at, c.ticks,
				journal.Sending{At: c.sent, Received: received, Clocks: c.living})
			require.Equal(t, c.want, got.Correction())
			doubt := ""
			if got.Doubt != nil {
				doubt = string(*got.Doubt)
			}
			require.Equal(t, c.doubt, doubt)
			require.Equal(t, c.doubt != "", len(got.Findings(uuid.New(), c.at.Add(got.Correction()))) == 1)
		})
	}
}
