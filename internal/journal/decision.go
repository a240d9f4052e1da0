package journal

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// Acceptance is a person's word that one caution is taken on, and why.
type Acceptance struct {
	Rule      string `json:"rule"`
	SubjectID string `json:"subject_id"`
	Reason    string `json:"reason"`
}

// Decision is one decision with what it was judged on.
type Decision struct {
	Kind     string          // "place", "sign_off", ...
	Subject  finding.Subject // what was decided about; its ID is a UUID
	Judged   any             // ages, papers, crew, conditions, rule books with versions: written as JSON
	Findings finding.List
	Accepted []Acceptance
}

// Settle gives a fault when the findings do not let a decision stand: something
// forbids, or a caution is open that nobody accepted, neither the caller now
// nor somebody before. A program can accept nothing. A caution is accepted by
// its rule and the id of any of its subjects.
func Settle(who actor.Actor, found finding.List, accepted []Acceptance, before ...Acceptance) error {
	if found.Forbids() {
		return fault.RefusedBy(found)
	}
	if len(accepted) > 0 && who.IsProgram() {
		return fault.MissingRole("a person; a program cannot accept a caution")
	}
	for _, f := range found.Only(finding.Caution) {
		if !accepts(accepted, f) && !accepts(before, f) {
			return fault.CautionsOpen(found)
		}
	}
	return nil
}

func accepts(accepted []Acceptance, f finding.Finding) bool {
	for _, a := range accepted {
		if a.Rule != f.Rule {
			continue
		}
		for _, s := range f.Subjects {
			if s.ID == a.SubjectID {
				return true
			}
		}
	}
	return false
}

// Decide keeps a decision that was settled.
func Decide(ctx context.Context, tx *pg.Tx, d Decision) error {
	who := actor.From(ctx)
	judged, err := json.Marshal(d.Judged)
	if err != nil {
		return fmt.Errorf("keep decision: %w", err)
	}
	found, err := storedFindings(d.Findings)
	if err != nil {
		return fmt.Errorf("keep decision: %w", err)
	}
	accepted, err := json.Marshal(append([]Acceptance{}, d.Accepted...))
	if err != nil {
		return fmt.Errorf("keep decision: %w", err)
	}
	id, subject := uuid.New(), uuid.Nil
	if subject, err = uuid.Parse(d.Subject.ID); err != nil {
		return fmt.Errorf("keep decision: %w", err)
	}
	if _, err := tx.Do(ctx, `INSERT INTO decision (centre_id, id, kind, subject_type, subject_id, decided_at, person_id, token_id, judged, findings, accepted)
		VALUES (app_centre(), @id, @kind, @type, @subject, @now, @person, @token, @judged, @findings, @accepted)`,
		pgx.StrictNamedArgs{"id": id, "kind": d.Kind, "type": d.Subject.Type, "subject": subject, "now": tx.Now,
			"person": orNull(who.Person), "token": who.Token, "judged": string(judged), "findings": found, "accepted": string(accepted)}); err != nil {
		return err
	}
	if len(d.Accepted) == 0 {
		return nil
	}
	return ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: d.Subject.Type, ID: subject}, Kind: ledger.CautionAccepted, Ref: id,
		Body: acceptedBody(d)})
}

// acceptances is what the ledger keeps of accepted cautions: of each reason,
// which somebody wrote, only the hash.
type acceptances struct {
	Decision string     `json:"decision"`
	Accepted []accepted `json:"accepted"`
}

type accepted struct {
	Rule      string      `json:"rule"`
	SubjectID string      `json:"subject_id"`
	Reason    ledger.Hash `json:"reason"`
}

func acceptedBody(d Decision) acceptances {
	out := acceptances{Decision: d.Kind}
	for _, a := range d.Accepted {
		out.Accepted = append(out.Accepted, accepted{a.Rule, a.SubjectID, ledger.HashText(a.Reason)})
	}
	return out
}

// Ledger says where the decisions are whose cautions somebody accepted.
var Ledger = ledger.Sources{Decided: []ledger.Decided{{Kind: ledger.CautionAccepted, SQL: `
	SELECT id AS ref, subject_id AS subject, kind AS decision,
		(SELECT jsonb_agg(jsonb_build_object('rule', a->'rule', 'subject_id', a->'subject_id',
			'reason', encode(sha256(convert_to(a->>'reason', 'UTF8')), 'hex')) ORDER BY n)
		FROM jsonb_array_elements(accepted) WITH ORDINALITY AS x (a, n)) AS accepted
	FROM decision WHERE centre_id = @centre AND accepted <> '[]'`}}}

// Accepted gives the cautions that somebody accepted before in decisions about
// a subject.
func Accepted(ctx context.Context, tx *pg.Tx, subject uuid.UUID) ([]Acceptance, error) {
	return pg.Many[Acceptance](ctx, tx, `SELECT a->>'rule' AS rule, a->>'subject_id' AS subject_id, a->>'reason' AS reason
		FROM decision, jsonb_array_elements(accepted) a WHERE centre_id = app_centre() AND subject_id = @id`, pgx.StrictNamedArgs{"id": subject})
}
