package assessment

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// signOffBody is what the ledger keeps of a sign-off.
type signOffBody struct {
	Skill       string            `json:"skill"`
	Round       int               `json:"round"`
	Session     uuid.UUID         `json:"session_id"`
	SignedBy    uuid.UUID         `json:"signed_by"`
	WitnessedOn string            `json:"witnessed_on"`
	RestsOn     []uuid.UUID       `json:"rests_on"`
	Attempts    []uuid.UUID       `json:"attempts"`
	Evidence    []ledger.Evidence `json:"evidence"` // the attempts and gas checks, with their digests
	Findings    ledger.Hash       `json:"findings"`
	Rules       []string          `json:"rules"` // of the findings, without their prose
	Syllabus    uuid.UUID         `json:"syllabus_id"`
	Number      int               `json:"syllabus_number"`
	Papers      []paperRow        `json:"papers"`
	SignedAt    *time.Time        `json:"signed_at"`      // of one made without coverage
	FromWater   *bool             `json:"from_water"`     // null for false
	Named       *bool             `json:"evidence_named"` // null for true
}

const insertSignOffs = `
	INSERT INTO sign_off (centre_id, id, enrolment_id, skill, round, session_id, signed_by, witnessed_on,
		signed_at, recorded_at, from_water,
		evidence, evidence_named, rests_on, findings, body_digest)
	SELECT app_centre(), x.id, x.enrolment_id, x.skill, x.round, @session, @by, @day,
		COALESCE(x.signed_at, @now), @now, x.signed_at IS NOT NULL,
		x.evidence, x.evidence_named, x.rests_on, x.findings, decode(x.digest, 'base64')
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, enrolment_id uuid, skill text, round int,
		signed_at timestamptz, evidence uuid[], evidence_named boolean,
		rests_on uuid[], findings jsonb, digest text)`

// write inserts what was signed, set-wise, with the ledger and the decisions.
func (c *signCase) write(ctx context.Context, by actor.Actor, tx *pg.Tx) error {
	if len(c.signed) == 0 {
		return nil
	}
	evidence, err := c.gather(ctx, tx)
	if err != nil {
		return err
	}
	rows := make([]map[string]any, len(c.signed))
	entries := make([]ledger.Entry, len(c.signed))
	decisions := make([]journal.Decision, len(c.signed))
	for i, o := range c.signed {
		rows[i] = map[string]any{"id": o.ID, "enrolment_id": o.EnrolmentID, "skill": o.Skill, "round": o.round,
			"signed_at": o.SignedAt,
			"evidence":  o.evidence, "evidence_named": o.evidenceNamed(), "rests_on": o.restsOn,
			"findings": append(finding.List{}, o.found...), "digest": o.digest}
		salt := ledger.NewSalt()
		body, err := c.body(o, evidence, salt)
		if err != nil {
			return err
		}
		entries[i] = ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: o.EnrolmentID},
			Kind: ledger.SignOff, Ref: o.ID, Salt: salt, Body: body}
		decisions[i] = journal.Decision{Kind: "sign_off",
			Subject:  finding.Subject{Type: "enrolment", ID: o.EnrolmentID.String()},
			JudgedOn: o.judgedOn(body), Findings: o.found, Accepted: o.Accept}
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return fmt.Errorf("sign off: %w", err)
	}
	var b pgx.Batch
	b.Queue(insertSignOffs, pgx.StrictNamedArgs{"rows": string(text), "session": c.session.ID, "by": c.person,
		"day": c.session.OnDay, "now": tx.Now})
	accepted, err := journal.QueueDecisions(ctx, by, tx, &b, decisions)
	if err != nil {
		return err
	}
	tx.SendLater(&b)
	return ledger.AppendAll(ctx, by, tx, append(entries, accepted...))
}

// evidenceNamed reports whether the evidence is what the signer named, or what was
// there when an instructor signed in coverage; otherwise it is found on reading.
func (o signed) evidenceNamed() bool { return o.Evidence != nil || !o.fromWater() }

func (c *signCase) body(o signed, evidence map[uuid.UUID]ledger.Seen, salt ledger.Salt) (signOffBody, error) {
	e := c.all[o.EnrolmentID]
	found, err := salt.Digest(append(finding.List{}, o.found...))
	var water, named *bool
	if o.fromWater() {
		water = new(true)
	}
	if !o.evidenceNamed() {
		named = new(false)
	}
	return signOffBody{Skill: o.Skill, Round: o.round, Session: c.session.ID, SignedBy: c.person,
		WitnessedOn: c.session.OnDay.Format(time.DateOnly),
		RestsOn:     o.restsOn, Attempts: o.evidence,
		Evidence: pick(evidence, salt, slices.Concat(o.evidence, o.checks)...), Findings: found,
		Rules:    rulesOf(o.found),
		Syllabus: e.SyllabusID, Number: e.SyllabusNo, Papers: append([]paperRow{},
			c.papers...), SignedAt: o.SignedAt, FromWater: water, Named: named}, err
}

func rulesOf(l finding.List) []string {
	out := make([]string, 0, len(l))
	for _, f := range l {
		out = append(out, f.Rule)
	}
	return out
}
