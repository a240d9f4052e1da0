package live_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/live"
)

// A position that would be plain to go on from means nothing in the next epoch:
// its numbers are given once more there, to other events. Who watches meanwhile is
// let go, and begins anew too.
func TestAnotherEpochBeginsAStreamWithASnapshot(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 2)
	require.NoError(t, q.check(0))
	l := q.listen(q.hubs[0], "", q.sessions...)
	position := q.next(l).Position
	require.NoError(t, q.DB.RenewEpoch(t.Context()))
	require.Eventually(t, func() bool {
		_, more, why, err := l.Next(t.Context(), time.Second)
		require.NoError(t, err)
		return !more && why == live.Restored
	}, 10*time.Second, time.Millisecond, "whoever watches is let go")
	for _, h := range q.hubs {
		again := q.listen(h, position, q.sessions...)
		m := q.next(again)
		require.Equal(t, live.Snapshot, m.What)
		require.NotEqual(t, position, m.Position)
		again.Close()
		on := q.listen(h, m.Position, q.sessions...)
		require.NoError(t, q.check(0))
		require.Equal(t, live.Happened, q.next(on).What, "within the epoch it goes on")
		on.Close()
	}
	q.Super(`UPDATE position_epoch SET cluster = 'another'`)
	other := q.listen(q.hubs[0], "", q.sessions...)
	require.Equal(t, live.Snapshot, q.next(other).What)
	other.Close()
}
