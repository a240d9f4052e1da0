package training

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// witnessedRow names one entry that counts for an enrolment.
type witnessedRow struct {
	EnrolmentID uuid.UUID
	ID          uuid.UUID
}

// checksOfSession asks for the gas checks of a session that stand: a sign-off of
// a skill that touches gas carries those of its student. An entry's session is
// that of its participant; it is said of both, so that a plan made while the
// tables were small does not begin with every gas check of the centre.
const checksOfSession = `SELECT p.enrolment_id, g.id FROM gas_check g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
	JOIN sessions_participant p ON p.centre_id = g.centre_id AND p.id = g.participant_id
	WHERE g.centre_id = app_centre() AND e.session_id = @session AND p.session_id = @session AND p.enrolment_id = ANY (@ids) AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, g.id`

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
	}{{attemptEvidence, attempts}, {checkEvidence, checks}} {
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
	const stands = ` AND EXISTS (SELECT FROM journal_entry e WHERE e.centre_id = d.centre_id AND e.id = d.id AND e.voided_at IS NULL) ORDER BY d.id`
	const theirs = ` JOIN sessions_participant p ON p.centre_id = d.centre_id AND p.id = d.participant_id
		WHERE d.centre_id = app_centre() AND p.enrolment_id = @id` + stands
	var b pgx.Batch
	var theory, starts, ends, checks []uuid.UUID
	args := pgx.StrictNamedArgs{"id": enrolment}
	pg.QueueRows(&b, &theory,
		`SELECT d.id FROM theory_result d WHERE d.centre_id = app_centre() AND d.enrolment_id = @id`+
			stands, args)
	pg.QueueRows(&b, &starts, `SELECT d.id FROM dive_start d`+theirs, args)
	pg.QueueRows(&b, &ends, `SELECT d.id FROM dive_end d JOIN dive_start s ON s.centre_id = d.centre_id AND s.id = d.dive_start_id
		JOIN sessions_participant p ON p.centre_id = s.centre_id AND p.id = s.participant_id
		WHERE d.centre_id = app_centre() AND p.enrolment_id = @id`+stands, args)
	pg.QueueRows(&b, &checks, `SELECT d.id FROM gas_check d`+theirs, args)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	out := []ledger.Seen{}
	for _, kind := range []struct {
		of  ledger.Witnessed
		ids []uuid.UUID
	}{{theoryEvidence, theory}, {startEvidence, starts}, {endEvidence, ends}, {checkEvidence, checks}} {
		list, err := kind.of.Gather(ctx, tx, kind.ids...)
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}
