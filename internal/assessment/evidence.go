package assessment

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/waterview"
)

// gather reads the evidence of what is to be signed: the attempts, and the gas
// checks of students who are signed off for a skill that touches gas.
func (c *signCase) gather(ctx context.Context, tx *pg.Tx) (map[uuid.UUID]ledger.Seen, error) {
	attempts, checks := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	for _, o := range c.signed {
		for _, id := range o.evidence {
			attempts[id] = true
		}
		for _, id := range o.checks {
			checks[id] = true
		}
	}
	out := make(map[uuid.UUID]ledger.Seen, len(attempts)+len(checks))
	for _, kind := range []struct {
		of  ledger.Witnessed
		ids map[uuid.UUID]bool
	}{{waterview.AttemptEvidence, attempts}, {waterview.CheckEvidence, checks}} {
		ids := make([]uuid.UUID, 0, len(kind.ids))
		for id := range kind.ids {
			ids = append(ids, id)
		}
		list, err := kind.of.Gather(ctx, tx, ids...)
		if err != nil {
			return nil, err
		}
		for _, e := range list {
			out[e.ID] = e
		}
	}
	return out, nil
}

// pick makes rows the evidence of the decision with this salt.
func pick(from map[uuid.UUID]ledger.Seen, salt ledger.Salt, ids ...uuid.UUID) []ledger.Evidence {
	out := make([]ledger.Evidence, 0, len(ids))
	for _, id := range ids {
		out = append(out, from[id].Evidence(salt))
	}
	return out
}

// everything returns the evidence of all that was witnessed of an enrolment and
// stands: theory, dives, gas checks. A completion carries it; the attempts are
// carried by the sign-offs that it rests on.
func everything(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID) ([]ledger.Seen, error) {
	var b pgx.Batch
	var theory []uuid.UUID
	var seen waterview.Witnessed
	pg.QueueRows(&b, &theory, `
		SELECT d.id
		FROM theory_result d
		WHERE d.centre_id = app_centre() AND d.enrolment_id = @id AND EXISTS (
			SELECT FROM journal_entry e
			WHERE e.centre_id = d.centre_id AND e.id = d.id AND e.voided_at IS NULL)
		ORDER BY d.id`, pgx.StrictNamedArgs{"id": enrolment})
	waterview.QueueWitnessed(&b, &seen, enrolment)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	out := []ledger.Seen{}
	for _, kind := range []struct {
		of  ledger.Witnessed
		ids []uuid.UUID
	}{{theoryEvidence, theory}, {waterview.StartEvidence, seen.Starts}, {waterview.EndEvidence, seen.Ends},
		{waterview.CheckEvidence, seen.Checks}} {
		list, err := kind.of.Gather(ctx, tx, kind.ids...)
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}
