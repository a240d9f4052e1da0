package plans

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/planview"
	"tankside/internal/readiness"
)

// Confirm makes a plan the plan of record and supersedes the one that was confirmed
// before for the same dive and group. It is a person's decision, judged by what is known
// at that moment: who is there, what the water is like, who has dived since. It is
// refused while anything is forbidden, while what is known now asks for higher pressures
// than the plan's, and until the person has accepted each caution. A finding names those
// who were briefed with other pressures. Confirming a confirmed plan again changes
// nothing. Faults: not_found; refused; wrong_state for a superseded or withdrawn plan.
func (s *Service) Confirm(ctx context.Context, by actor.Actor, id uuid.UUID,
	accept []journal.Acceptance) (out Plan, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := readConfirming(ctx, by, tx, id)
		if err != nil {
			return err
		}
		out = c.plan
		switch out.State() {
		case "confirmed":
			return nil
		case "superseded", "withdrawn":
			return fault.WrongState("plan", out.State(), "Plan again from it, and confirm the new plan.")
		}
		found, err := s.judgeAgain(ctx, tx, &c)
		if err != nil {
			return err
		}
		accept = journal.AcceptedBy(accept, by.Person, c.name, tx.Now)
		found, err = journal.RequireAccepted(by, found.InSession(out.SessionID.String()), accept)
		if err != nil {
			return err
		}
		out, err = c.confirmed(ctx, by, tx, found, accept)
		return err
	})
	return out, err
}

// confirming is a plan to be confirmed, with its session, which is locked.
type confirming struct {
	plan     Plan
	view     dayview.View
	name     string // of the person who confirms
	judgedOn decision.GasPlan
}

// lockSessionSQL locks the session of a plan.
const lockSessionSQL = `
	SELECT s.id
	FROM sessions_session s
	WHERE s.centre_id = app_centre() AND s.id = (
		SELECT p.session_id
		FROM gas_plan p
		WHERE p.centre_id = app_centre() AND p.id BETWEEN @id AND @id
		ORDER BY p.id)
	FOR NO KEY UPDATE`

// readConfirming locks the session of a plan, then reads the plan and the session. Fault:
// not_found.
func readConfirming(ctx context.Context, by actor.Actor, tx *pg.Tx, plan uuid.UUID) (c confirming, err error) {
	var b pgx.Batch
	var plans []Plan
	var names []string
	args := pgx.StrictNamedArgs{"id": plan}
	b.Queue(lockSessionSQL, args)
	pg.QueueRows(&b, &plans, planSQL, args)
	pg.QueueRows(&b, &names, `SELECT name FROM people_person WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": by.Person})
	rows := dayview.Query{Plan: &plan, Want: planview.Parts | dayview.Told}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return c, err
	}
	if len(plans) == 0 {
		return c, fault.NoSuch("plan")
	}
	c.plan, c.name = plans[0], strings.Join(names, "")
	c.view, err = rows.View()
	return c, err
}

// judgeAgain returns the findings about a plan by what is known now, and keeps what it
// was judged on.
func (s *Service) judgeAgain(ctx context.Context, tx *pg.Tx, c *confirming) (finding.List, error) {
	asked := c.plan.Asked
	session, err := s.sessions.Of(ctx, tx, c.view)
	if err != nil {
		return nil, err
	}
	session.SetReported(&asked.Dive)
	now, err := compute(ctx, tx, session, c.plan.ID, asked)
	if err != nil {
		return nil, err
	}
	c.judgedOn = judgedOn(c.plan, session, now)
	return slices.Concat(now.Findings, overtaken(c.plan.Result, now.Result),
		readiness.BriefAgainBy(c.view, c.plan.asConfirmed(tx.Now))), nil
}

// asConfirmed returns the rows of the read model that the plan has once it is confirmed:
// one for each participant.
func (p Plan) asConfirmed(now time.Time) (out []dayview.Plan) {
	for _, x := range p.Result.People {
		if x.ParticipantID == nil {
			continue
		}
		out = append(out, dayview.Plan{SessionID: p.SessionID, ParticipantID: *x.ParticipantID,
			DiveID: p.DiveID, PlanID: p.ID, ConfirmedAt: now,
			StartPressure: x.Start.Reading(), TurnPressure: x.Turn.Reading(), LowPressure: x.Low.Reading()})
	}
	return out
}

// turn returns the turn of the session's next confirmed plan.
func (c confirming) turn() int {
	last := 0
	for _, p := range c.view.Plans {
		last = max(last, p.Turn)
	}
	return last + 1
}

// confirmation is the ledger's body of a confirmed plan.
type confirmation struct {
	DiveID   *uuid.UUID  `json:"dive_id"`
	GroupID  *uuid.UUID  `json:"group_id"`
	Turn     int         `json:"turn"`
	Input    ledger.Hash `json:"input"`
	Result   ledger.Hash `json:"result"`
	Findings ledger.Hash `json:"findings"`
	Accepted ledger.Hash `json:"accepted"`
}

// Ledger has the statements that read the decided rows of this package.
var Ledger = ledger.Sources{Decided: []ledger.Decided{
	{Kind: ledger.PlanWithdrawn, SQL: withdrawalsSQL},
	{Kind: ledger.PlanConfirmed, SQL: `
		SELECT c.plan_id AS ref, c.session_id AS subject, c.confirmed_at AS at, c.confirmed_by AS person,
			c.token_id AS token, c.dive_id, c.group_id, c.turn, p.input, p.result, c.findings, c.accepted
		FROM gas_plan_confirmed c
		JOIN gas_plan p ON p.centre_id = c.centre_id AND p.id = c.plan_id
		WHERE c.centre_id = @centre`}}}

// confirmed writes the decision, with what it was judged on, and the ledger entry, and
// returns the confirmed plan. The session is locked.
func (c confirming) confirmed(ctx context.Context, by actor.Actor, tx *pg.Tx, found finding.List,
	accept []journal.Acceptance) (Plan, error) {
	p, turn := c.plan, c.turn()
	found, accept = append(finding.List{}, found...), append([]journal.Acceptance{}, accept...)
	text := map[string]string{}
	for name, v := range map[string]any{"findings": found, "accepted": accept} {
		raw, err := json.Marshal(v)
		if err != nil {
			return p, fmt.Errorf("confirm plan: %w", err)
		}
		text[name] = string(raw)
	}
	var b pgx.Batch
	b.Queue(`
		INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, group_id, turn,
			findings, accepted, confirmed_by, token_id, confirmed_at)
		VALUES (app_centre(), @id, @session, @dive, @group, @turn,
			@findings::jsonb, @accepted::jsonb, @by, @token, @now)`,
		pgx.StrictNamedArgs{"id": p.ID, "session": p.SessionID, "dive": p.DiveID, "group": p.GroupID,
			"turn": turn, "findings": text["findings"],
			"accepted": text["accepted"], "by": by.Person, "token": by.Token, "now": tx.Now})
	entries, err := journal.QueueDecisions(ctx, by, tx, &b,
		[]journal.Decision{{Kind: "confirm_plan",
			Subject:  finding.Subject{Type: "session", ID: p.SessionID.String()},
			JudgedOn: decision.JudgedOn{GasPlan: &c.judgedOn}.Stamped(), Findings: found, Accepted: accept}})
	if err != nil {
		return p, err
	}
	tx.SendLater(&b)
	salt := ledger.NewSalt()
	body, err := p.ledgerBody(salt, turn, found, accept)
	if err != nil {
		return p, fmt.Errorf("confirm plan: %w", err)
	}
	p.ConfirmedBy, p.ConfirmedAt, p.Confirmed, p.Accepted = &by.Person, &tx.Now, found, accept
	if len(accept) > 0 {
		p.ConfirmedName = &accept[0].ByName
	}
	return p, ledger.AppendAll(ctx, by, tx,
		append(entries, ledger.Entry{Subject: ledger.Subject{Type: "session", ID: p.SessionID},
			Kind: ledger.PlanConfirmed, Ref: p.ID, Salt: salt, Body: body}))
}

// ledgerBody returns the ledger's body of the plan, confirmed in a turn.
func (p Plan) ledgerBody(salt ledger.Salt, turn int, found finding.List,
	accept []journal.Acceptance) (body confirmation, err error) {
	body = confirmation{DiveID: p.DiveID, GroupID: p.GroupID, Turn: turn}
	for _, h := range []struct {
		into *ledger.Hash
		of   any
	}{{&body.Input, p.Input}, {&body.Result, p.Result}, {&body.Findings, found}, {&body.Accepted, accept}} {
		if *h.into, err = salt.Digest(h.of); err != nil {
			return body, err
		}
	}
	return body, nil
}
