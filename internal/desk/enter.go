package desk

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/sessions"
	"tankside/internal/training"
)

// enter hands entries of one kind, place and batch to the service that a single
// post of them calls. It gives one result for each.
func (s *Service) enter(ctx context.Context, tx *pg.Tx, rows []held) ([]journal.Result, error) {
	place, _ := rows[0].place()
	switch rows[0].Kind {
	case journal.RollCall:
		out, _, err := s.sessions.EnterCalls(ctx, tx, place, items(rows, func(i Item) sessions.Call { return *i.Call }))
		return out, err
	case journal.DiveStart:
		return s.enterTimesIn(ctx, tx, place, items(rows, func(i Item) training.TimeIn { return *i.In }))
	case journal.DiveEnd:
		return s.training.EnterTimesOut(ctx, tx, place, items(rows, func(i Item) training.TimeOut { return *i.Out }))
	case journal.GasCheck:
		return s.training.EnterGasChecks(ctx, tx, place, items(rows, func(i Item) training.GasCheck { return *i.Check }))
	case journal.DrillAttempt:
		return s.training.EnterAttempts(ctx, tx, place, items(rows, func(i Item) training.Attempt { return *i.Attempt }))
	case journal.GasResponse:
		return s.training.EnterResponses(ctx, tx, place, items(rows, func(i Item) training.GasResponse { return *i.Response }))
	case journal.LogCompletion:
		return s.training.EnterLogCompletions(ctx, tx, place, items(rows, func(i Item) training.LogCompletion { return *i.Complete }))
	case SignOffKind:
		return s.training.EnterSignOffs(ctx, tx, place, items(rows, func(i Item) training.Signing { return *i.Signing }))
	}
	out := make([]journal.Result, 0, len(rows))
	for _, h := range rows {
		r, err := s.enterOne(ctx, tx, h)
		if err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}

func items[T any](rows []held, of func(Item) T) []T {
	out := make([]T, len(rows))
	for i, h := range rows {
		out[i] = of(h.Item)
	}
	return out
}

// enterOne records what is posted one at a time.
func (s *Service) enterOne(ctx context.Context, tx *pg.Tx, h held) (journal.Result, error) {
	out := journal.Result{ID: h.EntryID, Status: journal.Recorded}
	var created bool
	var err error
	switch h.Kind {
	case journal.Conditions:
		var head journal.Head
		head, created, err = s.sessions.EnterReport(ctx, tx, *h.Item.Report)
		out.Findings = head.Findings
	case journal.HeadCount:
		var count sessions.HeadCount
		count, created, err = s.sessions.EnterCount(ctx, tx, *h.Item.Count)
		out.Findings = count.Findings
	default:
		_, created, err = s.sessions.EnterIncident(ctx, tx, *h.Item.Incident)
	}
	if !created {
		out.Status = journal.AlreadyRecorded
	}
	return out, err
}

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
