package journal

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
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// Decision is one decision with what it was judged on.
type Decision struct {
	Kind     string          // "create_placements", "sign_off", ...
	Subject  finding.Subject // what was decided about; its ID is a UUID
	JudgedOn any             // a decision.JudgedOn: written as JSON
	Findings finding.List
	Accepted []Acceptance
}

// RequireAccepted returns the findings of a decision with who accepted each caution, and a fault when they do
// not let it stand: something forbids, or a caution was accepted neither by the caller now nor by
// anybody before. A program can accept nothing. The fault carries the findings in the same form.
func RequireAccepted(by actor.Actor, found finding.List, accepted []Acceptance,
	before ...Acceptance) (finding.List, error) {
	found = Pending(found, slices.Concat(accepted, before))
	if found.Forbids() {
		return found, fault.RefusedBy(found)
	}
	if len(accepted) > 0 && by.IsProgram() {
		return found, fault.MissingRole("a person; a program cannot accept a caution")
	}
	if slices.ContainsFunc(found, func(f finding.Finding) bool { return f.NeedsAcceptance }) {
		return found, fault.CautionsOpen(found)
	}
	return found, nil
}

// takenOn returns the acceptances that answer a caution of this decision. What was
// accepted and is no caution here, or is one no longer, is nothing that a person
// took on: it is left out of the record. To refuse it would refuse a decision
// because what spoke against it has gone since the caller looked. Each carries
// the type of its subject, so that it counts for nothing else under that id.
func takenOn(accepted []Acceptance, found finding.List) []Acceptance {
	out := []Acceptance{}
	for _, a := range accepted {
		for _, f := range found.Only(finding.Caution) {
			for _, s := range answerable(f.Subjects) {
				typed := Acceptance{Rule: a.Rule, SubjectType: s.Type, SubjectID: a.SubjectID, Reason: a.Reason}
				if a.Rule == f.Rule && a.means(s) && !slices.Contains(out, typed) {
					out = append(out, typed)
				}
			}
		}
	}
	return out
}

// Decide keeps a decision that was settled.
func Decide(ctx context.Context, by actor.Actor, tx *pg.Tx, d Decision) error {
	return DecideAll(ctx, by, tx, []Decision{d})
}

// DecideAll keeps decisions that were settled, all in one statement; for each
// one with accepted cautions the ledger gets an entry.
func DecideAll(ctx context.Context, by actor.Actor, tx *pg.Tx, decisions []Decision) error {
	var b pgx.Batch
	entries, err := QueueDecisions(ctx, by, tx, &b, decisions)
	if err != nil {
		return err
	}
	tx.SendLater(&b)
	return ledger.AppendAll(ctx, by, tx, entries)
}

// QueueDecisions is DecideAll as a part of a batch. The caller appends the
// entries, for cautions that were accepted, to the ledger once it was sent.
func QueueDecisions(ctx context.Context, by actor.Actor, tx *pg.Tx, b *pgx.Batch,
	decisions []Decision) ([]ledger.Entry, error) {
	var entries []ledger.Entry
	rows := make([]decisionRow, len(decisions))
	for i, d := range decisions {
		subject, err := uuid.Parse(d.Subject.ID)
		if err != nil {
			return nil, fmt.Errorf("keep decision: %w", err)
		}
		rows[i] = decisionRow{ID: uuid.New(), Kind: d.Kind, SubjectType: d.Subject.Type, SubjectID: subject,
			JudgedOn: d.JudgedOn,
			Findings: append(finding.List{}, d.Findings...), Accepted: takenOn(d.Accepted, d.Findings)}
		if len(rows[i].Accepted) > 0 {
			salt := ledger.NewSalt()
			body, err := acceptedBody(rows[i], salt)
			if err != nil {
				return nil, fmt.Errorf("keep decision: %w", err)
			}
			entries = append(entries,
				ledger.Entry{Subject: ledger.Subject{Type: d.Subject.Type, ID: subject},
					Kind: ledger.CautionAccepted,
					Ref:  rows[i].ID, Body: body, Salt: salt})
		}
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return nil, fmt.Errorf("keep decision: %w", err)
	}
	b.Queue(`INSERT INTO decision (centre_id, id, kind, subject_type, subject_id, decided_at, person_id,
			token_id, judged_on, findings, accepted)
		SELECT app_centre(), x.id, x.kind, x.subject_type, x.subject_id, @now, @person, @token,
			x.judged_on, x.findings, x.accepted
		FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, kind text, subject_type text, subject_id uuid,
			judged_on jsonb, findings jsonb, accepted jsonb)`,
		pgx.StrictNamedArgs{"rows": string(text), "now": tx.Now, "person": orNull(by.Person),
			"token": by.Token})
	return entries, nil
}

// decisionRow is a decision as its table has it.
type decisionRow struct {
	ID          uuid.UUID    `json:"id"`
	Kind        string       `json:"kind"`
	SubjectType string       `json:"subject_type"`
	SubjectID   uuid.UUID    `json:"subject_id"`
	JudgedOn    any          `json:"judged_on"`
	Findings    finding.List `json:"findings"`
	Accepted    []Acceptance `json:"accepted"`
}

// acceptances is what the ledger keeps of accepted cautions: of each reason,
// which somebody wrote, only the hash.
type acceptances struct {
	Decision    string      `json:"decision"`
	SubjectType string      `json:"subject_type"`
	Accepted    []accepted  `json:"accepted"`
	JudgedOn    ledger.Hash `json:"judged_on"`
	Findings    ledger.Hash `json:"findings"`
}

type accepted struct {
	Rule        string      `json:"rule"`
	SubjectType string      `json:"subject_type,omitempty"`
	SubjectID   string      `json:"subject_id"`
	Reason      ledger.Hash `json:"reason"`
}

func acceptedBody(d decisionRow, salt ledger.Salt) (out acceptances, err error) {
	out = acceptances{Decision: d.Kind, SubjectType: d.SubjectType}
	for _, a := range d.Accepted {
		out.Accepted = append(out.Accepted, accepted{a.Rule, a.SubjectType, a.SubjectID, salt.Text(a.Reason)})
	}
	if out.JudgedOn, err = salt.Digest(d.JudgedOn); err != nil {
		return out, err
	}
	out.Findings, err = salt.Digest(d.Findings)
	return out, err
}

// Ledger is where the decisions are whose cautions somebody accepted, and the
// voids of what was witnessed.
var Ledger = ledger.Sources{Decided: []ledger.Decided{{Kind: ledger.EntryVoid, SQL: voids},
	{Kind: ledger.CautionAccepted, SQL: `
	SELECT id AS ref, subject_id AS subject, decided_at AS at, person_id AS person, token_id AS token,
		kind AS decision, subject_type,
		judged_on, findings, accepted
	FROM decision WHERE centre_id = @centre AND accepted <> '[]'`}}}
