package assessment

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
)

// SignedOff is a sign-off as it stands, or was voided.
type SignedOff struct {
	ID          uuid.UUID
	EnrolmentID uuid.UUID
	PersonID    uuid.UUID
	Skill       string
	Round       int
	SessionID   uuid.UUID
	SignedBy    uuid.UUID
	SignedName  string
	WitnessedOn time.Time
	SignedAt    time.Time
	RecordedAt  time.Time
	FromWater   bool       // made without coverage
	Supports    *uuid.UUID // the earlier sign-off of the skill, which counts; nil: this one does, or is voided
	Evidence    []uuid.UUID
	RestsOn     []uuid.UUID
	Findings    finding.List
	VoidedAt    *time.Time
	VoidedBy    *uuid.UUID
	VoidReason  *string
}

// signedColumns are those of a SignedOff. Two who sign a skill without coverage
// do not know of each other: both stand, numbered by when they were signed, in
// whichever order they arrived, and the later supports the earlier.
const signedColumns = `o.id, o.enrolment_id, e.person_id, o.skill, (
		SELECT count(*)
		FROM sign_off q
		WHERE q.centre_id = o.centre_id AND q.enrolment_id = o.enrolment_id AND q.skill = o.skill
			AND (q.signed_at, q.id) <= (o.signed_at, o.id)) AS round,
	CASE WHEN v.sign_off_id IS NULL THEN (
		SELECT q.id
		FROM sign_off q
		LEFT JOIN sign_off_void w ON w.centre_id = q.centre_id AND w.sign_off_id = q.id
		WHERE q.centre_id = o.centre_id AND q.enrolment_id = o.enrolment_id AND q.skill = o.skill
			AND w.sign_off_id IS NULL AND (q.signed_at, q.id) < (o.signed_at, o.id)
		ORDER BY q.signed_at, q.id
		LIMIT 1) END AS supports,
	o.session_id, o.signed_by, n.name AS signed_name, o.witnessed_on, o.signed_at, o.recorded_at, o.from_water,
	o.evidence, o.rests_on, o.findings, v.voided_at, v.voided_by, v.reason AS void_reason`

const signedFrom = `
	FROM sign_off o
	JOIN courses_enrolment e ON e.centre_id = o.centre_id AND e.id = o.enrolment_id
	JOIN people_person n ON n.centre_id = o.centre_id AND n.id = o.signed_by
	LEFT JOIN sign_off_void v ON v.centre_id = o.centre_id AND v.sign_off_id = o.id
	`

func findSignOff(ctx context.Context, tx *pg.Tx, id uuid.UUID) (SignedOff, error) {
	o, found, err := pg.OptionalRow[SignedOff](ctx, tx, `SELECT `+signedColumns+signedFrom+
		`WHERE o.centre_id = app_centre() AND o.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("sign-off")
	}
	return o, err
}

// SignOffOf reads one sign-off; a student their own.
func (s *Service) SignOffOf(ctx context.Context, by actor.Actor, id uuid.UUID) (out SignedOff, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findSignOff(ctx, tx, id); err != nil {
			return err
		}
		if !permission.Covers("getSignOff", by, out.PersonID) {
			return fault.NoSuch("sign-off")
		}
		list := []SignedOff{out}
		err := s.rested(ctx, tx, list)
		out = list[0]
		return err
	})
	return out, err
}

// SignOffs lists the sign-offs of an enrolment in the order of signing, voided
// ones included.
func (s *Service) SignOffs(ctx context.Context, by actor.Actor, enrolment uuid.UUID) (out []SignedOff,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := s.checkReadable(ctx, by, tx, "listSignOffs", enrolment); err != nil {
			return err
		}
		out, err = pg.Rows[SignedOff](ctx, tx, `SELECT `+signedColumns+signedFrom+
			`WHERE o.centre_id = app_centre() AND o.enrolment_id = @id ORDER BY o.signed_at, o.id`,
			pgx.StrictNamedArgs{"id": enrolment})
		if err != nil {
			return err
		}
		return s.rested(ctx, tx, out)
	})
	return out, err
}

// rested sets what sign-offs that were made without coverage rest on now:
// what was known of it when they were recorded depends on who came back into
// coverage first. (The ledger keeps what was known.)
func (s *Service) rested(ctx context.Context, tx *pg.Tx, list []SignedOff) error {
	if err := showAcceptances(ctx, tx, list); err != nil {
		return err
	}
	var enrolments []uuid.UUID
	for _, o := range list {
		if o.FromWater {
			enrolments = append(enrolments, o.EnrolmentID)
		}
	}
	if len(enrolments) == 0 {
		return nil
	}
	all, err := s.standings.Read(ctx, tx, enrolments)
	if err != nil {
		return err
	}
	for i, o := range list {
		e, ok := all[o.EnrolmentID]
		if !o.FromWater || !ok {
			continue
		}
		list[i].RestsOn = restsOn(e, o.Skill)
		for _, x := range e.Standing.SignOffs {
			if x.ID == o.ID.String() && x.ByRule {
				list[i].Evidence = idsOf(x.Evidence)
			}
		}
	}
	return nil
}

// showAcceptances adds to what was found when sign-offs were recorded who accepted the cautions.
func showAcceptances(ctx context.Context, tx *pg.Tx, list []SignedOff) error {
	var enrolments []uuid.UUID
	for i, o := range list {
		list[i].Findings = o.Findings.InSession(o.SessionID.String())
		if o.Findings.Has(finding.Caution) {
			enrolments = append(enrolments, o.EnrolmentID)
		}
	}
	accepted, err := journal.AcceptedOf(ctx, tx, "enrolment", enrolments)
	for i, o := range list {
		list[i].Findings = journal.WithAcceptances(list[i].Findings, journal.ForSignOff(accepted[o.EnrolmentID], o.ID))
	}
	return err
}

func idsOf(texts []string) []uuid.UUID {
	out := make([]uuid.UUID, len(texts))
	for i, t := range texts {
		out[i] = uuid.MustParse(t)
	}
	return out
}

// SessionSignOffs lists the sign-offs made from a session.
func (s *Service) SessionSignOffs(ctx context.Context, by actor.Actor, session uuid.UUID) (out []SignedOff,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := standing.RequireSession(ctx, tx, session); err != nil {
			return err
		}
		out, err = pg.Rows[SignedOff](ctx, tx, `SELECT `+signedColumns+signedFrom+
			`WHERE o.centre_id = app_centre() AND o.session_id = @id ORDER BY o.signed_at, o.id`,
			pgx.StrictNamedArgs{"id": session})
		if err != nil {
			return err
		}
		return s.rested(ctx, tx, out)
	})
	return out, err
}

// VoidSignOff voids a sign-off with a reason: by its signer, or by a manager
// who is an instructor. What depended on it stands, flagged. Again does no harm.
func (s *Service) VoidSignOff(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out SignedOff,
	found finding.List, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		o, err := findSignOff(ctx, tx, id)
		if err != nil {
			return err
		}
		if err := byAnother(by, o.PersonID, "voids their own sign-offs"); err != nil {
			return err
		}
		if err := lockEnrolments(ctx, tx, []uuid.UUID{o.EnrolmentID}); err != nil {
			return err
		}
		if out, err = findSignOff(ctx, tx, id); err != nil || out.VoidedAt != nil {
			return err
		}
		all, err := s.standings.Read(ctx, tx, []uuid.UUID{o.EnrolmentID})
		if err != nil {
			return err
		}
		e := all[o.EnrolmentID]
		found = syllabus.MayVoid(syllabus.VoidRequest{Syllabus: e.Syllabus, Standing: *e.Standing,
			By: signerOf(by, nil), Reason: reason,
			SignOff: syllabus.SignOff{ID: o.ID.String(), Skill: o.Skill, Signer: o.SignedBy.String()}})
		switch {
		case len(found.Of(syllabus.VoidByOther)) > 0:
			return permission.Refusal("voidSignOff", by).With(found...)
		case found.Forbids():
			return fault.RefusedBy(found)
		}
		if _, err := tx.Do(ctx, `
			INSERT INTO sign_off_void (centre_id, sign_off_id, reason, voided_by, voided_at)
			VALUES (app_centre(), @id, @reason, @by, @now)`,
			pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now}); err != nil {
			return err
		}
		if err := journal.Decide(ctx, by, tx,
			journal.Decision{Kind: "void_sign_off",
				Subject:  finding.Subject{Type: "enrolment", ID: o.EnrolmentID.String()},
				JudgedOn: voidJudgedOn(by, o, e), Findings: found}); err != nil {
			return err
		}
		if err := ledger.Append(ctx, by, tx,
			voidEntry(ledger.SignOffVoid, o.EnrolmentID, id, reason, by.Person)); err != nil {
			return err
		}
		out, err = findSignOff(ctx, tx, id)
		return err
	})
	return out, found, err
}

// voidBody is what the ledger keeps of a void.
type voidBody struct {
	Reason   ledger.Hash `json:"reason"`
	VoidedBy uuid.UUID   `json:"voided_by"`
}

func voidEntry(kind ledger.Kind, enrolment, ref uuid.UUID, reason string, by uuid.UUID) ledger.Entry {
	salt := ledger.NewSalt()
	return ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: enrolment}, Kind: kind, Ref: ref,
		Salt: salt, Body: voidBody{salt.Text(reason), by}}
}

// QueueSignOffs reads sign-offs by their ids.
func QueueSignOffs(b *pgx.Batch, into *[]SignedOff, ids []uuid.UUID) {
	pg.QueueRows(b, into, `
		SELECT x.*
		FROM unnest(@ids::uuid[]) w (id)
		CROSS JOIN LATERAL (SELECT `+signedColumns+signedFrom+`
			WHERE o.centre_id = app_centre() AND o.id = w.id LIMIT 1) x`, pgx.StrictNamedArgs{"ids": ids})
}

// SignOffKind returns the kind of sign-offs, which a batch brings as it does entries. Who
// sends them needs the scope, as for a single post.
func (s *Service) SignOffKind(scope actor.Scope) journal.EntryKind {
	return journal.Listed(journal.EntryKind{Kind: journal.SignOff, Operation: "createSignOffs", Scope: scope,
		Member: "Signing"}, s.EnterSignOffs)
}
