package planning

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// Withdraw records that nobody is to go by a plan any more, with the reason. A
// confirmed plan is withdrawn by an instructor or a manager, one that never was by
// whoever may plan. Again does no harm. Faults: not_found; missing_role;
// wrong_state for a superseded plan and for a session that is over.
func (s *Service) Withdraw(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out GasPlan,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findGasPlan(ctx, tx, id); err != nil {
			return err
		}
		state, err := lockPlanned(ctx, tx, out.SessionID)
		if err != nil {
			return err
		}
		if out, err = findGasPlan(ctx, tx, id); err != nil {
			return err
		}
		if out.State() == "withdrawn" {
			return nil
		}
		if err := out.checkWithdrawal(by, state); err != nil {
			return err
		}
		if err := withdrawn(ctx, by, tx, out, reason); err != nil {
			return err
		}
		out, err = findGasPlan(ctx, tx, id)
		return err
	})
	return out, err
}

// lockPlanned locks the session of a plan and returns its state.
func lockPlanned(ctx context.Context, tx *pg.Tx, session uuid.UUID) (string, error) {
	args := pgx.StrictNamedArgs{"id": session}
	if _, err := tx.Do(ctx, `SELECT id FROM sessions_session WHERE centre_id = app_centre() AND id = @id FOR NO KEY UPDATE`, args); err != nil {
		return "", err
	}
	return pg.Row[string](ctx, tx,
		`SELECT state FROM sessions_session WHERE centre_id = app_centre() AND id = @id`, args)
}

// checkWithdrawal returns a fault where a plan cannot be withdrawn, or not by the
// caller.
func (p GasPlan) checkWithdrawal(by actor.Actor, session string) error {
	switch {
	case p.State() == "superseded":
		return fault.WrongState("plan", "superseded",
			"Nobody goes by it. Withdraw the plan that was confirmed after it.")
	case session != "planned" && session != "under_way":
		return fault.WrongState("session", session, "The plans of a session that is over stay as they are.")
	case p.State() == "confirmed":
		return permission.Require("confirmGasPlan", by)
	}
	return nil
}

// withdrawal is what the ledger keeps of a withdrawn plan: of the reason only the
// hash.
type withdrawal struct {
	Session uuid.UUID   `json:"session_id"`
	Reason  ledger.Hash `json:"reason"`
}

// withdrawals are the withdrawn plans as the ledger has them.
const withdrawals = `SELECT plan_id AS ref, session_id AS subject, withdrawn_at AS at, withdrawn_by AS person, token_id AS token,
		session_id, reason
	FROM gas_plan_withdrawn WHERE centre_id = @centre`

// withdrawn writes that a plan is withdrawn, and the ledger. The session is locked.
func withdrawn(ctx context.Context, by actor.Actor, tx *pg.Tx, p GasPlan, reason string) error {
	if _, err := tx.Do(ctx, `INSERT INTO gas_plan_withdrawn (centre_id, plan_id, session_id, reason, withdrawn_by, token_id, withdrawn_at)
		VALUES (app_centre(), @id, @session, @reason, @by, @token, @now)`,
		pgx.StrictNamedArgs{"id": p.ID, "session": p.SessionID, "reason": reason, "by": personOf(by),
			"token": by.Token, "now": tx.Now}); err != nil {
		return err
	}
	salt := ledger.NewSalt()
	return ledger.Append(ctx, by, tx,
		ledger.Entry{Subject: ledger.Subject{Type: "session", ID: p.SessionID}, Kind: ledger.PlanWithdrawn,
			Ref:  p.ID,
			Body: withdrawal{p.SessionID, salt.Text(reason)}, Salt: salt})
}
