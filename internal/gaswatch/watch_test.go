package gaswatch_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/signal"
	"tankside/internal/waterlog"
)

func TestTheWatchShowsTheLastLookThatStands(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	w := p.Watched(t, part)
	require.Nil(t, w.Last)
	require.Nil(t, w.InAt)

	in := p.In(part, pooltest.Sunday)
	_, err := p.TimesIn(p.OpenDives[0], in)
	require.NoError(t, err)
	later := pooltest.Gas(part, pooltest.Read(150, "bar"), pooltest.Read(150, "bar"),
		pooltest.Sunday.Add(4*time.Minute))
	earlier := pooltest.Gas(part, pooltest.Read(175, "bar"), pooltest.Read(180, "bar"),
		pooltest.Sunday.Add(2*time.Minute))
	_, err = p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open, []waterlog.GasCheck{later, earlier})
	require.NoError(t, err)
	p.Clock(pooltest.Sunday.Add(5 * time.Minute))

	w = p.Watched(t, part)
	require.Equal(t, later.ID, w.Last.ID, "the last by when it was witnessed, not by when it was recorded")
	require.Equal(t, signal.Right, w.Last.Verdict)
	require.InDelta(t, 60, w.Age.Seconds(), 5)
	require.Equal(t, p.OpenDives[0], *w.DiveID)
	require.True(t, pooltest.Sunday.Equal(*w.InAt))
	require.Nil(t, w.OutAt)

	p.Void(t, later.ID)
	require.Equal(t, earlier.ID, p.Watched(t, part).Last.ID)
}

func TestSeveralSessionsAreWatchedAtOnce(t *testing.T) {
	p := pooltest.New(t, 1)
	_, _, err := p.Gaswatch.Watch(t.Context(), p.By, []uuid.UUID{p.Open, uuid.New()})
	require.ErrorIs(t, err, fault.NotFound.Err())
	all, _, err := p.Gaswatch.Watch(t.Context(), p.By, []uuid.UUID{p.Open, p.Confined})
	require.NoError(t, err)
	require.Len(t, all, 6)
	require.Equal(t, p.Open, all[0].SessionID)
	require.Equal(t, p.Confined, all[5].SessionID)
}
