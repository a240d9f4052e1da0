package people

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/pg"
)

// Paper is one paper on record: an outcome and dates, never what it says.
type Paper struct {
	ID         uuid.UUID
	PersonID   uuid.UUID
	Kind       string // medical, consent, waiver, teaching_status, first_aid, oxygen_provider or insurance
	Outcome    string // of a medical: nothing_flagged, physician_needed, physician_approved or physician_refused; valid otherwise
	IssuedOn   time.Time
	ValidUntil *time.Time // nil: does not expire by itself
	SeenBy     uuid.UUID
	Reference  *string
	RecordedAt time.Time
	RecordedBy uuid.UUID
	VoidedAt   *time.Time
	VoidedBy   *uuid.UUID
	VoidReason *string
}

// NewPaper asks for a paper to be put on record by whoever saw it.
type NewPaper struct {
	once.Key
	PersonID   uuid.UUID
	Kind       string
	Outcome    string
	IssuedOn   time.Time
	ValidUntil *time.Time
	SeenBy     *uuid.UUID // the caller unless said
	Reference  *string
}

const paperColumns = `p.id, p.person_id, p.kind, p.outcome, p.issued_on, p.valid_until, p.seen_by, p.reference, p.recorded_at, p.recorded_by,
	v.voided_at, v.voided_by, v.reason AS void_reason`

const paperFrom = ` FROM paper p LEFT JOIN paper_void v ON v.centre_id = p.centre_id AND v.paper_id = p.id `

// Ledger says where the decided rows of this package are.
var Ledger = ledger.Sources{Decided: []ledger.Decided{
	{Kind: ledger.Paper, SQL: `SELECT id AS ref, person_id AS subject, recorded_at AS at, recorded_by AS person, kind, outcome, issued_on, valid_until, seen_by,
		encode(sha256(convert_to(reference, 'UTF8')), 'hex') AS reference FROM paper WHERE centre_id = @centre`},
	{Kind: ledger.PaperVoid, SQL: `SELECT v.paper_id AS ref, p.person_id AS subject, v.voided_at AS at, encode(sha256(convert_to(v.reason, 'UTF8')), 'hex') AS reason, v.voided_by
		FROM paper_void v JOIN paper p ON p.centre_id = v.centre_id AND p.id = v.paper_id WHERE v.centre_id = @centre`},
	{Kind: ledger.Unfit, SQL: `SELECT id AS ref, person_id AS subject, marked_at AS at, on_day, marked_by,
		encode(sha256(convert_to(note, 'UTF8')), 'hex') AS note FROM unfit_mark WHERE centre_id = @centre`},
	{Kind: ledger.UnfitLifted, SQL: `SELECT l.mark_id AS ref, m.person_id AS subject, l.lifted_at AS at, encode(sha256(convert_to(l.reason, 'UTF8')), 'hex') AS reason, l.lifted_by
		FROM unfit_lift l JOIN unfit_mark m ON m.centre_id = l.centre_id AND m.id = l.mark_id WHERE l.centre_id = @centre`},
}}

// paperBody is what the ledger keeps of a paper.
type paperBody struct {
	Kind       string       `json:"kind"`
	Outcome    string       `json:"outcome"`
	IssuedOn   string       `json:"issued_on"`
	ValidUntil *string      `json:"valid_until"`
	SeenBy     uuid.UUID    `json:"seen_by"`
	Reference  *ledger.Hash `json:"reference"`
}

// reasonBody is what the ledger keeps of a void or a lift: of the reason, which
// somebody wrote, only the hash.
type reasonBody struct {
	Reason   ledger.Hash `json:"reason"`
	VoidedBy *uuid.UUID  `json:"voided_by,omitempty"`
	LiftedBy *uuid.UUID  `json:"lifted_by,omitempty"`
}

// CountsForRatio tells whether a paper of a kind decides whether an assistant
// counts towards a ratio: then package desk judges groups anew.
func CountsForRatio(kind string) bool { return kind == "teaching_status" || kind == "insurance" }

// RecordPaper puts a paper on record, for staff, in the caller's transaction:
// whoever saw it stands for it. Package desk judges groups anew by it.
func (s *Service) RecordPaper(ctx context.Context, tx *pg.Tx, n NewPaper) (out Paper, created bool, err error) {
	who := actor.From(ctx)
	if err := byStaffPerson(who); err != nil {
		return out, false, err
	}
	if err := n.check(); err != nil {
		return out, false, err
	}
	if _, err := lockPerson(ctx, tx, n.PersonID, nil); err != nil {
		return out, false, err
	}
	digest, again, err := pg.Maybe[[]byte](ctx, tx, `SELECT body_digest FROM paper WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
	switch {
	case err != nil:
		return out, false, err
	case again:
		err = n.Replays(digest)
	default:
		err = insertPaper(ctx, tx, n, who)
	}
	if err != nil {
		return out, false, err
	}
	out, err = findPaper(ctx, tx, n.ID)
	return out, !again, err
}

// byStaffPerson lets staff through, and no program: somebody has to stand for it.
func byStaffPerson(who actor.Actor) error {
	return who.RequireRole("the crew and managers", actor.Manager, actor.Instructor, actor.Assistant)
}

func (n NewPaper) check() error {
	if (n.Kind == "medical") != (n.Outcome != "valid") {
		return fault.Invalid("/outcome", fmt.Sprintf("A paper of kind %s has no outcome %q: a medical has nothing_flagged, physician_needed, physician_approved or physician_refused, every other paper is valid.", n.Kind, n.Outcome))
	}
	if n.ValidUntil != nil && n.ValidUntil.Before(n.IssuedOn) {
		return fault.Invalid("/valid_until", "The paper would end before it was issued.")
	}
	return nil
}

func insertPaper(ctx context.Context, tx *pg.Tx, n NewPaper, who actor.Actor) error {
	seen := who.Person
	if n.SeenBy != nil {
		seen = *n.SeenBy
	}
	if _, err := tx.Do(ctx, `INSERT INTO paper (centre_id, id, person_id, kind, outcome, issued_on, valid_until, seen_by, reference, body_digest, recorded_at, recorded_by)
		VALUES (app_centre(), @id, @person, @kind, @outcome, @issued, @until, @seen, @reference, @digest, @now, @by)`,
		pgx.StrictNamedArgs{"id": n.ID, "person": n.PersonID, "kind": n.Kind, "outcome": n.Outcome, "issued": n.IssuedOn, "until": n.ValidUntil,
			"seen": seen, "reference": n.Reference, "digest": n.Digest, "now": tx.Now, "by": who.Person}); err != nil {
		return err
	}
	body := paperBody{Kind: n.Kind, Outcome: n.Outcome, IssuedOn: n.IssuedOn.Format(time.DateOnly), SeenBy: seen, Reference: textHash(n.Reference)}
	if n.ValidUntil != nil {
		body.ValidUntil = new(n.ValidUntil.Format(time.DateOnly))
	}
	return ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: n.PersonID}, Kind: ledger.Paper, Ref: n.ID, Body: body})
}

func findPaper(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Paper, error) {
	p, found, err := pg.Maybe[Paper](ctx, tx, `SELECT `+paperColumns+paperFrom+`WHERE p.centre_id = app_centre() AND p.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("paper")
	}
	return p, err
}

// Papers lists the papers of a person, the newest first, voided ones included.
func (s *Service) Papers(ctx context.Context, person uuid.UUID) (out []Paper, err error) {
	who := actor.From(ctx)
	if err := maySee(who, person); err != nil {
		return nil, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findPerson(ctx, tx, person); err != nil {
			return err
		}
		out, err = pg.Many[Paper](ctx, tx, `SELECT `+paperColumns+paperFrom+`WHERE p.centre_id = app_centre() AND p.person_id = @person
			ORDER BY p.issued_on DESC, p.recorded_at DESC, p.id`, pgx.StrictNamedArgs{"person": person})
		return err
	})
	return out, err
}

// Paper reads one paper.
func (s *Service) Paper(ctx context.Context, id uuid.UUID) (out Paper, err error) {
	who := actor.From(ctx)
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findPaper(ctx, tx, id); err != nil {
			return err
		}
		if maySee(who, out.PersonID) != nil {
			return fault.Missing("paper")
		}
		return nil
	})
	return out, err
}

// PaperOf reads a paper in the caller's transaction, for whoever may void it:
// managers and instructors.
func (s *Service) PaperOf(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Paper, error) {
	if err := mayVoidPapers(actor.From(ctx)); err != nil {
		return Paper{}, err
	}
	return findPaper(ctx, tx, id)
}

func mayVoidPapers(who actor.Actor) error {
	return who.RequireRole("a manager or an instructor", actor.Manager, actor.Instructor)
}

// VoidPaper voids a paper with a reason, for managers and instructors, in the
// caller's transaction. Again does no harm. Package desk judges groups anew.
func (s *Service) VoidPaper(ctx context.Context, tx *pg.Tx, id uuid.UUID, reason string) (out Paper, err error) {
	who := actor.From(ctx)
	if err := mayVoidPapers(who); err != nil {
		return out, err
	}
	p, err := findPaper(ctx, tx, id)
	if err != nil {
		return out, err
	}
	if _, err := lockPerson(ctx, tx, p.PersonID, nil); err != nil {
		return out, err
	}
	n, err := tx.Do(ctx, `INSERT INTO paper_void (centre_id, paper_id, reason, voided_by, voided_at) VALUES (app_centre(), @id, @reason, @by, @now)
		ON CONFLICT (centre_id, paper_id) DO NOTHING`, pgx.StrictNamedArgs{"id": id, "reason": reason, "by": who.Person, "now": tx.Now})
	if err == nil && n == 1 {
		err = ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: p.PersonID}, Kind: ledger.PaperVoid, Ref: id,
			Body: reasonBody{Reason: ledger.HashText(reason), VoidedBy: &who.Person}})
	}
	if err != nil {
		return out, err
	}
	return findPaper(ctx, tx, id)
}

// UnfitMark says that one of the crew found a person not fit on a day.
type UnfitMark struct {
	ID         uuid.UUID
	PersonID   uuid.UUID
	OnDay      time.Time
	Note       *string
	MarkedBy   uuid.UUID
	MarkedAt   time.Time
	LiftedBy   *uuid.UUID
	LiftedAt   *time.Time
	LiftReason *string
}

const unfitColumns = `m.id, m.person_id, m.on_day, m.note, m.marked_by, m.marked_at, l.lifted_by, l.lifted_at, l.reason AS lift_reason`

const unfitFrom = ` FROM unfit_mark m LEFT JOIN unfit_lift l ON l.centre_id = m.centre_id AND l.mark_id = m.id `

// MarkUnfit marks a person not fit on a day: a fact that any of the crew may
// report, with at most a note and never a diagnosis.
func (s *Service) MarkUnfit(ctx context.Context, key once.Key, person uuid.UUID, day time.Time, note *string) (out UnfitMark, created bool, err error) {
	who := actor.From(ctx)
	if err := byStaffPerson(who); err != nil {
		return out, false, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := lockPerson(ctx, tx, person, nil); err != nil {
			return err
		}
		digest, again, err := pg.Maybe[[]byte](ctx, tx, `SELECT body_digest FROM unfit_mark WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": key.ID})
		switch {
		case err != nil:
			return err
		case again:
			err = key.Replays(digest)
		default:
			err = insertMark(ctx, tx, key, person, day, note, who)
		}
		if err != nil {
			return err
		}
		created = !again
		out, err = findMark(ctx, tx, key.ID)
		return err
	})
	return out, created, err
}

func insertMark(ctx context.Context, tx *pg.Tx, key once.Key, person uuid.UUID, day time.Time, note *string, who actor.Actor) error {
	if _, err := tx.Do(ctx, `INSERT INTO unfit_mark (centre_id, id, person_id, on_day, note, marked_by, marked_at, body_digest)
		VALUES (app_centre(), @id, @person, @day, @note, @by, @now, @digest)`,
		pgx.StrictNamedArgs{"id": key.ID, "person": person, "day": day, "note": note, "by": who.Person, "now": tx.Now, "digest": key.Digest}); err != nil {
		return err
	}
	return ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: person}, Kind: ledger.Unfit, Ref: key.ID,
		Body: struct {
			OnDay    string       `json:"on_day"`
			MarkedBy uuid.UUID    `json:"marked_by"`
			Note     *ledger.Hash `json:"note"`
		}{day.Format(time.DateOnly), who.Person, textHash(note)}})
}

// textHash is what the ledger keeps of what somebody may have written.
func textHash(text *string) *ledger.Hash {
	if text == nil {
		return nil
	}
	return new(ledger.HashText(*text))
}

func findMark(ctx context.Context, tx *pg.Tx, id uuid.UUID) (UnfitMark, error) {
	m, found, err := pg.Maybe[UnfitMark](ctx, tx, `SELECT `+unfitColumns+unfitFrom+`WHERE m.centre_id = app_centre() AND m.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.Missing("mark")
	}
	return m, err
}

// UnfitMarks lists the marks of a person, the newest first, lifted ones included.
func (s *Service) UnfitMarks(ctx context.Context, person uuid.UUID) (out []UnfitMark, err error) {
	who := actor.From(ctx)
	if err := maySee(who, person); err != nil {
		return nil, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findPerson(ctx, tx, person); err != nil {
			return err
		}
		out, err = pg.Many[UnfitMark](ctx, tx, `SELECT `+unfitColumns+unfitFrom+`WHERE m.centre_id = app_centre() AND m.person_id = @person
			ORDER BY m.on_day DESC, m.marked_at DESC, m.id`, pgx.StrictNamedArgs{"person": person})
		return err
	})
	return out, err
}

// LiftUnfit lifts a mark with a reason. It is for an instructor other than the
// person concerned. Again does no harm.
func (s *Service) LiftUnfit(ctx context.Context, id uuid.UUID, reason string) (out UnfitMark, err error) {
	who := actor.From(ctx)
	if err := who.RequireRole("an instructor", actor.Instructor); err != nil {
		return out, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		m, err := findMark(ctx, tx, id)
		if err != nil {
			return err
		}
		if m.PersonID == who.Person {
			return fault.MissingRole("another instructor: nobody declares themselves fit again")
		}
		if _, err := lockPerson(ctx, tx, m.PersonID, nil); err != nil {
			return err
		}
		n, err := tx.Do(ctx, `INSERT INTO unfit_lift (centre_id, mark_id, reason, lifted_by, lifted_at) VALUES (app_centre(), @id, @reason, @by, @now)
			ON CONFLICT (centre_id, mark_id) DO NOTHING`, pgx.StrictNamedArgs{"id": id, "reason": reason, "by": who.Person, "now": tx.Now})
		if err == nil && n == 1 {
			err = ledger.Append(ctx, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: m.PersonID}, Kind: ledger.UnfitLifted, Ref: id,
				Body: reasonBody{Reason: ledger.HashText(reason), LiftedBy: &who.Person}})
		}
		if err != nil {
			return err
		}
		out, err = findMark(ctx, tx, id)
		return err
	})
	return out, err
}
