package waterlog

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/journal"
	"tankside/internal/units"
)

// The digest of a gas check does not change: what a device sends again is the same entry.
// A check that was not simulated has no member that says so.
func TestTheDigestOfAGasCheckIsStable(t *testing.T) {
	t.Parallel()
	id := func(last string) uuid.UUID { return uuid.MustParse("0198f3c0-0000-7000-8000-0000000000" + last) }
	reading, depth, dive := units.Read(187, "bar"), units.Read(9, "m"), id("23")
	c := GasCheck{ID: id("40"), ParticipantID: id("30"), DiveID: &dive, Depth: &depth, Reading: &reading,
		Signalled:   &reading,
		WitnessedAt: time.Date(2027, 6, 5, 7, 40, 0, 0, time.UTC)}
	digest := func() string { return fmt.Sprintf("%x", journal.DigestOf(said{id("20"), c})) }
	require.Equal(t, "9a94a98c5cc91b4623f28729960509bfb7e98c0a843c584072f1837667b3174f", digest())
	c.Simulated = true
	require.NotEqual(t, "9a94a98c5cc91b4623f28729960509bfb7e98c0a843c584072f1837667b3174f", digest())
}
