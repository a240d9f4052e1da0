package desk

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/sessions"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
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
	in []waterlog.TimeIn) ([]journal.Result, error) {
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
	return s.waterlog.EnterTimesIn(ctx, by, tx, v, dive, in, unready)
}

// LogTimesIn records who went in on a dive. It is never refused by a rule; what
// speaks against it, of groups, papers, fitness and what comes before, is found.
func (s *Service) LogTimesIn(ctx context.Context, by actor.Actor, dive uuid.UUID,
	in []waterlog.TimeIn) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterTimesIn(ctx, by, tx, dive, in)
		return err
	})
	return out, err
}

// against returns, by entry, what speaks against the standing times in of a session, which
// was read with everything, beside what was logged and learned: the ratio of the group at
// that time, papers and fitness, heads that were not settled, and what was told.
func (s *Service) against(ctx context.Context, tx *pg.Tx, v dayview.View) (map[uuid.UUID]watercheck.At, error) {
	moments := make([]sessions.Moment, len(v.Log))
	for i, t := range v.Log {
		moments[i] = sessions.Moment{Participant: t.ParticipantID, At: t.InAt}
	}
	stood, err := s.sessions.StoodAt(ctx, tx, v, moments)
	if err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]watercheck.At, len(v.Log))
	for i, t := range v.Log {
		out[t.ID] = watercheck.At{Cleared: stood[i].Cleared,
			Unready: slices.Concat(stood[i].Unready, stood[i].Heads,
				readiness.OutdatedAt(v, t.ParticipantID, t.DiveID, t.InAt),
				readiness.UntoldAt(v, t.ParticipantID, t.DiveID, t.InAt))}
	}
	return out, nil
}

// Dives returns the planned dives of a session with who went in and came out, and with
// what is found of their entries.
func (s *Service) Dives(ctx context.Context, by actor.Actor, session uuid.UUID) (out []waterlog.DiveLog, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		v, err := dayview.One(ctx, tx, session, dayview.Everything)
		if err != nil {
			return err
		}
		found, err := s.foundIn(ctx, tx, v)
		if err != nil {
			return err
		}
		out, err = s.waterlog.Dives(ctx, tx, v, found)
		return err
	})
	return out, err
}

// Record reads the record of an enrolment with what is found of its dives and attempts,
// all of it as it is at one moment; a student their own.
func (s *Service) Record(ctx context.Context, by actor.Actor, id uuid.UUID) (out assessment.Record, err error) {
	err = s.db.Snapshot(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		r, err := s.assessment.Record(ctx, by, tx, id)
		if err != nil {
			return err
		}
		if len(r.Dives) > 0 || len(r.Attempts) > 0 {
			for _, at := range r.Sessions {
				found, err := s.found(ctx, tx, at.SessionID)
				if err != nil {
					return err
				}
				r.Decorate(found)
			}
		}
		out = r
		return nil
	})
	return out, err
}
