package people

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/roster"
	"tankside/internal/wording"
)

// Paper is one recorded paper: its outcome and dates, never its text.
type Paper struct {
	ID       uuid.UUID
	PersonID uuid.UUID
	Kind     string // medical, consent, waiver, teaching_status, first_aid, oxygen_provider or insurance
	// Outcome of a medical is nothing_flagged, physician_needed, physician_approved or physician_refused;
	// any other paper is valid.
	Outcome    string
	IssuedOn   time.Time
	ValidUntil *time.Time // nil: does not expire
	SeenBy     *uuid.UUID // a member of the staff; nil: recorded by the operator, and SeenByName has the name
	SeenByName *string
	Reference  *string
	RecordedAt time.Time
	RecordedBy *uuid.UUID // nil: the operator
	VoidedAt   *time.Time
	VoidedBy   *uuid.UUID
	VoidReason *string
	PersonName string
	Findings   finding.List `db:"-"` // as of today, and of what was judged again because of it
}

// NewPaper asks to record a paper.
type NewPaper struct {
	once.Key
	PersonID   uuid.UUID
	Kind       string
	Outcome    string
	IssuedOn   time.Time
	ValidUntil *time.Time
	SeenBy     *uuid.UUID // nil: the caller
	SeenByName *string    // for the operator's record only: the name of the person who saw it
	Reference  *string
}

const paperColumns = `x.id, x.person_id, x.kind, x.outcome, x.issued_on, x.valid_until, x.seen_by,
	x.seen_by_name, x.reference, x.recorded_at, x.recorded_by,
	v.voided_at, v.voided_by, v.reason AS void_reason, n.name AS person_name`

var papers = records[Paper]{what: "paper", list: "listPapers", columns: paperColumns,
	order: "x.issued_on DESC, x.recorded_at DESC, x.id",
	from: ` FROM paper x
		JOIN person n ON n.centre_id = x.centre_id AND n.id = x.person_id
		LEFT JOIN paper_void v ON v.centre_id = x.centre_id AND v.paper_id = x.id `,
	seen: func(p *Paper, today roster.Day) uuid.UUID { p.Findings = p.judge(today); return p.PersonID }}

// judge returns the findings about a valid paper: that it is not in force today, and
// that a medical needs a physician.
func (p Paper) judge(today roster.Day) finding.List {
	if p.VoidedAt != nil {
		return nil
	}
	var out finding.List
	x := roster.Paper{ID: p.ID.String(), Kind: roster.Kind(p.Kind), Outcome: p.Outcome,
		IssuedOn: roster.Day(p.IssuedOn.Format(time.DateOnly))}
	if p.ValidUntil != nil {
		x.ValidUntil = roster.Day(p.ValidUntil.Format(time.DateOnly))
	}
	subjects := []finding.Subject{{Type: "person", ID: p.PersonID.String()}, {Type: "paper", ID: x.ID}}
	cure := []finding.Cure{{Code: "record_paper",
		Message: "Record the one that is in force, or void this one if it was entered wrongly."}}
	kind := strings.ReplaceAll(p.Kind, "_", " ")
	if p.SeenByName != nil {
		f := NotSeenHere.Say("The operator recorded this {paper} of {person}, which {seen_by} saw. "+
			"It was not seen by a second person here.",
			kind, finding.Person(p.PersonID, p.PersonName), *p.SeenByName).About(subjects...)
		f.Cures = []finding.Cure{{Code: "record_paper",
			Message: "As soon as another member of the staff has seen it, let them record it."}}
		out = append(out, f)
	}
	switch {
	case x.ValidUntil != "" && x.ValidUntil < today:
		f := PaperNotInForce.Say("This {paper} of {person} lapsed on {valid_until}; today is {today}.", kind,
			finding.Person(p.PersonID, p.PersonName), x.ValidUntil, today).About(subjects...)
		f.Limit, f.Found, f.Cures = finding.Day(string(today)), finding.Day(string(x.ValidUntil)), cure
		out = append(out, f)
	case x.IssuedOn > today:
		f := PaperNotInForce.Say("This {paper} of {person} counts from {issued_on} on; today is {today}.",
			kind, finding.Person(p.PersonID, p.PersonName), x.IssuedOn, today).About(subjects...)
		f.Limit, f.Found, f.Cures = finding.Day(string(today)), finding.Day(string(x.IssuedOn)), cure
		out = append(out, f)
	}
	if p.Kind != "medical" {
		return out
	}
	who := roster.Person{ID: p.PersonID.String(), Name: p.PersonName, Papers: []roster.Paper{x}}
	for _, f := range roster.Water(roster.Demands{}, who, max(today, x.IssuedOn), roster.Planning) {
		if f.Rule == roster.MedicalFlagged.ID {
			out = append(out, f)
		}
	}
	return out
}

// PaperKinds are the kinds of paper, as in the contract and the table.
var PaperKinds = []string{"medical", "consent", "waiver", "teaching_status", "first_aid",
	"oxygen_provider", "insurance"}

// MedicalOutcomes are the outcomes of a medical; every other paper is valid.
var MedicalOutcomes = []string{"nothing_flagged", "physician_needed", "physician_approved",
	"physician_refused"}

// CheckOperatorsPaper returns an error for an invalid paper that reaches the service
// through a command, where the contract's schema checks nothing.
func CheckOperatorsPaper(n NewPaper, seenBy string) error {
	if !slices.Contains(PaperKinds, n.Kind) {
		return fmt.Errorf("there is no kind %q of paper: want %s", n.Kind, strings.Join(PaperKinds, ", "))
	}
	if n.Kind == "medical" && !slices.Contains(MedicalOutcomes, n.Outcome) {
		return fmt.Errorf("a medical has no outcome %q: want %s", n.Outcome,
			strings.Join(MedicalOutcomes, ", "))
	}
	if seenBy == "" || len([]rune(seenBy)) > 200 {
		return errors.New("-seen-by wants the name of whoever saw the document, with at most 200 characters")
	}
	if wrong := wording.OneLine(seenBy); wrong != "" {
		return errors.New("-seen-by: " + wrong)
	}
	if n.Reference == nil {
		return n.check()
	}
	if wrong := wording.OneLine(*n.Reference); wrong != "" || len([]rune(*n.Reference)) > 200 {
		return errors.New("-reference wants one line with at most 200 characters. " + wrong)
	}
	return n.check()
}

// Ledger names the tables with the decided rows of this package.
var Ledger = ledger.Sources{Decided: []ledger.Decided{
	{Kind: ledger.IdentityCorrected, SQL: `SELECT id AS ref, person_id AS subject, corrected_at AS at,
		corrected_by AS person, member, before, after, reason
		FROM person_correction WHERE centre_id = @centre`},
	{Kind: ledger.Paper, SQL: `SELECT id AS ref, person_id AS subject, recorded_at AS at,
		recorded_by AS person, kind, outcome, issued_on, valid_until, seen_by, seen_by_name, reference
		FROM paper WHERE centre_id = @centre`},
	{Kind: ledger.PaperVoid, SQL: `SELECT v.paper_id AS ref, p.person_id AS subject, v.voided_at AS at,
		v.reason, v.voided_by
		FROM paper_void v
		JOIN paper p ON p.centre_id = v.centre_id AND p.id = v.paper_id WHERE v.centre_id = @centre`},
	{Kind: ledger.Unfit, SQL: `SELECT id AS ref, person_id AS subject, marked_at AS at, on_day, marked_by,
		note FROM unfit_mark WHERE centre_id = @centre`},
	{Kind: ledger.UnfitLifted, SQL: `SELECT l.mark_id AS ref, m.person_id AS subject, l.lifted_at AS at,
		l.reason, l.lifted_by
		FROM unfit_lift l
		JOIN unfit_mark m ON m.centre_id = l.centre_id AND m.id = l.mark_id WHERE l.centre_id = @centre`},
}}

// paperBody is the ledger's record of a paper.
type paperBody struct {
	Kind       string       `json:"kind"`
	Outcome    string       `json:"outcome"`
	IssuedOn   string       `json:"issued_on"`
	ValidUntil *string      `json:"valid_until"`
	SeenBy     *uuid.UUID   `json:"seen_by"`
	SeenByName *ledger.Hash `json:"seen_by_name,omitempty"` // for the operator's record only
	Reference  *ledger.Hash `json:"reference"`
}

// reasonBody is the ledger's record of a void or a lift. It holds only the hash of
// the reason, which is free text.
type reasonBody struct {
	Reason   ledger.Hash `json:"reason"`
	VoidedBy *uuid.UUID  `json:"voided_by,omitempty"`
	LiftedBy *uuid.UUID  `json:"lifted_by,omitempty"`
}

// CountsForRatio reports whether papers of a kind decide whether an assistant counts
// towards a ratio. Package desk judges groups again when such a paper changes.
func CountsForRatio(kind string) bool { return kind == "teaching_status" || kind == "insurance" }

// RecordPaper records a paper, for staff, in the caller's transaction. The person
// who saw it answers for it. A paper with SeenByName is the operator's; no request
// of the API makes one. Package desk judges groups again afterwards.
func (s *Service) RecordPaper(ctx context.Context, by actor.Actor, tx *pg.Tx,
	n NewPaper) (out Paper, created bool, err error) {
	if n.SeenByName == nil {
		if err := n.checkSeenBy(ctx, by, tx); err != nil {
			return out, false, err
		}
	}
	if err := n.check(); err != nil {
		return out, false, err
	}
	if _, err := lockPerson(ctx, tx, n.PersonID, nil); err != nil {
		return out, false, err
	}
	digest, again, err := pg.OptionalRow[[]byte](ctx, tx, `SELECT body_digest
		FROM paper WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
	switch {
	case err != nil:
		return out, false, err
	case again:
		err = n.Replays(digest)
	default:
		err = insertPaper(ctx, by, tx, n)
	}
	if err != nil {
		return out, false, err
	}
	out, err = papers.find(ctx, tx, n.ID)
	return out, !again, err
}

func (n NewPaper) check() error {
	if (n.Kind == "medical") != (n.Outcome != "valid") {
		return fault.Invalid("/outcome",
			`A paper of kind {kind} has no outcome "{outcome}": a medical has nothing_flagged, `+
				"physician_needed, physician_approved or physician_refused, every other paper is valid.",
			n.Kind, n.Outcome)
	}
	if n.ValidUntil != nil && n.ValidUntil.Before(n.IssuedOn) {
		return fault.Invalid("/valid_until", "The paper would end before it was issued.")
	}
	return nil
}

// checkSeenBy refuses a paper that its own holder recorded or saw. It also refuses one
// that no member of the staff saw.
func (n NewPaper) checkSeenBy(ctx context.Context, by actor.Actor, tx *pg.Tx) error {
	if by.Person == n.PersonID {
		return fault.MissingRole("another of the crew or a manager: nobody records their own papers. " +
			"Where there is nobody else, the operator of the service can: tankside paper record")
	}
	if n.SeenBy == nil || *n.SeenBy == by.Person {
		return nil
	}
	const need = "manager, instructor or assistant other than the person whose paper it is"
	if *n.SeenBy == n.PersonID {
		return fault.UnknownReference(need, "/seen_by")
	}
	staff, err := pg.Row[bool](ctx, tx, `
		SELECT EXISTS (
			SELECT FROM person_role
			WHERE centre_id = app_centre() AND person_id = @id
				AND role IN ('manager', 'instructor', 'assistant'))`,
		pgx.StrictNamedArgs{"id": *n.SeenBy})
	if err == nil && !staff {
		err = fault.UnknownReference(need, "/seen_by")
	}
	return err
}

func insertPaper(ctx context.Context, who actor.Actor, tx *pg.Tx, n NewPaper) error {
	seen, by := n.SeenBy, &who.Person
	switch {
	case n.SeenByName != nil:
		by = nil
	case seen == nil:
		seen = &who.Person
	}
	if _, err := tx.Do(ctx, `
		INSERT INTO paper (centre_id, id, person_id, kind, outcome, issued_on, valid_until, seen_by,
		seen_by_name, reference,
			body_digest, recorded_at, recorded_by)
		VALUES (app_centre(), @id, @person, @kind, @outcome, @issued, @until, @seen, @seen_name, @reference,
			@digest, @now, @by)`,
		pgx.StrictNamedArgs{"id": n.ID, "person": n.PersonID, "kind": n.Kind, "outcome": n.Outcome,
			"issued": n.IssuedOn, "until": n.ValidUntil,
			"seen": seen, "seen_name": n.SeenByName, "reference": n.Reference, "digest": n.Digest,
			"now": tx.Now, "by": by}); err != nil {
		return err
	}
	salt := ledger.NewSalt()
	body := paperBody{Kind: n.Kind, Outcome: n.Outcome, IssuedOn: n.IssuedOn.Format(time.DateOnly),
		SeenBy: seen, SeenByName: salt.TextOrNull(n.SeenByName), Reference: salt.TextOrNull(n.Reference)}
	if n.ValidUntil != nil {
		body.ValidUntil = new(n.ValidUntil.Format(time.DateOnly))
	}
	return ledger.Append(ctx, who, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: n.PersonID},
		Kind: ledger.Paper, Ref: n.ID, Salt: salt, Body: body})
}

// Papers returns the papers of a person, the newest first, voided ones included.
func (s *Service) Papers(ctx context.Context, by actor.Actor, person uuid.UUID) ([]Paper, error) {
	return papers.of(ctx, by, s, person)
}

// Paper returns one paper.
func (s *Service) Paper(ctx context.Context, by actor.Actor, id uuid.UUID) (out Paper, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = papers.find(ctx, tx, id); err != nil {
			return err
		}
		if !permission.Covers("getPaper", by, out.PersonID) {
			return fault.NoSuch("paper")
		}
		return nil
	})
	return out, err
}

// PaperOf reads a paper in the caller's transaction.
func (s *Service) PaperOf(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Paper, error) {
	return papers.find(ctx, tx, id)
}

// VoidPaper voids a paper with a reason, for managers and instructors, in the
// caller's transaction. Voiding it again changes nothing. Package desk judges groups
// again afterwards.
func (s *Service) VoidPaper(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID,
	reason string) (out Paper, err error) {
	p, err := papers.find(ctx, tx, id)
	if err != nil {
		return out, err
	}
	if p.PersonID == by.Person {
		return out, fault.MissingRole("another manager or instructor: nobody voids their own papers")
	}
	if _, err := lockPerson(ctx, tx, p.PersonID, nil); err != nil {
		return out, err
	}
	n, err := tx.Do(ctx, `INSERT INTO paper_void (centre_id, paper_id, reason, voided_by, voided_at)
		VALUES (app_centre(), @id, @reason, @by, @now)
		ON CONFLICT (centre_id, paper_id) DO NOTHING`,
		pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now})
	if err == nil && n == 1 {
		salt := ledger.NewSalt()
		err = ledger.Append(ctx, by, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: p.PersonID},
			Kind: ledger.PaperVoid, Ref: id, Salt: salt,
			Body: reasonBody{Reason: salt.Text(reason), VoidedBy: &by.Person}})
	}
	if err != nil {
		return out, err
	}
	return papers.find(ctx, tx, id)
}
