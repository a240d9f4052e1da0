package when_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/fault"
	"tankside/internal/when"
)

// The clock changes are those of the IANA time zone database: in 2026 summer
// time in Lisbon begins on 29 March, 01:00 to 02:00, and ends on 25 October,
// 02:00 back to 01:00.
func TestParseMeetsTheClockChange(t *testing.T) {
	lisbon, err := when.Zone("Europe/Lisbon", "/time_zone")
	require.NoError(t, err)
	summer, winter, wrong := "+01:00", "+00:00", "+05:00"
	for _, c := range []struct {
		name, local string
		offset      *string
		want        string
	}{
		{"an ordinary morning", "2026-06-06T09:00", nil, "2026-06-06T08:00:00Z"},
		{"an ordinary morning, its offset said", "2026-06-06T09:00", &summer, "2026-06-06T08:00:00Z"},
		{"the skipped hour", "2026-03-29T01:30", nil, ""},
		{"the doubled hour, which not said", "2026-10-25T01:30", nil, ""},
		{"the doubled hour, the first", "2026-10-25T01:30", &summer, "2026-10-25T00:30:00Z"},
		{"the doubled hour, the second", "2026-10-25T01:30", &winter, "2026-10-25T01:30:00Z"},
		{"an offset that the zone does not have", "2026-06-06T09:00", &wrong, ""},
		{"a day that is not", "2026-02-30T09:00", nil, ""},
		{"no time at all", "tomorrow", nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := when.Parse(c.local, lisbon, c.offset, "/starts_local")
			if c.want == "" {
				require.ErrorIs(t, err, fault.Malformed.Err())
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got.At.Format(time.RFC3339))
			require.Equal(t, c.local, got.Local.Format(when.Layout))
		})
	}
}

func TestEveryInstantIsFoundAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom([]string{"Europe/Lisbon", "Australia/Brisbane", "Australia/Lord_Howe",
			"America/Cancun", "Asia/Bangkok", "Africa/Cairo"}).Draw(t, "zone")
		loc, err := when.Zone(zone, "")
		require.NoError(t, err)
		at := time.Unix(rapid.Int64Range(1_700_000_000, 2_000_000_000).Draw(t, "at")/60*60, 0).In(loc)
		offset := at.Format("-07:00")
		got, err := when.Parse(at.Format(when.Layout), loc, &offset, "")
		require.NoError(t, err)
		require.True(t, got.At.Equal(at), "%s is not %s", got.At, at)
	})
}

func TestZoneRefusesWhatIsNone(t *testing.T) {
	for _, name := range []string{"", "Local", "Middle/Sea", "../etc/passwd"} {
		_, err := when.Zone(name, "/time_zone")
		require.ErrorIs(t, err, fault.Malformed.Err(), name)
	}
}

func TestAgeIsInCompletedYears(t *testing.T) {
	day := func(s string) time.Time { d, _ := time.Parse(time.DateOnly, s); return d }
	require.Equal(t, 9, when.Age(day("2016-06-07"), day("2026-06-06")))
	require.Equal(t, 10, when.Age(day("2016-06-06"), day("2026-06-06")))
	require.Equal(t, 17, when.Age(day("2008-02-29"), day("2026-02-28")))
	require.Equal(t, 18, when.Age(day("2008-02-29"), day("2026-03-01")))
}
