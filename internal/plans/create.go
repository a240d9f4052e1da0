package plans

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/planview"
	"tankside/internal/ratio"
)

// Create plans the gas of a session, or of one group or dive of it, and stores the plan
// whatever its findings are. created is false when the same request was answered
// before. Faults: id_reused; not_found; invalid_request where nothing can be computed;
// unknown_reference for a dive, group or participant that is not of the session;
// wrong_state for a session that is over or has no water.
func (s *Service) Create(ctx context.Context, by actor.Actor, key once.Key, session uuid.UUID,
	a gasplan.PlanRequest) (out Plan, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, created, err = s.store(ctx, by, tx, key, Plan{ID: key.ID, SessionID: session, Asked: a})
		return err
	})
	return out, created, err
}

// Replan stores a new plan that is made from a stored one with a change: it names the
// plan before it, and Difference compares the two. Its results and faults are those of
// Create; a fault about the changed part points into the change.
func (s *Service) Replan(ctx context.Context, by actor.Actor, key once.Key, from uuid.UUID,
	c gasplan.Change) (out Plan, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		before, err := find(ctx, tx, from)
		if err != nil {
			return err
		}
		asked, err := before.Asked.With(c)
		if err != nil {
			return err
		}
		out, created, err = s.store(ctx, by, tx, key,
			Plan{ID: key.ID, SessionID: before.SessionID, Asked: asked, Replaces: &from, Reason: &c.Reason,
				Before: &before.Result})
		return c.Pointed(err, asked)
	})
	return out, created, err
}

// store returns the plan that was stored under the key, or computes the plan and writes
// it.
func (s *Service) store(ctx context.Context, by actor.Actor, tx *pg.Tx, key once.Key, p Plan) (Plan, bool,
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
		p, err = find(ctx, tx, key.ID)
		return p, false, err
	}
	session, err := s.sessions.Read(ctx, tx, p.SessionID)
	if err != nil {
		return p, false, err
	}
	made, err := compute(ctx, tx, session, p.ID, p.Asked)
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

// computed is a requested plan with everything that is known of the session and its
// divers, and its result.
type computed struct {
	Input    gasplan.Input
	Result   gasplan.Result
	Findings finding.List // of the rule books and of the session
}

// compute returns a requested plan of a session, computed from what is known now: one
// round trip for what its divers did before.
func compute(ctx context.Context, tx *pg.Tx, session planview.Session, plan uuid.UUID,
	a gasplan.PlanRequest) (out computed, err error) {
	if err := check(session, a); err != nil {
		return out, err
	}
	in := session.Input(a)
	// Input errors are reported before anything else is read.
	c, err := gasplan.Compute(in)
	if err != nil {
		return out, err
	}
	if in, err = session.WithPast(ctx, tx, in, a, c); err != nil {
		return out, err
	}
	if out.Result, err = gasplan.Calculate(in); err != nil {
		return out, err
	}
	out.Input = in
	out.Findings = aboutPlan(plan, append(slices.Clone(out.Result.Findings), judge(session, a)...))
	return out, nil
}

// check returns a fault for a session that no gas is planned for, and for a request that
// names something that is not of the session.
func check(s planview.Session, a gasplan.PlanRequest) error {
	if s.Kind == ratio.Theory {
		return fault.WrongState("session", "not in water", "Gas is planned for water sessions.")
	}
	if s.State != dayview.Planned && s.State != dayview.UnderWay {
		return fault.WrongState("session", string(s.State),
			"Gas is planned for a session that is planned or under way.")
	}
	if a.DiveID != nil && !slices.ContainsFunc(s.Dives,
		func(d dayview.Dive) bool { return d.ID == *a.DiveID }) {
		return fault.UnknownReference("dive of this session", "/dive_id")
	}
	if a.GroupID != nil {
		if _, there := s.Group(*a.GroupID); !there {
			return fault.UnknownReference("group of this session", "/group_id")
		}
	}
	for i, v := range a.Divers {
		if _, ok := s.Divers[*v.ParticipantID]; !ok {
			return fault.UnknownReference("participant of this session",
				fmt.Sprintf("/divers/%d/participant_id", i))
		}
	}
	return nil
}

// aboutPlan makes the plan the subject of findings without any, so that their cautions
// can be accepted for it.
func aboutPlan(plan uuid.UUID, found finding.List) finding.List {
	for i, f := range found {
		if len(f.Subjects) == 0 {
			found[i].Subjects = []finding.Subject{{Type: "gas_plan", ID: plan.String()}}
		}
	}
	return found
}

// queue adds the writing of a plan to a batch.
func (p Plan) queue(by actor.Actor, b *pgx.Batch) error {
	args := pgx.StrictNamedArgs{"id": p.ID, "session": p.SessionID, "dive": p.Asked.DiveID,
		"group": p.Asked.GroupID, "replaces": p.Replaces, "reason": p.Reason, "by": p.PlannedBy,
		"token": by.Token, "now": p.PlannedAt, "digest": p.BodyDigest}
	for name, v := range map[string]any{"asked": p.Asked, "input": p.Input, "result": p.Result,
		"findings": p.Findings} {
		text, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("store plan: %w", err)
		}
		args[name] = string(text)
	}
	b.Queue(`
		INSERT INTO gas_plan (centre_id, id, session_id, dive_id, group_id, replaces, reason,
			asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
		VALUES (app_centre(), @id, @session, @dive, @group, @replaces, @reason,
			@asked::jsonb, @input::jsonb, @result::jsonb, @findings::jsonb, @by, @token, @now, @digest)`, args)
	b.Queue(`
		INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low, turn, start)
		SELECT app_centre(), @id, x.participant_id, x.low, x.turn, x.start
		FROM jsonb_to_recordset(@result::jsonb->'people') AS x (participant_id uuid, low pressure, turn pressure,
			start pressure)`,
		pgx.StrictNamedArgs{"id": p.ID, "result": args["result"]})
	return nil
}

// personOf returns the calling person, nil for a program.
func personOf(by actor.Actor) *uuid.UUID {
	if by.Person == uuid.Nil {
		return nil
	}
	return &by.Person
}
