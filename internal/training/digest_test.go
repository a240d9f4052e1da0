package training

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/journal"
	"tankside/internal/units"
)

// What a device sent before checks could be simulated is the same entry when it is
// sent again: the digest was taken by the release before.
func TestTheDigestOfAGasCheckIsThatOfBefore(t *testing.T) {
	t.Parallel()
	id := func(last string) uuid.UUID { return uuid.MustParse("0198f3c0-0000-7000-8000-0000000000" + last) }
	reading, depth, dive := units.Read(187, "bar"), units.Read(9, "m"), id("23")
	c := GasCheck{ID: id("40"), ParticipantID: id("30"), DiveID: &dive, Depth: &depth, Reading: &reading,
		Signalled:   &reading,
		WitnessedAt: time.Date(2027, 6, 5, 7, 40, 0, 0, time.UTC)}
	digest := func() string { return fmt.Sprintf("%x", journal.DigestOf(said{id("20"), c})) }
	require.Equal(t, "e776fc3a5ad7ae794380210b35cd71ed3098c13479d0a9f1d428bee154a781c3", digest())
	c.Simulated = true
	require.NotEqual(t, "e776fc3a5ad7ae794380210b35cd71ed3098c13479d0a9f1d428bee154a781c3", digest())
}
