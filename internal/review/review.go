// Package review explains decisions by what they were judged on, and judges them again by
// the books of their day.
//
// It owns no table and writes nothing. Each feature judges its own kinds of decision
// again; the package reads decisions, finds their feature, holds what was found then
// against what is found now, and shows to a reader what they may read. It must not know a
// rule.
package review

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/assessment"
	"tankside/internal/briefings"
	"tankside/internal/courses"
	"tankside/internal/decision"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/plans"
	"tankside/internal/sessions"
)

// judge judges a decision again by what it was judged on.
type judge func(ctx context.Context, tx *pg.Tx, made journal.Decided,
	on decision.JudgedOn) (decision.Again, error)

// Service explains decisions and judges them again.
type Service struct {
	db     *pg.DB
	judges map[string]judge // by kind of decision
}

// New returns the review of decisions on a database.
func New(db *pg.DB, a *assessment.Service) *Service {
	s := &Service{db: db, judges: map[string]judge{}}
	for _, of := range []struct {
		kinds []string
		by    judge
	}{
		{sessions.DecisionKinds(), sessions.JudgeAgain},
		{courses.DecisionKinds(), courses.JudgeAgain},
		{plans.DecisionKinds(), plans.JudgeAgain},
		{briefings.DecisionKinds(), briefings.JudgeAgain},
		{assessment.DecisionKinds(), a.JudgeAgain},
	} {
		for _, k := range of.kinds {
			s.judges[k] = of.by
		}
	}
	return s
}

// Kinds returns the kinds of decision that can be judged again, in order.
func (s *Service) Kinds() []string { return slices.Sorted(maps.Keys(s.judges)) }

// Result is a decision beside its being judged again.
type Result struct {
	journal.Decided
	decision.Comparison
	Unjudged error // why it could not be judged again; nil: it was
}

// Same reports whether the decision was judged again and came to the same.
func (r Result) Same() bool { return r.Unjudged == nil && r.Comparison.Same() }

// Judge judges one decision of a centre again. Fault: not_found.
func (s *Service) Judge(ctx context.Context, centre, id uuid.UUID) (out Result, err error) {
	err = s.db.InTx(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.judgeAgain(ctx, tx, id)
		return err
	})
	return out, err
}

// JudgeAll judges the decisions of a centre that were made from one moment up to and not
// including another, in their order, and hands each to each.
func (s *Service) JudgeAll(ctx context.Context, centre uuid.UUID, from, to time.Time,
	each func(Result)) error {
	for p := (page.Request{Limit: 200}); ; {
		var ids []uuid.UUID
		var next *page.Place
		err := s.db.Browse(ctx, centre, func(ctx context.Context, tx *pg.Tx) (err error) {
			ids, next, err = journal.DecisionsFrom(ctx, tx, from, to, p)
			return err
		})
		if err != nil {
			return err
		}
		for _, id := range ids {
			r, err := s.Judge(ctx, centre, id)
			if err != nil {
				return fmt.Errorf("judge decision %s again: %w", id, err)
			}
			each(r)
		}
		if p.After = next; next == nil {
			return nil
		}
	}
}

func (s *Service) judgeAgain(ctx context.Context, tx *pg.Tx, id uuid.UUID) (out Result, err error) {
	if out.Decided, err = journal.FindDecision(ctx, tx, id); err != nil {
		return out, err
	}
	judge, known := s.judges[out.Kind]
	if !known {
		out.Unjudged = fmt.Errorf("decisions of the kind %q cannot be judged again", out.Kind)
		return out, nil
	}
	on, ok := readJudgedOn(out.Decided, &out.Unjudged)
	if !ok {
		return out, nil
	}
	again, err := judge(ctx, tx, out.Decided, on)
	if err != nil {
		return out, err
	}
	out.Comparison = decision.Compare(out.Findings, again, on.Rules)
	return out, nil
}

// readJudgedOn returns what a decision was judged on, and reports whether it could be read:
// where it could not, why is set to the reason.
func readJudgedOn(d journal.Decided, why *error) (decision.JudgedOn, bool) {
	on, err := decision.Read(d.JudgedOn)
	*why = err
	return on, err == nil
}
