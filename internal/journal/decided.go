package journal

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// Decided is a decision as it was kept.
type Decided struct {
	ID          uuid.UUID
	Kind        string
	SubjectType string
	SubjectID   uuid.UUID
	DecidedAt   time.Time
	PersonID    *uuid.UUID // nil: a program decided
	PersonName  *string
	TokenID     uuid.UUID
	JudgedOn    []byte       // JSON
	Findings    finding.List // each caution with who accepted it, of FindDecision and Decisions
	Accepted    []Acceptance
}

// Subject returns what was decided about.
func (d Decided) Subject() finding.Subject {
	return finding.Subject{Type: d.SubjectType, ID: d.SubjectID.String()}
}

const decidedColumns = `d.id, d.kind, d.subject_type, d.subject_id, d.decided_at, d.person_id,
	n.name AS person_name, d.token_id, d.judged_on, d.findings, d.accepted`

const decidedFrom = ` FROM decision d
	LEFT JOIN people_person n ON n.centre_id = d.centre_id AND n.id = d.person_id `

// FindDecision reads one decision. Fault: not_found.
func FindDecision(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Decided, error) {
	d, found, err := pg.OptionalRow[Decided](ctx, tx, `SELECT `+decidedColumns+decidedFrom+`
		WHERE d.centre_id = app_centre() AND d.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("decision")
	}
	if err != nil {
		return d, err
	}
	list := []Decided{d}
	err = showAccepted(ctx, tx, list)
	return list[0], err
}

// Decisions returns the decisions about a subject, from a transaction of pg.DB.Browse.
func Decisions(ctx context.Context, tx *pg.Tx, about finding.Subject,
	p page.Request) (out []Decided, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"type": about.Type, "subject": about.ID}
	from, order, err := p.SQL(page.Column{Name: "decided_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	rows, err := pg.Rows[Decided](ctx, tx, `SELECT * FROM (
			SELECT `+decidedColumns+decidedFrom+`
			WHERE d.centre_id = app_centre() AND d.subject_type = @type AND d.subject_id = @subject::uuid) d
		WHERE `+from+` `+order, args)
	if err != nil {
		return nil, nil, err
	}
	out, next = page.Cut(p, rows, func(d Decided) page.Place { return page.At(d.DecidedAt, d.ID) })
	return out, next, showAccepted(ctx, tx, out)
}

// DecisionsFrom returns the ids of the decisions that were made from one moment up to
// and not including another, in their order, after the place of a decision.
func DecisionsFrom(ctx context.Context, tx *pg.Tx, from, to time.Time, p page.Request) (ids []uuid.UUID,
	next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"from": from, "to": to}
	begin, order, err := p.SQL(page.Column{Name: "decided_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	type row struct {
		ID        uuid.UUID
		DecidedAt time.Time
	}
	rows, err := pg.Rows[row](ctx, tx, `SELECT id, decided_at
		FROM decision
		WHERE centre_id = app_centre() AND decided_at >= @from AND decided_at < @to AND `+begin+` `+order, args)
	if err != nil {
		return nil, nil, err
	}
	rows, next = page.Cut(p, rows, func(r row) page.Place { return page.At(r.DecidedAt, r.ID) })
	for _, r := range rows {
		ids = append(ids, r.ID)
	}
	return ids, next, nil
}

// showAccepted adds to the findings of decisions who accepted each caution, in them or
// in a decision about the same subject before.
func showAccepted(ctx context.Context, tx *pg.Tx, list []Decided) error {
	subjects := map[string][]uuid.UUID{}
	for _, d := range list {
		if d.Findings.Has(finding.Caution) {
			subjects[d.SubjectType] = append(subjects[d.SubjectType], d.SubjectID)
		}
	}
	for kind, ids := range subjects {
		all, err := AcceptedOf(ctx, tx, kind, ids)
		if err != nil {
			return err
		}
		for i, d := range list {
			if d.SubjectType == kind {
				list[i].Findings = WithAcceptances(d.Findings, d.upTo(all[d.SubjectID]))
			}
		}
	}
	return nil
}

// upTo returns the acceptances that the decision rests on: its own first, then those
// that were made before.
func (d Decided) upTo(all []Acceptance) []Acceptance {
	var out, before []Acceptance
	for _, a := range d.Accepted {
		if d.PersonID != nil && d.PersonName != nil {
			a.By, a.ByName, a.At = *d.PersonID, *d.PersonName, d.DecidedAt
		}
		out = append(out, a)
	}
	for _, a := range all {
		if a.At.Before(d.DecidedAt) {
			before = append(before, a)
		}
	}
	return append(out, before...)
}
