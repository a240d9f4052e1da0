package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// GasPlan is a stored plan: never changed, confirmed or not, superseded or withdrawn or not.
type GasPlan struct {
	ID            uuid.UUID
	SessionID     uuid.UUID
	DiveID        *uuid.UUID
	GroupID       *uuid.UUID
	Replaces      *uuid.UUID
	Reason        *string
	Asked         gasplan.PlanRequest
	Input         gasplan.Input
	Result        gasplan.Result
	Findings      finding.List
	PlannedBy     *uuid.UUID
	PlannedAt     time.Time
	BodyDigest    []byte
	Before        *gasplan.Result // of the plan that it replaces
	ConfirmedBy   *uuid.UUID      // nil, like what follows: not confirmed
	ConfirmedName *string
	ConfirmedAt   *time.Time           //
	Confirmed     finding.List         // as judged at that moment
	Accepted      []journal.Acceptance // the cautions taken on by who confirmed it
	SupersededAt  *time.Time           // when another plan of the same dive and group was confirmed
	WithdrawnBy   *uuid.UUID           // nil for a program, and where it was not withdrawn
	WithdrawnAt   *time.Time           // nil, like the reason: not withdrawn
	WithdrawnFor  *string              // the reason
}

// State returns where the plan stands: planned, confirmed, superseded or withdrawn.
func (p GasPlan) State() string {
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

// Shown returns what was found of the plan, with the session among the subjects: when it was confirmed,
// with who accepted each caution; and of a plan that is not confirmed, when it was planned, with the
// cautions that its confirmation needs accepted.
func (p GasPlan) Shown() finding.List {
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

const gasPlanColumns = `p.id, p.session_id, p.dive_id, p.group_id, p.replaces, p.reason, p.asked, p.input, p.result, p.findings, p.planned_by, p.planned_at, p.body_digest,
	b.result AS before, c.confirmed_by, n.name AS confirmed_name, c.confirmed_at, COALESCE(c.findings, '[]') AS confirmed, COALESCE(c.accepted, '[]') AS accepted,
	(SELECT n.confirmed_at FROM gas_plan_confirmed n WHERE n.centre_id = c.centre_id AND n.session_id = c.session_id AND n.dive_id IS NOT DISTINCT FROM c.dive_id
		AND n.group_id IS NOT DISTINCT FROM c.group_id AND n.turn > c.turn ORDER BY n.turn LIMIT 1) AS superseded_at,
	w.withdrawn_by, w.withdrawn_at, w.reason AS withdrawn_for`

const gasPlanFrom = ` FROM gas_plan p
	LEFT JOIN gas_plan b ON b.centre_id = p.centre_id AND b.id = p.replaces
	LEFT JOIN gas_plan_confirmed c ON c.centre_id = p.centre_id AND c.plan_id = p.id
	LEFT JOIN people_person n ON n.centre_id = c.centre_id AND n.id = c.confirmed_by
	LEFT JOIN gas_plan_withdrawn w ON w.centre_id = p.centre_id AND w.plan_id = p.id `

func findGasPlan(ctx context.Context, tx *pg.Tx, id uuid.UUID) (GasPlan, error) {
	p, found, err := pg.OptionalRow[GasPlan](ctx, tx, `SELECT `+gasPlanColumns+gasPlanFrom+
		`WHERE p.centre_id = app_centre() AND p.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("plan")
	}
	return p, err
}

// PlanGas plans the gas of a session, or of one group or dive of it, and stores
// it whatever the findings are. created is false when the same request was
// answered before. Faults: Malformed for what nothing can be worked out from;
// WrongState for a session that is over.
func (s *Service) PlanGas(ctx context.Context, by actor.Actor, key once.Key, session uuid.UUID,
	a gasplan.PlanRequest) (out GasPlan, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, created, err = s.store(ctx, by, tx, key, GasPlan{ID: key.ID, SessionID: session, Asked: a})
		return err
	})
	return out, created, err
}

// Replan plans anew from a stored plan with something changed; the new plan
// names it and shows what it makes different.
func (s *Service) Replan(ctx context.Context, by actor.Actor, key once.Key, from uuid.UUID,
	c gasplan.Change) (out GasPlan, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		before, err := findGasPlan(ctx, tx, from)
		if err != nil {
			return err
		}
		asked, err := before.Asked.With(c)
		if err != nil {
			return err
		}
		out, created, err = s.store(ctx, by, tx, key,
			GasPlan{ID: key.ID, SessionID: before.SessionID, Asked: asked, Replaces: &from, Reason: &c.Reason,
				Before: &before.Result})
		return c.Pointed(err, asked)
	})
	return out, created, err
}

// store answers a plan that was stored before, or works it out and writes it.
func (s *Service) store(ctx context.Context, by actor.Actor, tx *pg.Tx, key once.Key, p GasPlan) (GasPlan, bool,
	error) {
	if there, found, err := pg.OptionalRow[[]byte](ctx, tx,
		`SELECT body_digest FROM gas_plan WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": key.ID}); err != nil || found {
		if err == nil {
			err = key.Replays(there)
		}
		if err != nil {
			return p, false, err
		}
		p, err = findGasPlan(ctx, tx, key.ID)
		return p, false, err
	}
	made, err := s.enrich(ctx, tx, p.SessionID, p.ID, p.Asked)
	if err != nil {
		return p, false, err
	}
	p.Input, p.Result, p.Findings, p.BodyDigest = made.Input, made.Result, made.Findings, key.Digest
	p.PlannedBy, p.PlannedAt = personOf(by), tx.Now
	var b pgx.Batch
	if err := p.queue(by, &b); err != nil {
		return p, false, err
	}
	return p, true, tx.Send(ctx, &b)
}

// queue adds the writing of a plan to a batch.
func (p GasPlan) queue(by actor.Actor, b *pgx.Batch) error {
	args := pgx.StrictNamedArgs{"id": p.ID, "session": p.SessionID, "dive": p.Asked.DiveID,
		"group": p.Asked.GroupID, "replaces": p.Replaces,
		"reason": p.Reason, "by": p.PlannedBy, "token": by.Token, "now": p.PlannedAt, "digest": p.BodyDigest}
	for name, v := range map[string]any{"asked": p.Asked, "input": p.Input, "result": p.Result,
		"findings": p.Findings} {
		text, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("store plan: %w", err)
		}
		args[name] = string(text)
	}
	b.Queue(`INSERT INTO gas_plan (centre_id, id, session_id, dive_id, group_id, replaces, reason, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
		VALUES (app_centre(), @id, @session, @dive, @group, @replaces, @reason, @asked::jsonb, @input::jsonb, @result::jsonb, @findings::jsonb, @by, @token, @now, @digest)`, args)
	b.Queue(`INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low_value, low_unit, turn_value, turn_unit, start_value, start_unit)
		SELECT app_centre(), @id, (x->>'participant_id')::uuid, (x->'low'->>'value')::numeric, x->'low'->>'unit', (x->'turn'->>'value')::numeric, x->'turn'->>'unit',
			(x->'start'->>'value')::numeric, x->'start'->>'unit'
		FROM jsonb_array_elements(@result::jsonb->'people') x`, pgx.StrictNamedArgs{"id": p.ID, "result": args["result"]})
	return nil
}

// personOf returns who is calling, nil for a program.
func personOf(by actor.Actor) *uuid.UUID {
	if by.Person == uuid.Nil {
		return nil
	}
	return &by.Person
}

// GasPlanOf reads one plan.
func (s *Service) GasPlanOf(ctx context.Context, by actor.Actor, id uuid.UUID) (out GasPlan, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findGasPlan(ctx, tx, id)
		return err
	})
	return out, err
}

// Worked returns the steps that lead to the plan's figures, worked out anew from
// the stored input. Fault: WrongState where today's rules come to other figures
// than were stored, since no steps lead there any more.
func (p GasPlan) Worked() ([]gasplan.WorkedSteps, error) {
	now, err := gasplan.Calculate(p.Input)
	if err != nil || !reflect.DeepEqual(p.Result.People, now.People) ||
		!reflect.DeepEqual(p.Result.Group, now.Group) {
		return nil, fault.WrongState("plan", "from rules that are no longer today's",
			"Plan again from it, and ask for the steps of the new plan.")
	}
	return gasplan.Explain(p.Input)
}

// GasPlans lists the plans of a session in the order of planning.
func (s *Service) GasPlans(ctx context.Context, by actor.Actor, session uuid.UUID,
	r page.Request) (out []GasPlan, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"session": session}
	from, order, err := r.SQL(page.Column{Name: "planned_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		there, err := pg.Row[bool](ctx, tx,
			`SELECT EXISTS (SELECT FROM sessions_session WHERE centre_id = app_centre() AND id = @session)`, pgx.StrictNamedArgs{"session": session})
		if err == nil && !there {
			err = fault.NoSuch("session")
		}
		if err != nil {
			return err
		}
		out, err = pg.Rows[GasPlan](ctx, tx, `SELECT * FROM (SELECT `+gasPlanColumns+gasPlanFrom+
			`WHERE p.centre_id = app_centre() AND p.session_id = @session) x
			WHERE `+from+` `+order, args)
		if err != nil {
			return err
		}
		out, next = page.Cut(r, out, func(p GasPlan) page.Place { return page.At(p.PlannedAt, p.ID) })
		return nil
	})
	return out, next, err
}
