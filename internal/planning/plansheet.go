package planning

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// PlanSheetContext is where, when and for whom a stored plan is, in the words in which
// its sheet says it. What is nil is not known, or does not apply.
type PlanSheetContext struct {
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

const planSceneSQL = `SELECT s.title AS session, s.starts_at, s.time_zone, t.name AS site, t.emergency, d.number AS dive, d.training_dive, g.name AS "group",
		(SELECT n.name FROM sessions_participant p JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
			WHERE p.centre_id = s.centre_id AND p.session_id = s.id AND p.group_id = @group AND p.role = 'in_charge') AS in_charge,
		(SELECT name FROM people_person WHERE centre_id = s.centre_id AND id = @planner) AS planned_by,
		(SELECT name FROM people_person WHERE centre_id = s.centre_id AND id = @confirmer) AS confirmed_by
	FROM sessions_session s
	LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
	LEFT JOIN sessions_dive d ON d.centre_id = s.centre_id AND d.id = @dive
	LEFT JOIN sessions_group g ON g.centre_id = s.centre_id AND g.id = @group
	WHERE s.centre_id = app_centre() AND s.id = @session`

// GasPlanScene reads one plan with what its sheet says beside it.
func (s *Service) GasPlanScene(ctx context.Context, by actor.Actor, id uuid.UUID) (p GasPlan,
	scene PlanSheetContext, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if p, err = findGasPlan(ctx, tx, id); err != nil {
			return err
		}
		scene, err = pg.Row[PlanSheetContext](ctx, tx, planSceneSQL,
			pgx.StrictNamedArgs{"session": p.SessionID, "dive": p.DiveID, "group": p.GroupID,
				"planner": p.PlannedBy, "confirmer": p.ConfirmedBy})
		return err
	})
	return p, scene, err
}
