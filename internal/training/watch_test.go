package training_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/training"
)

// watched gives how a participant of the open-water session stands.
func (p *pool) watched(t *testing.T, participant uuid.UUID) training.DiverStatus {
	t.Helper()
	list, _, err := p.service.Watch(t.Context(), p.by, []uuid.UUID{p.open})
	require.NoError(t, err)
	for _, w := range list {
		if w.ParticipantID == participant {
			return w
		}
	}
	require.Fail(t, "not watched")
	return training.DiverStatus{}
}

// void voids an entry as its witness does.
func (p *pool) void(t *testing.T, entry uuid.UUID) {
	t.Helper()
	require.NoError(t, p.DB.InTx(t.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, err := journal.Find(ctx, tx, entry)
		require.NoError(t, err)
		return journal.Void(ctx, p.by, tx, e, "another diver's")
	}))
}

func TestTheWatchShowsTheLastLookThatStands(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	w := p.watched(t, part)
	require.Nil(t, w.Last)
	require.Nil(t, w.InAt)

	in := p.in(part, sunday)
	_, err := p.timesIn(p.dives[0], in)
	require.NoError(t, err)
	later := gas(part, read(150, "bar"), read(150, "bar"), sunday.Add(4*time.Minute))
	earlier := gas(part, read(175, "bar"), read(180, "bar"), sunday.Add(2*time.Minute))
	_, err = p.service.LogGasChecks(t.Context(), p.by, p.open, []training.GasCheck{later, earlier})
	require.NoError(t, err)
	p.Clock(sunday.Add(5 * time.Minute))

	w = p.watched(t, part)
	require.Equal(t, later.ID, w.Last.ID, "the last by when it was witnessed, not by when it was recorded")
	require.Equal(t, signal.Right, w.Last.Verdict)
	require.InDelta(t, 60, w.Age.Seconds(), 5)
	require.Equal(t, p.dives[0], *w.DiveID)
	require.True(t, sunday.Equal(*w.InAt))
	require.Nil(t, w.OutAt)

	p.void(t, later.ID)
	require.Equal(t, earlier.ID, p.watched(t, part).Last.ID)
}

func TestSeveralSessionsAreWatchedAtOnce(t *testing.T) {
	p := newPool(t, 1)
	_, _, err := p.service.Watch(t.Context(), p.by, []uuid.UUID{p.open, uuid.New()})
	require.ErrorIs(t, err, fault.NotFound.Err())
	all, _, err := p.service.Watch(t.Context(), p.by, []uuid.UUID{p.open, p.confined})
	require.NoError(t, err)
	require.Len(t, all, 6)
	require.Equal(t, p.open, all[0].SessionID)
	require.Equal(t, p.confined, all[5].SessionID)
}
