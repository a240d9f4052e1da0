package desk

import (
	"context"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/sessions"
)

// ChangePerson edits a person, with the reason where the name or the birth date is
// corrected. A corrected birth date is a fact: in the sessions that are not over,
// the groups are judged anew by it, the depth of what was planned or told before, and
// whether the person may get into the water; so are the enrolments on active courses.
func (s *Service) ChangePerson(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(*people.PersonFields), reason string) (out people.Person, found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		var changed bool
		found, err = s.rejudging(ctx, by, tx, id, "birth_date_corrected", func() (bool, error) {
			out, changed, err = s.people.ChangePerson(ctx, by, tx, id, version, edit, reason)
			return changed, err
		})
		if err != nil || !changed {
			return err
		}
		young, err := s.courses.TooYoungFor(ctx, tx, id)
		if err != nil {
			return err
		}
		found = append(found, young...)
		return s.unreadyAhead(ctx, tx, id, &found)
	})
	return out, found, err
}

// unreadyAhead adds what now stands between a person and the water in the sessions
// that are not over, such as consent that somebody younger needs; each thing once.
func (s *Service) unreadyAhead(ctx context.Context, tx *pg.Tx, person uuid.UUID, found *finding.List) error {
	held, err := ahead(ctx, tx, person)
	if err != nil {
		return err
	}
	views, err := dayview.Read(ctx, tx, dayview.Query{Sessions: held, Want: dayview.People | dayview.Told})
	if err != nil {
		return err
	}
	for _, v := range views {
		part, _ := v.PartOf(person)
		for _, f := range slices.Concat(sessions.Unready(v)[part.ID], readiness.TooDeepFor(v, person)) {
			if !slices.ContainsFunc(*found,
				func(o finding.Finding) bool { return o.Rule == f.Rule && o.Message == f.Message }) {
				*found = append(*found, f)
			}
		}
	}
	return nil
}

// RecordPaper puts a paper on record. An assistant's paper may be what a group
// lacked: groups are judged anew by it.
func (s *Service) RecordPaper(ctx context.Context, by actor.Actor, n people.NewPaper) (out people.Paper,
	created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		found, err := s.rejudging(ctx, by, tx, n.PersonID, "paper_recorded", func() (matters bool, err error) {
			out, created, err = s.people.RecordPaper(ctx, by, tx, n)
			return created && people.CountsForRatio(out.Kind), err
		})
		out.Findings = append(out.Findings, found...)
		return err
	})
	return out, created, err
}

// RecordPaperAsOperator puts a paper on record for the operator of the service,
// where nobody else of the centre may: an only instructor's own. The actor of ctx
// is nobody of the centre.
func (s *Service) RecordPaperAsOperator(ctx context.Context, by actor.Actor, n people.NewPaper,
	seenBy string) (people.Paper, error) {
	n.SeenBy, n.SeenByName = nil, &seenBy
	out, _, err := s.RecordPaper(ctx, by, n)
	return out, err
}

// VoidPaper voids a paper with a reason. A group whose assistant counted by it
// may lose its clearance.
func (s *Service) VoidPaper(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out people.Paper,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		p, err := s.people.PaperOf(ctx, tx, id)
		if err != nil {
			return err
		}
		found, err := s.rejudging(ctx, by, tx, p.PersonID, "paper_voided", func() (matters bool, err error) {
			out, err = s.people.VoidPaper(ctx, by, tx, id, reason)
			return p.VoidedAt == nil && people.CountsForRatio(p.Kind), err
		})
		out.Findings = append(out.Findings, found...)
		return err
	})
	return out, err
}

// rejudging changes something of a person, and when it matters, judges the
// groups of all sessions that are not over and that the person takes part in
// anew. Sessions and groups are locked before the person.
func (s *Service) rejudging(ctx context.Context, by actor.Actor, tx *pg.Tx, person uuid.UUID, cause string,
	change func() (matters bool, err error)) (finding.List, error) {
	held, err := ahead(ctx, tx, person)
	if err != nil {
		return nil, err
	}
	for _, session := range held {
		if err := s.sessions.Hold(ctx, tx, session); err != nil {
			return nil, err
		}
	}
	if matters, err := change(); err != nil || !matters {
		return nil, err
	}
	// Whoever placed the person meanwhile judged by what held before.
	now, err := ahead(ctx, tx, person)
	if err != nil {
		return nil, err
	}
	if !slices.Equal(held, now) {
		return nil, pg.ErrRetry
	}
	return s.rejudgeAll(ctx, by, tx, held, cause)
}

// ahead returns the sessions that are not over and that a person takes part in,
// in the order of locking.
func ahead(ctx context.Context, tx *pg.Tx, person uuid.UUID) ([]uuid.UUID, error) {
	return pg.Rows[uuid.UUID](ctx, tx,
		`SELECT DISTINCT s.id FROM sessions_participant p JOIN sessions_session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		WHERE p.centre_id = app_centre() AND p.person_id = @id AND s.state IN ('planned', 'under_way') ORDER BY s.id`, pgx.StrictNamedArgs{"id": person})
}
