package plans

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// SheetContext is what the sheet of a plan shows beside the plan, by name: where, when
// and for whom it is. What is nil is not known, or does not apply.
type SheetContext struct {
	Session      string
	StartsAt     time.Time
	TimeZone     string
	Site         *string
	Emergency    *string // of the site
	Dive         *int    // its number within the session; nil: every dive
	TrainingDive *int
	Group        *string
	InCharge     *string // of that group
	PlannedBy    *string
	ConfirmedBy  *string
}

const sheetSQL = `
	SELECT s.title AS session, s.starts_at, s.time_zone, t.name AS site, t.emergency,
		d.number AS dive, d.training_dive, g.name AS "group",
		(
			SELECT n.name
			FROM sessions_participant p
			JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
			WHERE p.centre_id = s.centre_id
				AND p.session_id = s.id
				AND p.group_id = @group
				AND p.role = 'in_charge') AS in_charge,
		(SELECT name FROM people_person WHERE centre_id = s.centre_id AND id = @planner) AS planned_by,
		(SELECT name FROM people_person WHERE centre_id = s.centre_id AND id = @confirmer) AS confirmed_by
	FROM sessions_session s
	LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
	LEFT JOIN sessions_dive d ON d.centre_id = s.centre_id AND d.id = @dive
	LEFT JOIN sessions_group g ON g.centre_id = s.centre_id AND g.id = @group
	WHERE s.centre_id = app_centre() AND s.id = @session`

// Sheet returns a plan with what its sheet shows beside it. Fault: not_found.
func (s *Service) Sheet(ctx context.Context, by actor.Actor, id uuid.UUID) (p Plan, beside SheetContext,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if p, err = find(ctx, tx, id); err != nil {
			return err
		}
		beside, err = pg.Row[SheetContext](ctx, tx, sheetSQL,
			pgx.StrictNamedArgs{"session": p.SessionID, "dive": p.DiveID, "group": p.GroupID,
				"planner": p.PlannedBy, "confirmer": p.ConfirmedBy})
		return err
	})
	return p, beside, err
}
