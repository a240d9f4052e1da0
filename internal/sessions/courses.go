package sessions

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
)

// CancelPlanned calls off the planned sessions of a course that was cancelled, in
// the transaction of the caller, who has locked the course. One that is under way
// goes on.
func (s *Service) CancelPlanned(ctx context.Context, tx *pg.Tx, course uuid.UUID, reason string) error {
	ids, err := pg.Rows[uuid.UUID](ctx, tx,
		`SELECT id FROM session WHERE centre_id = app_centre() AND course_id = @course AND state = 'planned' ORDER BY id`,
		pgx.StrictNamedArgs{"course": course})
	if err != nil {
		return err
	}
	if err := lockSessions(ctx, tx, ids...); err != nil {
		return err
	}
	if err := lockGroupsOf(ctx, tx, ids...); err != nil {
		return err
	}
	for _, id := range ids {
		row, err := findSession(ctx, tx, id)
		if err != nil {
			return err
		}
		if row.State != Planned {
			continue // opened while this waited
		}
		if _, err := cancel(ctx, tx, row, reason); err != nil {
			return err
		}
	}
	return nil
}

// MustBeOver insists that no session of a course is planned or under way, in the
// transaction of the caller, who has locked the course.
func (s *Service) MustBeOver(ctx context.Context, tx *pg.Tx, course uuid.UUID) error {
	n, err := pg.Row[int](ctx, tx,
		`SELECT count(*) FROM session WHERE centre_id = app_centre() AND course_id = @course AND state IN ('planned', 'under_way')`,
		pgx.StrictNamedArgs{"course": course})
	if err == nil && n > 0 {
		err = fault.WrongState("course", "not over",
			fmt.Sprintf("Of its sessions, %d are planned or under way: hold and close them, or cancel them, first.", n))
	}
	return err
}

// mayTake insists that the course of a session is open: nobody joins a session of
// another. Of one that is under way all the same, crew may.
func mayTake(ctx context.Context, tx *pg.Tx, session Session, add []NewParticipant) error {
	if session.State == UnderWay &&
		!slices.ContainsFunc(add, func(n NewParticipant) bool { return n.Role == Student }) {
		return nil
	}
	return courseActive(ctx, tx, session)
}

func courseActive(ctx context.Context, tx *pg.Tx, session Session) error {
	state, err := pg.Row[string](ctx, tx,
		`SELECT state FROM courses_course WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": session.CourseID})
	if err == nil && state != "active" {
		err = fault.WrongState("course", state,
			"Its sessions are neither opened nor joined: choose a session of an active course.")
	}
	return err
}
