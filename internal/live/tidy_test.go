package live_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/fault"
	"tankside/internal/live"
	"tankside/internal/pg"
)

// happened lets so many things have happened in session n, so long ago.
func (q *quay) happened(n, many int, ago time.Duration) {
	q.t.Helper()
	q.Exec(`SELECT live_tell(@centre, @session, 'gas_check', @session, NULL, app_now() - @ago::interval) FROM generate_series(1, @n)`,
		map[string]any{"session": q.sessions[n], "n": many, "ago": ago})
}

// kept gives the numbers that are left of session n: the first, the last, and
// how many.
func (q *quay) kept(n int) (out []int64) {
	q.t.Helper()
	require.NoError(q.t, q.DB.InTx(q.Context(), q.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Row[[]int64](ctx, tx,
			`SELECT ARRAY[coalesce(min(seq), 0), coalesce(max(seq), 0), count(*)] FROM live_event WHERE session_id = @id`,
			map[string]any{"id": q.sessions[n]})
		return err
	}))
	return out
}

// What nobody can be told any more is deleted, on two instances at once, a
// session that nothing happens in any more included; the last day stays, and
// numbers go on.
func TestWhatIsADayOldIsDeleted(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 3, 2)
	q.happened(0, 1201, 25*time.Hour)
	q.happened(0, 3, 23*time.Hour)
	q.happened(1, 2, 1000*time.Hour)
	q.happened(2, 2, time.Hour)
	failed := make(chan error, len(q.hubs))
	for _, h := range q.hubs {
		go func() { failed <- h.TidyNow(t.Context(), q.Centre) }()
	}
	for range q.hubs {
		require.NoError(t, <-failed)
	}
	require.Equal(t, []int64{1202, 1204, 3}, q.kept(0))
	require.Equal(t, []int64{0, 0, 0}, q.kept(1))
	require.Equal(t, []int64{1, 2, 2}, q.kept(2))
	require.NoError(t, q.check(1))
	require.Equal(t, []int64{3, 3, 1}, q.kept(1))
}

// An instance does so by itself for the centres that it serves, and for no other.
func TestAnInstanceTidiesWhatItServes(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	q.happened(0, 7, 25*time.Hour)
	q.hubs[0].TidyOften(10 * time.Millisecond)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { q.hubs[0].Tidy(ctx); close(done) }()
	time.Sleep(100 * time.Millisecond)
	require.EqualValues(t, 7, q.kept(0)[2])
	q.hubs[0].Heard(q.Centre)
	require.Eventually(t, func() bool { return q.kept(0)[2] == 0 }, 10*time.Second, 20*time.Millisecond)
	stop()
	<-done
}

// Whoever writes waits for no deletion.
func TestNobodyWaitsForWhatIsDeleted(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	q.happened(0, 100, 25*time.Hour)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	defer l.Close()
	q.next(l)
	require.NoError(t, q.DB.InTx(t.Context(), q.Centre, func(ctx context.Context, tx *pg.Tx) error {
		n, err := tx.Do(ctx, live.TidySQL, map[string]any{"before": tx.Now.Add(-time.Hour), "most": 500})
		require.NoError(t, err)
		require.EqualValues(t, 100, n)
		began := time.Now()
		require.NoError(t, q.check(0))
		require.Equal(t, live.Happened, q.next(l).What)
		require.Less(t, time.Since(began), 5*time.Second, "a lock would be waited for for 10 s")
		return nil
	}))
}

// A stream goes on where all that it missed is there; otherwise it begins anew.
func TestWhoMissedWhatWasDeletedBeginsAnew(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 2, 1)
	q.happened(0, 2, 25*time.Hour)
	early := q.listen(q.hubs[0], "", q.sessions...)
	before := q.next(early).Position
	early.Close()
	q.happened(0, 2, 25*time.Hour)
	late := q.listen(q.hubs[0], before, q.sessions...)
	require.Equal(t, live.Happened, q.next(late).What, "still there")
	after := q.next(late).Position
	late.Close()
	require.NoError(t, q.hubs[0].TidyNow(t.Context(), q.Centre))
	l := q.listen(q.hubs[0], before, q.sessions...)
	require.Equal(t, live.Snapshot, q.next(l).What)
	l.Close()
	require.NoError(t, q.check(0))
	l = q.listen(q.hubs[0], after, q.sessions...)
	defer l.Close()
	require.Equal(t, live.Happened, q.next(l).What, "missed nothing that was deleted")
}

// An instance that stood still for longer than events are kept lets go whom it
// can no longer tell everything, rather than tell nothing for ever.
func TestAnInstanceThatFellBehindLetsGo(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 2, 1)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	other := q.listen(q.hubs[0], "", q.sessions[1])
	defer other.Close()
	q.next(l)
	q.next(other)
	q.Super(`REVOKE SELECT ON live_event FROM tankside_app`)
	require.Equal(t, live.Stalled, q.next(l).What)
	for range 2 {
		require.NoError(t, q.check(0))
		require.NoError(t, q.check(1))
	}
	q.Super(`DELETE FROM live_event WHERE seq = 1 AND session_id = '` + q.sessions[0].String() +
		`'; GRANT SELECT ON live_event TO tankside_app`)
	require.Equal(t, live.TooSlow, q.letGo(l))
	require.Equal(t, live.Stalled, q.next(other).What)
	require.Equal(t, live.Happened, q.next(other).What)
}

func TestATokenOpensSoManyStreamsAndNoMore(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 2)
	hub := q.hubs[0]
	hub.Streams = 2
	first, _ := q.listen(hub, "", q.sessions[0]), q.listen(hub, "", q.sessions[0])
	_, err := hub.Listen(t.Context(), q.by, live.Subscription{Sessions: q.sessions, Scope: access.TrainingRead})
	require.ErrorIs(t, err, fault.TooMany.Err())
	require.ErrorContains(t, err, "has 2 streams open here, and may have 2. Close one")
	other, err := hub.Listen(t.Context(), q.As(q.Crew("Ines Instructor", "instructor")),
		live.Subscription{Sessions: q.sessions, Scope: access.TrainingRead})
	require.NoError(t, err, "another token has its own")
	other.Close()
	q.listen(q.hubs[1], "", q.sessions[0]).Close() // each instance counts for itself
	first.Close()
	first.Close() // again does no harm
	gone, leave := context.WithCancel(t.Context())
	leave()
	_, err = hub.Listen(gone, q.by, live.Subscription{Sessions: q.sessions, Scope: access.TrainingRead})
	require.Error(t, err)
	again := q.listen(hub, "", q.sessions[0])
	defer again.Close() // who was not let in took no place
	_, err = hub.Listen(t.Context(), q.by, live.Subscription{Sessions: q.sessions, Scope: access.TrainingRead})
	require.ErrorIs(t, err, fault.TooMany.Err())
}
