package zone_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/zone"
)

func TestOnlyNamedZones(t *testing.T) {
	for _, name := range []string{"Europe/Lisbon", "Pacific/Chatham", "UTC"} {
		require.NoError(t, zone.Check(name, "/time_zone"), name)
	}
	for _, name := range []string{"", "Local", "Lisbon", "../etc/passwd", "+01:00"} {
		err := zone.Check(name, "/time_zone")
		require.ErrorIs(t, err, fault.Malformed.Err(), name)
	}
}
