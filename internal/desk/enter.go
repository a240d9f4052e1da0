package desk

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/sessions"
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

// EnterTimesIn records who went in, with what speaks against it today.
func (s *Service) EnterTimesIn(ctx context.Context, by actor.Actor, tx *pg.Tx, dive uuid.UUID,
	in []training.TimeIn) ([]journal.Result, error) {
	views, err := dayview.Read(ctx, tx,
		dayview.Query{Dive: &dive, Want: dayview.People | dayview.Told | dayview.Called | dayview.Taught})
	if err == nil && len(views) == 0 {
		err = fault.NoSuch("dive")
	}
	if err != nil {
		return nil, err
	}
	v, times := views[0], make([]time.Time, len(in))
	for i, t := range in {
		times[i] = t.InAt
	}
	heads, err := s.sessions.HeadsAt(ctx, tx, v.Session, times)
	if err != nil {
		return nil, err
	}
	unready := sessions.Unready(v)
	for i, t := range in {
		unready[t.ParticipantID] = appendNew(unready[t.ParticipantID], slices.Concat(heads[i],
			readiness.UntoldAt(v, t.ParticipantID, dive, t.InAt), readiness.OutdatedAt(v, t.ParticipantID, dive,
				t.InAt)))
	}
	return s.training.LogTimesIn(ctx, by, tx, v, dive, in, unready)
}
