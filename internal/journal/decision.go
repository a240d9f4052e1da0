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
	_, err = tx.Do(ctx, `INSERT INTO decision (centre_id, id, kind, subject_type, subject_id, decided_at, person_id, token_id, judged, findings, accepted)
		VALUES (app_centre(), @id, @kind, @type, @subject, @now, @person, @token, @judged, @findings, @accepted)`,
		pgx.StrictNamedArgs{"id": uuid.New(), "kind": d.Kind, "type": d.Subject.Type, "subject": d.Subject.ID, "now": tx.Now,
			"person": orNull(who.Person), "token": who.Token, "judged": string(judged), "findings": found, "accepted": string(accepted)})
	return err
}

// Ask is how a decision is asked for.
type Ask struct {
	DryRun bool         // judge and leave nothing
	Accept []Acceptance // cautions that the caller takes on
}

// Run runs a use case that decides, for real or as a dry run.
func (a Ask) Run(ctx context.Context, db *pg.DB, fn func(ctx context.Context, tx *pg.Tx) error) error {
	centre := actor.From(ctx).Centre
	if a.DryRun {
		return db.Try(ctx, centre, fn)
	}
	return db.In(ctx, centre, fn)
}
