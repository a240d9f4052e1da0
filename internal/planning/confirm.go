package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// Confirm makes a plan the plan of record: a person's decision, judged by what
// is known at that moment (who is there, what the water is like, who has dived
// since), refused while anything is forbidden or what is known now asks for
// more than the plan says, and each caution accepted by that person for this
// plan. Whoever was briefed with other pressures is named. What was confirmed
// before for the same dive and group is superseded. Again does no harm; a
// superseded or withdrawn plan is WrongState.
func (s *Service) Confirm(ctx context.Context, id uuid.UUID, accept []journal.Acceptance) (out GasPlan, err error) {
	who := actor.From(ctx)
	if err := who.RequireRole("an instructor or a manager, with their own token", actor.Instructor, actor.Manager); err != nil {
		return out, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findGasPlan(ctx, tx, id); err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `SELECT id FROM sessions_session WHERE centre_id = app_centre() AND id = @id FOR NO KEY UPDATE`, pgx.StrictNamedArgs{"id": out.SessionID}); err != nil {
			return err
		}
		if out, err = findGasPlan(ctx, tx, id); err != nil {
			return err
		}
		switch out.State() {
		case "confirmed":
			return nil
		case "superseded", "withdrawn":
			return fault.WrongState("plan", out.State(), "Plan anew from it, and confirm the new plan.")
		}
		found, err := s.judgeNow(ctx, tx, out)
		if err != nil {
			return err
		}
		if err := journal.Settle(who, found, accept); err != nil {
			return err
		}
		if err := confirmed(ctx, tx, out, found, accept); err != nil {
			return err
		}
		out, err = findGasPlan(ctx, tx, id)
		return err
	})
	return out, err
}

// judgeNow judges a plan by what is known now.
func (s *Service) judgeNow(ctx context.Context, tx *pg.Tx, p GasPlan) (finding.List, error) {
	asked := p.Asked
	st, err := s.readPlanStage(ctx, tx, p.SessionID)
	if err != nil {
		return nil, err
	}
	st.report(&asked.Dive)
	now, err := s.enrichOn(ctx, tx, st, p.ID, asked)
	if err != nil {
		return nil, err
	}
	again, err := outdatedBy(ctx, tx, p)
	return slices.Concat(now.Findings, overtaken(p.Result, now.Result), briefAgain(again)), err
}

// confirmation is what the ledger keeps of a confirmed plan.
type confirmation struct {
	DiveID   *uuid.UUID  `json:"dive_id"`
	GroupID  *uuid.UUID  `json:"group_id"`
	Turn     int         `json:"turn"`
	Input    ledger.Hash `json:"input"`
	Result   ledger.Hash `json:"result"`
	Findings ledger.Hash `json:"findings"`
	Accepted ledger.Hash `json:"accepted"`
}

// Ledger says where the decided rows of this package are.
var Ledger = ledger.Sources{Decided: []ledger.Decided{{Kind: ledger.PlanWithdrawn, SQL: withdrawals}, {Kind: ledger.PlanConfirmed, SQL: `
	SELECT c.plan_id AS ref, c.session_id AS subject, c.confirmed_at AS at, c.confirmed_by AS person, c.token_id AS token, c.dive_id, c.group_id, c.turn,
		p.input, p.result, c.findings, c.accepted
	FROM gas_plan_confirmed c JOIN gas_plan p ON p.centre_id = c.centre_id AND p.id = c.plan_id WHERE c.centre_id = @centre`}}}

// confirmed writes the decision, with what it was judged on, and the ledger.
// The session is locked.
func confirmed(ctx context.Context, tx *pg.Tx, p GasPlan, found finding.List, accept []journal.Acceptance) error {
	who := actor.From(ctx)
	turn, err := pg.One[int](ctx, tx, `SELECT COALESCE(max(turn), 0) + 1 FROM gas_plan_confirmed WHERE centre_id = app_centre() AND session_id = @id`,
		pgx.StrictNamedArgs{"id": p.SessionID})
	if err != nil {
		return err
	}
	found, accept = append(finding.List{}, found...), append([]journal.Acceptance{}, accept...)
	text := map[string]string{}
	for name, v := range map[string]any{"findings": found, "accepted": accept} {
		raw, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("confirm plan: %w", err)
		}
		text[name] = string(raw)
	}
	if _, err := tx.Do(ctx, `INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, group_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
		VALUES (app_centre(), @id, @session, @dive, @group, @turn, @findings::jsonb, @accepted::jsonb, @by, @token, @now)`,
		pgx.StrictNamedArgs{"id": p.ID, "session": p.SessionID, "dive": p.DiveID, "group": p.GroupID, "turn": turn, "findings": text["findings"],
			"accepted": text["accepted"], "by": who.Person, "token": who.Token, "now": tx.Now}); err != nil {
		return err
	}
	if err := journal.Decide(ctx, tx, journal.Decision{Kind: "confirm_plan", Subject: finding.Subject{Type: "session", ID: p.SessionID.String()},
		Judged: map[string]any{"plan_id": p.ID, "rule_books": p.Result.RuleBooks}, Findings: found, Accepted: accept}); err != nil {
		return err
	}
	salt := ledger.NewSalt()
	body := confirmation{DiveID: p.DiveID, GroupID: p.GroupID, Turn: turn}
	for _, h := range []struct {
		into *ledger.Hash
		of   any
	}{{&body.Input, p.Input}, {&body.Result, p.Result}, {&body.Findings, found}, {&body.Accepted, accept}} {
		if *h.into, err = salt.Digest(h.of); err != nil {
			return fmt.Errorf("confirm plan: %w", err)
		}
	}
	return ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: "session", ID: p.SessionID}, Kind: ledger.PlanConfirmed, Ref: p.ID, Salt: salt, Body: body})
}
