package plans

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

// Withdraw takes a plan out of force, with a reason. A confirmed plan is withdrawn by an
// instructor or a manager, another by everybody who may plan. Withdrawing a withdrawn
// plan again changes nothing. Faults: not_found; missing_role; wrong_state for a
// superseded plan and for a session that is over.
func (s *Service) Withdraw(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out Plan,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = find(ctx, tx, id); err != nil {
			return err
		}
		state, err := lockSession(ctx, tx, out.SessionID)
		if err != nil {
			return err
		}
		if out, err = find(ctx, tx, id); err != nil {
			return err
		}
		if out.State() == "withdrawn" {
			return nil
		}
		if err := out.checkWithdrawal(by, state); err != nil {
			return err
		}
		if err := withdraw(ctx, by, tx, out, reason); err != nil {
			return err
		}
		out, err = find(ctx, tx, id)
		return err
	})
	return out, err
}

// lockSession locks a session and returns its state.
func lockSession(ctx context.Context, tx *pg.Tx, session uuid.UUID) (string, error) {
	args := pgx.StrictNamedArgs{"id": session}
	if _, err := tx.Do(ctx, `
		SELECT id
		FROM sessions_session
		WHERE centre_id = app_centre() AND id = @id
		FOR NO KEY UPDATE`, args); err != nil {
		return "", err
	}
	return pg.Row[string](ctx, tx,
		`SELECT state FROM sessions_session WHERE centre_id = app_centre() AND id = @id`, args)
}

// checkWithdrawal returns a fault where a plan cannot be withdrawn, or not by the
// caller.
func (p Plan) checkWithdrawal(by actor.Actor, session string) error {
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

// withdrawal is the ledger's body of a withdrawn plan: of the reason only the hash.
type withdrawal struct {
	Session uuid.UUID   `json:"session_id"`
	Reason  ledger.Hash `json:"reason"`
}

// withdrawalsSQL reads the withdrawn plans for the ledger.
const withdrawalsSQL = `
	SELECT plan_id AS ref, session_id AS subject, withdrawn_at AS at, withdrawn_by AS person,
		token_id AS token, session_id, reason
	FROM gas_plan_withdrawn
	WHERE centre_id = @centre`

// withdraw writes the withdrawal of a plan and its ledger entry. The session is locked.
func withdraw(ctx context.Context, by actor.Actor, tx *pg.Tx, p Plan, reason string) error {
	if _, err := tx.Do(ctx, `
		INSERT INTO gas_plan_withdrawn (centre_id, plan_id, session_id, reason, withdrawn_by, token_id,
			withdrawn_at)
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
