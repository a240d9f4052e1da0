package desk

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/training"
)

// appendNew appends the findings of rules that have none in the list yet: of two
// times in of somebody in one call each is found once.
func appendNew(l, found finding.List) finding.List {
	before := l
	for _, f := range found {
		if !slices.ContainsFunc(before, func(x finding.Finding) bool { return x.Rule == f.Rule }) {
			l = append(l, f)
		}
	}
	return l
}

// enterTimesIn records who went in, with what speaks against it today.
func (s *Service) enterTimesIn(ctx context.Context, tx *pg.Tx, dive uuid.UUID, in []training.TimeIn) ([]journal.Result, error) {
	unready, err := s.sessions.UnreadyFor(ctx, tx, dive)
	if err != nil {
		return nil, err
	}
	outdated, err := s.planning.OutdatedOn(ctx, tx, dive)
	if err != nil {
		return nil, err
	}
	told, err := s.planning.LowGasOn(ctx, tx, dive)
	if err != nil {
		return nil, err
	}
	times := make([]time.Time, len(in))
	for i, t := range in {
		times[i] = t.InAt
	}
	heads, err := s.sessions.HeadsOn(ctx, tx, dive, times)
	if err != nil {
		return nil, err
	}
	for i, t := range in {
		unready[t.ParticipantID] = appendNew(unready[t.ParticipantID], slices.Concat(heads[i], told.UntoldAt(t.ParticipantID, dive, t.InAt),
			toldOtherwise(outdated, training.InWater{DiveID: dive, ParticipantID: t.ParticipantID, At: t.InAt})))
	}
	return s.training.LogTimesIn(ctx, tx, dive, in, unready)
}
