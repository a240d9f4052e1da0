package finding_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
)

func TestAMomentIsNamedByTheClockOfItsPlace(t *testing.T) {
	lisbon := time.FixedZone("", 3600)
	at := time.Date(2026, 6, 6, 18, 5, 0, 0, time.UTC)
	f := finding.Rule{ID: "a.b"}.Say("{person} went in at {in_at}, by the plan at {planned_at}, and may fly at {fly_local}.", "Ada",
		finding.Clock(at, lisbon), finding.DayAndClock(at, lisbon), finding.Wall(at))
	require.Equal(t, "Ada went in at 19:05, by the plan at 6 June 2026 19:05, and may fly at 2026-06-06 18:05.",
		f.Message)
	require.Equal(t, map[string]any{"person": "Ada", "in_at": "2026-06-06T18:05:00Z",
		"planned_at": "2026-06-06T18:05:00Z", "fly_local": "2026-06-06T18:05"}, f.Params)
}

func TestHowLongSomethingLastsIsSaidInWords(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0:                                      "0 s",
		-45 * time.Second:                      "45 s",
		119 * time.Second:                      "119 s",
		2 * time.Minute:                        "2 min",
		5*time.Minute + time.Second:            "5 min 1 s",
		9*time.Minute + 59900*time.Millisecond: "10 min",
		59*time.Minute + 29*time.Second:        "59 min",
		59*time.Minute + 30*time.Second:        "1 h",
		3*time.Hour + 20*time.Minute:           "3 h 20 min",
		24*time.Hour - time.Second:             "1 day",
		756*time.Hour + 55*time.Minute:         "31 days 13 h",
	} {
		require.Equal(t, want, finding.Lasting(d), d)
	}
}
