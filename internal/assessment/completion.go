package assessment

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
)

// Completion is an instructor's own signed decision that an enrolment has met
// every requirement.
type Completion struct {
	ID          uuid.UUID
	EnrolmentID uuid.UUID
	Round       int
	SignedBy    uuid.UUID
	SignedName  string
	SignedAt    time.Time
	RestsOn     []uuid.UUID
	Findings    finding.List
	VoidedAt    *time.Time
	VoidedBy    *uuid.UUID
	VoidReason  *string
}

const completionColumns = `c.id, c.enrolment_id, c.round, c.signed_by, n.name AS signed_name, c.signed_at,
	c.rests_on, c.findings, v.voided_at, v.voided_by, v.reason AS void_reason`

const completionFrom = `
	FROM completion c
	JOIN people_person n ON n.centre_id = c.centre_id AND n.id = c.signed_by
	LEFT JOIN completion_void v ON v.centre_id = c.centre_id AND v.completion_id = c.id `

// completionBody is what the ledger keeps of a completion.
type completionBody struct {
	Round    int               `json:"round"`
	SignedBy uuid.UUID         `json:"signed_by"`
	RestsOn  []uuid.UUID       `json:"rests_on"`
	Evidence []ledger.Evidence `json:"evidence"` // theory results, dives and gas checks, with their digests
	Findings ledger.Hash       `json:"findings"`
	Rules    []string          `json:"rules"`
	Syllabus uuid.UUID         `json:"syllabus_id"`
	Number   int               `json:"syllabus_number"`
	Papers   []paperRow        `json:"papers"`
}

// Complete judges and signs a completion in the caller's transaction, for
// package desk, which moves the enrolment's state with it. again reports whether the
// same request was answered before.
func (s *Service) Complete(ctx context.Context, by actor.Actor, tx *pg.Tx, enrolment uuid.UUID, key once.Key,
	accept []journal.Acceptance) (out Completion, found finding.List, again bool, err error) {
	if err := lockEnrolments(ctx, tx, []uuid.UUID{enrolment}); err != nil {
		return out, nil, false, err
	}
	digest, again, err := pg.OptionalRow[[]byte](ctx, tx,
		`SELECT body_digest FROM completion WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": key.ID})
	if err != nil {
		return out, nil, false, err
	}
	if again {
		if err := key.Replays(digest); err != nil {
			return out, nil, true, err
		}
		out, err = findCompletion(ctx, tx, key.ID)
		return out, out.Findings, true, err
	}
	found, err = s.completeOnce(ctx, by, tx, enrolment, key, accept)
	if err != nil {
		return out, found, false, err
	}
	out, err = findCompletion(ctx, tx, key.ID)
	return out, found, false, err
}

func (s *Service) completeOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID, key once.Key,
	accept []journal.Acceptance) (finding.List, error) {
	var b pgx.Batch
	var last []int
	papers, record := queuePapers(&b, by.Person), standing.Queue(&b, []uuid.UUID{id})
	pg.QueueRows(&b, &last, `
		SELECT COALESCE(max(round), 0)
		FROM completion
		WHERE centre_id = app_centre() AND enrolment_id = @id`, pgx.StrictNamedArgs{"id": id})
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	all, err := s.standings.Compose(ctx, tx, record)
	if err != nil {
		return nil, err
	}
	e, ok := all[id]
	if !ok {
		return nil, fault.NoSuch("enrolment")
	}
	c := syllabus.CompletionRequest{Syllabus: e.Syllabus, Standing: *e.Standing, Signer: signerOf(by, *papers),
		Age: e.Age(e.Date(tx.Now)), On: e.Day(tx.Now)}
	found := syllabus.MayComplete(c)
	if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
		return found, err
	}
	if found, err = journal.RequireAccepted(by, found, accept); err != nil {
		return found, err
	}
	return found, writeCompletion(ctx, by, tx, e, c, found, accept, key,
		completionBody{Round: last[0] + 1, SignedBy: by.Person, RestsOn: metBy(e),
			Rules: rulesOf(found), Syllabus: e.SyllabusID, Number: e.SyllabusNo, Papers: append([]paperRow{},
				*papers...)})
}

func writeCompletion(ctx context.Context, by actor.Actor, tx *pg.Tx, e *standing.Enrolment,
	c syllabus.CompletionRequest, found finding.List, accept []journal.Acceptance, key once.Key,
	body completionBody) error {
	salt := ledger.NewSalt()
	seen, err := everything(ctx, tx, e.ID)
	if err != nil {
		return err
	}
	body.Evidence = ledger.Evidences(salt, seen...)
	if body.Findings, err = salt.Digest(append(finding.List{}, found...)); err != nil {
		return err
	}
	if _, err := tx.Do(ctx, `
		INSERT INTO completion (centre_id, id, enrolment_id, round, signed_by, signed_at, rests_on,
			findings, body_digest)
		VALUES (app_centre(), @id, @enrolment, @round, @by, @now, @rests_on, @findings, @digest)`,
		pgx.StrictNamedArgs{"id": key.ID, "enrolment": e.ID, "round": body.Round, "by": body.SignedBy,
			"now": tx.Now, "rests_on": body.RestsOn,
			"findings": append(finding.List{}, found...), "digest": key.Digest}); err != nil {
		return err
	}
	on := body.judgedOn(decision.Completion{CompletionID: key.ID}, c)
	if err := journal.Decide(ctx, by, tx,
		journal.Decision{Kind: "complete", Subject: finding.Subject{Type: "enrolment", ID: e.ID.String()},
			JudgedOn: on, Findings: found, Accepted: accept}); err != nil {
		return err
	}
	return ledger.Append(ctx, by, tx,
		ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: e.ID}, Kind: ledger.Completion, Ref: key.ID,
			Salt: salt, Body: body})
}

// metBy returns everything that stands and met a requirement: sign-offs and
// credits, the theory results that passed, the dives that count.
func metBy(e *standing.Enrolment) []uuid.UUID {
	out := []uuid.UUID{}
	for _, x := range e.Standing.SignOffs {
		if !x.Voided {
			out = append(out, uuid.MustParse(x.ID))
		}
	}
	for _, x := range e.Standing.Credits {
		if !x.Voided {
			out = append(out, uuid.MustParse(x.ID))
		}
	}
	for _, r := range e.Standing.Theory {
		if part := e.Syllabus.TheoryPart(r.Part); part != nil && !r.Voided && syllabus.Passed(*part, r.Mark) {
			out = append(out, uuid.MustParse(r.ID))
		}
	}
	for _, d := range e.Standing.Dives {
		if counts, _ := syllabus.JudgeDive(e.Syllabus, d); counts {
			out = append(out, uuid.MustParse(d.ID))
		}
	}
	return out
}

func findCompletion(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Completion, error) {
	c, found, err := pg.OptionalRow[Completion](ctx, tx, `SELECT `+completionColumns+completionFrom+
		`WHERE c.centre_id = app_centre() AND c.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("completion")
	}
	if err != nil {
		return c, err
	}
	list := []Completion{c}
	err = acceptancesOf(ctx, tx, list)
	return list[0], err
}

// acceptancesOf adds to what was found when completions of one enrolment were made who accepted the cautions.
func acceptancesOf(ctx context.Context, tx *pg.Tx, list []Completion) error {
	if !slices.ContainsFunc(list, func(c Completion) bool { return c.Findings.Has(finding.Caution) }) {
		return nil
	}
	accepted, err := journal.Accepted(ctx, tx, "enrolment", list[0].EnrolmentID)
	for i, c := range list {
		list[i].Findings = journal.WithAcceptances(c.Findings, journal.MadeAt(accepted, c.SignedAt))
	}
	return err
}

func completionsOf(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID) ([]Completion, error) {
	out, err := pg.Rows[Completion](ctx, tx, `SELECT `+completionColumns+completionFrom+`
		WHERE c.centre_id = app_centre() AND c.enrolment_id = @id
		ORDER BY c.round`, pgx.StrictNamedArgs{"id": enrolment})
	if err != nil {
		return nil, err
	}
	return out, acceptancesOf(ctx, tx, out)
}

// Completions lists the completions of an enrolment, voided ones included.
func (s *Service) Completions(ctx context.Context, by actor.Actor, enrolment uuid.UUID) (out []Completion,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := s.checkReadable(ctx, by, tx, "listCompletions", enrolment); err != nil {
			return err
		}
		out, err = completionsOf(ctx, tx, enrolment)
		return err
	})
	return out, err
}

// VoidCompletion voids a completion with a reason, in the caller's transaction,
// for package desk: by its signer, or by a manager who is an instructor. again
// reports whether it was voided before.
func (s *Service) VoidCompletion(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID,
	reason string) (out Completion, again bool, err error) {
	c, err := findCompletion(ctx, tx, id)
	if err != nil {
		return c, false, err
	}
	if !syllabus.VoidedBy(c.SignedBy.String(), signerOf(by, nil)) {
		return c, false, permission.Refusal("voidCompletion", by)
	}
	if err := notOwn(ctx, by, tx, c.EnrolmentID, "voids their own completion"); err != nil {
		return c, false, err
	}
	if err := lockEnrolments(ctx, tx, []uuid.UUID{c.EnrolmentID}); err != nil {
		return c, false, err
	}
	n, err := tx.Do(ctx, `
		INSERT INTO completion_void (centre_id, completion_id, reason, voided_by, voided_at)
		VALUES (app_centre(), @id, @reason, @by, @now)
		ON CONFLICT (centre_id, completion_id) DO NOTHING`,
		pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now})
	if err == nil && n == 1 {
		err = ledger.Append(ctx, by, tx, voidEntry(ledger.CompletionVoid, c.EnrolmentID, id, reason, by.Person))
	}
	if err != nil {
		return c, false, err
	}
	out, err = findCompletion(ctx, tx, id)
	return out, n == 0, err
}
