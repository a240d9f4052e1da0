package assessment

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
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// Credit is something done at another centre and accepted here. It satisfies
// prerequisites and shows as not witnessed here.
type Credit struct {
	ID           uuid.UUID
	EnrolmentID  uuid.UUID
	What         string  // skill, theory_part or training_dive
	Code         *string // of a skill or theory part
	TrainingDive *int
	Minutes      *int // of a training dive
	DoneAtCentre string
	DoneBy       string // the instructor there
	DoneOn       time.Time
	Document     string
	AcceptedBy   uuid.UUID
	AcceptedAt   time.Time
	VoidedAt     *time.Time
	VoidedBy     *uuid.UUID
	VoidReason   *string
}

// NewCredit asks for a credit to be accepted.
type NewCredit struct {
	once.Key
	EnrolmentID  uuid.UUID
	What         string
	Code         *string
	TrainingDive *int
	Minutes      *int
	DoneAtCentre string
	DoneBy       string
	DoneOn       time.Time
	Document     string
}

const creditColumns = `c.id, c.enrolment_id, c.what, c.code, c.training_dive, c.minutes, c.done_at_centre,
	c.done_by, c.done_on, c.document, c.accepted_by, c.accepted_at,
	v.voided_at, v.voided_by, v.reason AS void_reason`

const creditFrom = `
	FROM credit c
	LEFT JOIN credit_void v ON v.centre_id = c.centre_id AND v.credit_id = c.id `

// AcceptCredit accepts a credit, for instructors and managers, who stand for
// having seen the document.
func (s *Service) AcceptCredit(ctx context.Context, by actor.Actor, n NewCredit) (out Credit, created bool,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := lockEnrolments(ctx, tx, []uuid.UUID{n.EnrolmentID}); err != nil {
			return err
		}
		e, err := s.standings.Enrolment(ctx, tx, n.EnrolmentID)
		if err != nil {
			return err
		}
		digest, again, err := pg.OptionalRow[[]byte](ctx, tx,
			`SELECT body_digest FROM credit WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": n.ID})
		switch {
		case err != nil:
			return err
		case again:
			err = n.Replays(digest)
		default:
			err = acceptAsked(ctx, by, tx, e, n)
		}
		if err != nil {
			return err
		}
		created = !again
		out, err = findCredit(ctx, tx, n.ID)
		return err
	})
	return out, created, err
}

// acceptAsked accepts a credit for an enrolment that is not over, once for each
// thing: a training dive credited twice would count its minutes twice.
func acceptAsked(ctx context.Context, by actor.Actor, tx *pg.Tx, e standing.Enrolment, n NewCredit) error {
	if err := byAnother(by, e.PersonID, "credits themselves"); err != nil {
		return err
	}
	if e.State != syllabus.Waiting && e.State != syllabus.Active {
		return fault.WrongState("enrolment", string(e.State),
			"Credits are accepted for an enrolment that is waiting or active: void the completion first, "+
				"or enrol the person again.")
	}
	if err := n.check(e, tx.Now); err != nil {
		return err
	}
	have, found, err := pg.OptionalRow[uuid.UUID](ctx, tx, `SELECT c.id`+creditFrom+
		`WHERE c.centre_id = app_centre() AND c.enrolment_id = @enrolment AND v.credit_id IS NULL
			AND c.what = @what AND c.code IS NOT DISTINCT FROM @code
			AND c.training_dive IS NOT DISTINCT FROM @dive
		LIMIT 1`,
		pgx.StrictNamedArgs{"enrolment": n.EnrolmentID, "what": n.What, "code": n.Code, "dive": n.TrainingDive})
	if err != nil {
		return err
	}
	if found {
		return fault.New(fault.Conflict, "already_credited",
			fmt.Sprintf("The credit %s stands for this already. If it is wrong, void it with a reason "+
				"and accept another.", have)).
			Param("credit_id", have)
	}
	return acceptOnce(ctx, by, tx, n)
}

// byAnother returns a fault where the caller is the student: what is decided about
// somebody is decided by somebody else.
func byAnother(by actor.Actor, student uuid.UUID, what string) error {
	if by.Person != student {
		return nil
	}
	return fault.MissingRole("another instructor or manager: nobody " + what)
}

// notOwn is byAnother for an enrolment.
func notOwn(ctx context.Context, by actor.Actor, tx *pg.Tx, enrolment uuid.UUID, what string) error {
	student, err := pg.Row[uuid.UUID](ctx, tx, `
		SELECT person_id FROM courses_enrolment
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": enrolment})
	if err != nil {
		return fmt.Errorf("read whose enrolment it is: %w", err)
	}
	return byAnother(by, student, what)
}

// NotOwn returns a fault where the caller would void what was witnessed of
// themselves as a student, for package desk.
func (s *Service) NotOwn(ctx context.Context, by actor.Actor, tx *pg.Tx, enrolment uuid.UUID) error {
	return notOwn(ctx, by, tx, enrolment, "voids what was witnessed of themselves")
}

// creditBody is what the ledger keeps of a credit.
type creditBody struct {
	What         string      `json:"what"`
	Code         *string     `json:"code"`
	TrainingDive *int        `json:"training_dive"`
	Minutes      *int        `json:"minutes"`
	DoneOn       string      `json:"done_on"`
	AcceptedBy   uuid.UUID   `json:"accepted_by"`
	Document     ledger.Hash `json:"document"`
}

// acceptOnce writes a credit that was checked.
func acceptOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewCredit) error {
	if _, err := tx.Do(ctx, `
		INSERT INTO credit (centre_id, id, enrolment_id, what, code, training_dive, minutes,
			done_at_centre, done_by, done_on, document, accepted_by, accepted_at, body_digest)
		VALUES (app_centre(), @id, @enrolment, @what, @code, @dive, @minutes, @centre, @by, @on, @document,
			@accepted, @now, @digest)`,
		pgx.StrictNamedArgs{"id": n.ID, "enrolment": n.EnrolmentID, "what": n.What, "code": n.Code,
			"dive": n.TrainingDive, "minutes": n.Minutes,
			"centre": n.DoneAtCentre, "by": n.DoneBy, "on": n.DoneOn, "document": n.Document,
			"accepted": by.Person, "now": tx.Now, "digest": n.Digest}); err != nil {
		return err
	}
	salt := ledger.NewSalt()
	return ledger.Append(ctx, by, tx,
		ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: n.EnrolmentID}, Kind: ledger.Credit,
			Ref: n.ID, Salt: salt,
			Body: creditBody{What: n.What, Code: n.Code, TrainingDive: n.TrainingDive, Minutes: n.Minutes,
				DoneOn:     n.DoneOn.Format(time.DateOnly),
				AcceptedBy: by.Person, Document: salt.Text(n.DoneAtCentre + "\n" + n.DoneBy + "\n" +
					n.Document)}})
}

// check finds what the syllabus does not have, and a day that is still to come.
func (n NewCredit) check(e standing.Enrolment, now time.Time) error {
	switch {
	case standing.DayOf(n.DoneOn) > e.Day(now):
		return fault.Invalid("/done_on",
			"{done_on} is still to come; a credit is for what was done.", n.DoneOn.Format(time.DateOnly))
	case n.What == "training_dive" && (n.TrainingDive == nil || e.Syllabus.Dive(*n.TrainingDive) == nil):
		return fault.UnknownReference("training dive of the course's syllabus", "/training_dive")
	case n.What == "skill" && (n.Code == nil || e.Syllabus.Skill(*n.Code) == nil):
		return fault.UnknownReference("skill of the course's syllabus", "/code")
	case n.What == "theory_part" && (n.Code == nil || e.Syllabus.TheoryPart(*n.Code) == nil):
		return fault.UnknownReference("theory part of the course's syllabus", "/code")
	case (n.What == "training_dive") != (n.TrainingDive != nil), (n.What == "training_dive") == (n.Code != nil):
		return fault.Invalid("/what",
			"A training dive is named by training_dive, a skill or theory part by code, never both.")
	}
	return nil
}

func findCredit(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Credit, error) {
	c, found, err := pg.OptionalRow[Credit](ctx, tx, `SELECT `+creditColumns+creditFrom+
		`WHERE c.centre_id = app_centre() AND c.id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("credit")
	}
	return c, err
}

// Credits lists the credits of an enrolment, voided ones included.
func (s *Service) Credits(ctx context.Context, by actor.Actor, enrolment uuid.UUID) (out []Credit, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := s.checkReadable(ctx, by, tx, "listCredits", enrolment); err != nil {
			return err
		}
		out, err = creditsOf(ctx, tx, enrolment)
		return err
	})
	return out, err
}

func creditsOf(ctx context.Context, tx *pg.Tx, enrolment uuid.UUID) ([]Credit, error) {
	return pg.Rows[Credit](ctx, tx, `SELECT `+creditColumns+creditFrom+
		`WHERE c.centre_id = app_centre() AND c.enrolment_id = @id ORDER BY c.accepted_at, c.id`,
		pgx.StrictNamedArgs{"id": enrolment})
}

// VoidCredit voids a credit with a reason, for instructors and managers. What
// depended on it stands, flagged. Again does no harm.
func (s *Service) VoidCredit(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out Credit,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := findCredit(ctx, tx, id)
		if err != nil {
			return err
		}
		if err := lockEnrolments(ctx, tx, []uuid.UUID{c.EnrolmentID}); err != nil {
			return err
		}
		if err := notOwn(ctx, by, tx, c.EnrolmentID, "voids their own credits"); err != nil {
			return err
		}
		n, err := tx.Do(ctx, `
			INSERT INTO credit_void (centre_id, credit_id, reason, voided_by, voided_at)
			VALUES (app_centre(), @id, @reason, @by, @now)
			ON CONFLICT (centre_id, credit_id) DO NOTHING`,
			pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now})
		if err == nil && n == 1 {
			err = ledger.Append(ctx, by, tx, voidEntry(ledger.CreditVoid, c.EnrolmentID, id, reason, by.Person))
		}
		if err != nil {
			return err
		}
		out, err = findCredit(ctx, tx, id)
		return err
	})
	return out, err
}

// CarryCredits makes credits of one enrolment's on another, for package desk: a
// transfer within the centre. Its credits go along, and what was learned here:
// skills signed off, theory passed, training dives that count. It writes in the
// caller's transaction, both enrolments locked.
func (s *Service) CarryCredits(ctx context.Context, by actor.Actor, tx *pg.Tx, from, to uuid.UUID) error {
	all, err := s.standings.Read(ctx, tx, []uuid.UUID{from, to})
	if err != nil {
		return err
	}
	credits, err := creditsOf(ctx, tx, from)
	if err != nil {
		return err
	}
	learned, err := carried(all[from])
	if err != nil {
		return err
	}
	for _, c := range credits {
		if c.VoidedAt == nil {
			learned = append(learned,
				NewCredit{What: c.What, Code: c.Code, TrainingDive: c.TrainingDive, Minutes: c.Minutes,
					DoneAtCentre: c.DoneAtCentre, DoneBy: c.DoneBy, DoneOn: c.DoneOn, Document: c.Document})
		}
	}
	target, have := all[to], map[string]bool{}
	for _, n := range learned {
		n.Key, n.EnrolmentID = once.New(), to
		if n.check(*target, tx.Now) != nil || have[n.names()] {
			continue
		}
		have[n.names()] = true
		if err := acceptOnce(ctx, by, tx, n); err != nil {
			return err
		}
	}
	return nil
}

// names returns what a credit is for, as a key.
func (n NewCredit) names() string {
	if n.TrainingDive != nil {
		return fmt.Sprint(n.What, *n.TrainingDive)
	}
	return n.What + *n.Code
}

// carried returns what was learned here by an enrolment, as credits for another.
func carried(e *standing.Enrolment) ([]NewCredit, error) {
	var out []NewCredit
	var wrong error
	add := func(n NewCredit, on syllabus.Day, by, document string) {
		day, err := time.Parse(time.DateOnly, string(on))
		if err != nil {
			wrong = fmt.Errorf("carry credits: %w", err)
		}
		n.DoneAtCentre, n.DoneBy, n.DoneOn, n.Document = "this centre, enrolment "+
			e.ID.String(), by, day, document
		out = append(out, n)
	}
	for _, o := range e.Standing.SignOffs {
		if !o.Voided {
			add(NewCredit{What: "skill", Code: &o.Skill}, o.On, "person "+o.Signer, "sign-off "+o.ID)
		}
	}
	for _, r := range e.Standing.Theory {
		if part := e.Syllabus.TheoryPart(r.Part); part != nil && !r.Voided && syllabus.Passed(*part, r.Mark) {
			add(NewCredit{What: "theory_part", Code: &r.Part}, r.On, "this centre", "theory result "+r.ID)
		}
	}
	for _, d := range e.Standing.Dives {
		if counts, _ := syllabus.JudgeDive(e.Syllabus, d); counts {
			n := NewCredit{What: "training_dive", TrainingDive: &d.Number}
			if minutes := int(units.Reading(d.Duration).Minutes()); minutes > 0 {
				n.Minutes = &minutes
			}
			add(n, d.On, "this centre", "dive "+d.ID)
		}
	}
	return out, wrong
}
