package plans

import (
	"context"
	"reflect"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// Plan is a stored gas plan. It is never changed: confirming, withdrawing and
// superseding it are further facts.
type Plan struct {
	ID            uuid.UUID
	SessionID     uuid.UUID
	DiveID        *uuid.UUID // nil: every dive of the session
	GroupID       *uuid.UUID // nil: not of one group alone
	Replaces      *uuid.UUID // the plan that it was made from
	Reason        *string    // of the replan
	Asked         gasplan.PlanRequest
	Input         gasplan.Input // Asked with everything that was known
	Result        gasplan.Result
	Findings      finding.List // when it was planned
	PlannedBy     *uuid.UUID   // nil for a program
	PlannedAt     time.Time
	BodyDigest    []byte
	Before        *gasplan.Result // of the plan that it replaces
	ConfirmedBy   *uuid.UUID      // nil, like the four below, for a plan that is not confirmed
	ConfirmedName *string
	ConfirmedAt   *time.Time
	Confirmed     finding.List         // when it was confirmed
	Accepted      []journal.Acceptance // of cautions, by the person who confirmed it
	SupersededAt  *time.Time           // when another plan of the same dive and group was confirmed
	WithdrawnBy   *uuid.UUID           // nil for a program, and for a plan that is not withdrawn
	WithdrawnAt   *time.Time           // nil, like the reason, for a plan that is not withdrawn
	WithdrawnFor  *string              // the reason
}

// State returns the state of the plan: planned, confirmed, superseded or withdrawn.
func (p Plan) State() string {
	switch {
	case p.WithdrawnAt != nil:
		return "withdrawn"
	case p.SupersededAt != nil:
		return "superseded"
	case p.ConfirmedAt != nil:
		return "confirmed"
	}
	return "planned"
}

// Shown returns the findings about the plan, with the session among their subjects. Of a
// confirmed plan they are those of its confirmation, each with who accepted it; of
// another, those of its planning, marked where its confirmation needs them accepted.
func (p Plan) Shown() finding.List {
	if p.ConfirmedAt == nil {
		found := p.Findings.InSession(p.SessionID.String())
		if p.State() != "planned" {
			return found
		}
		return journal.Pending(found, nil)
	}
	name := ""
	if p.ConfirmedName != nil {
		name = *p.ConfirmedName
	}
	return journal.WithAcceptances(p.Confirmed.InSession(p.SessionID.String()),
		journal.AcceptedBy(p.Accepted, *p.ConfirmedBy, name, *p.ConfirmedAt))
}

// Worked returns the steps that lead to the plan's figures, computed again from its
// stored input. Fault: wrong_state where today's rules lead to other figures.
func (p Plan) Worked() ([]gasplan.WorkedSteps, error) {
	now, err := gasplan.Calculate(p.Input)
	if err != nil || !reflect.DeepEqual(p.Result.People, now.People) ||
		!reflect.DeepEqual(p.Result.Group, now.Group) {
		return nil, fault.WrongState("plan", "from rules that are no longer today's",
			"Plan again from it, and ask for the steps of the new plan.")
	}
	return gasplan.Explain(p.Input)
}

const columns = `p.id, p.session_id, p.dive_id, p.group_id, p.replaces, p.reason, p.asked, p.input, p.result,
	p.findings, p.planned_by, p.planned_at, p.body_digest, b.result AS before,
	c.confirmed_by, n.name AS confirmed_name, c.confirmed_at,
	COALESCE(c.findings, '[]') AS confirmed, COALESCE(c.accepted, '[]') AS accepted,
	(
		SELECT n.confirmed_at
		FROM gas_plan_confirmed n
		WHERE n.centre_id = c.centre_id
			AND n.session_id = c.session_id
			AND n.dive_id IS NOT DISTINCT FROM c.dive_id
			AND n.group_id IS NOT DISTINCT FROM c.group_id
			AND n.turn > c.turn
		ORDER BY n.turn
		LIMIT 1) AS superseded_at,
	w.withdrawn_by, w.withdrawn_at, w.reason AS withdrawn_for`

const tables = `
	FROM gas_plan p
	LEFT JOIN gas_plan b ON b.centre_id = p.centre_id AND b.id = p.replaces
	LEFT JOIN gas_plan_confirmed c ON c.centre_id = p.centre_id AND c.plan_id = p.id
	LEFT JOIN people_person n ON n.centre_id = c.centre_id AND n.id = c.confirmed_by
	LEFT JOIN gas_plan_withdrawn w ON w.centre_id = p.centre_id AND w.plan_id = p.id`

const planSQL = `SELECT ` + columns + tables + `
	WHERE p.centre_id = app_centre() AND p.id = @id`

// find returns a plan. Fault: not_found.
func find(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Plan, error) {
	p, found, err := pg.OptionalRow[Plan](ctx, tx, planSQL, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("plan")
	}
	return p, err
}

// Get returns a plan. Fault: not_found.
func (s *Service) Get(ctx context.Context, by actor.Actor, id uuid.UUID) (out Plan, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = find(ctx, tx, id)
		return err
	})
	return out, err
}

// List returns a page of the plans of a session, in the order of planning, and the place
// of the next page. Fault: not_found.
func (s *Service) List(ctx context.Context, by actor.Actor, session uuid.UUID,
	r page.Request) (out []Plan, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"session": session}
	from, order, err := r.SQL(page.Column{Name: "planned_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		there, err := pg.Row[bool](ctx, tx,
			`SELECT EXISTS (SELECT FROM sessions_session WHERE centre_id = app_centre() AND id = @session)`,
			pgx.StrictNamedArgs{"session": session})
		if err == nil && !there {
			err = fault.NoSuch("session")
		}
		if err != nil {
			return err
		}
		out, err = pg.Rows[Plan](ctx, tx, `
			SELECT *
			FROM (
				SELECT `+columns+tables+`
				WHERE p.centre_id = app_centre() AND p.session_id = @session) x
			WHERE `+from+` `+order, args)
		if err != nil {
			return err
		}
		out, next = page.Cut(r, out, func(p Plan) page.Place { return page.At(p.PlannedAt, p.ID) })
		return nil
	})
	return out, next, err
}
