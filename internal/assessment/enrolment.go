package assessment

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// checkReadable returns not_found for an enrolment that the caller does not reach with an operation.
func (s *Service) checkReadable(ctx context.Context, by actor.Actor, tx *pg.Tx, operation string,
	id uuid.UUID) error {
	e, err := s.standings.Enrolment(ctx, tx, id)
	if err != nil {
		return err
	}
	if !permission.Covers(operation, by, e.PersonID) {
		return fault.NoSuch("enrolment")
	}
	return nil
}

// lockEnrolments locks enrolments, so that nothing is signed for them meanwhile.
func lockEnrolments(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) error {
	var b pgx.Batch
	queueLocks(&b, ids)
	return tx.Send(ctx, &b)
}

// queueLocks adds the locking of enrolments, ascending, to a batch: statements
// of the batch after it see what whoever held them before has written.
func queueLocks(b *pgx.Batch, ids []uuid.UUID) {
	b.Queue(`
		SELECT id
		FROM courses_enrolment
		WHERE centre_id = app_centre() AND id = ANY (@ids)
		ORDER BY id
		FOR NO KEY UPDATE`, pgx.StrictNamedArgs{"ids": ids})
}
