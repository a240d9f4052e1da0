package assessment

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/watercheck"
)

// BelowPassMark is the rule of this package; syllabus has the others.
var BelowPassMark = finding.Rule{ID: "training.below_pass_mark", Severity: finding.Note,
	Title:  "A theory part is passed at its mark",
	Text:   "A result below the pass mark of its part is kept; the student tries again.",
	Source: "the syllabus"}

// Rules returns the rules of this package, for people to read.
func Rules() []finding.Rule { return []finding.Rule{BelowPassMark} }

// NewTheoryResult is the mark of one try at a part of the theory.
type NewTheoryResult struct {
	ID          uuid.UUID
	EnrolmentID uuid.UUID
	SessionID   *uuid.UUID // where it was sat
	Part        string
	Percent     float64
	WitnessedBy *uuid.UUID
	WitnessedAt time.Time
	Digest      []byte
}

// TheoryResult is a theory result as it was recorded.
type TheoryResult struct {
	journal.Head
	Part     string
	Percent  float64
	PassMark float64
}

// Passed reports whether the result passed.
func (r TheoryResult) Passed() bool { return r.Percent >= r.PassMark }

const resultColumns = journal.Columns + `, t.part, t.percent, t.pass_mark`

const resultFrom = ` FROM theory_result t JOIN journal_entry e ON e.centre_id = t.centre_id AND e.id = t.id `

// LogResult records a theory result of an enrolment.
func (s *Service) LogResult(ctx context.Context, by actor.Actor, r NewTheoryResult) (out TheoryResult, created bool,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, err := s.standings.Enrolment(ctx, tx, r.EnrolmentID)
		if err != nil {
			return err
		}
		seen, err := journal.Replay(ctx, tx, r.ID, r.Digest)
		if err != nil {
			return err
		}
		if created = !seen; created {
			if err := s.resultOnce(ctx, by, tx, e, r); err != nil {
				return err
			}
		}
		out, err = pg.Row[TheoryResult](ctx, tx, `SELECT `+resultColumns+resultFrom+
			`WHERE e.centre_id = app_centre() AND e.id = @id`, pgx.StrictNamedArgs{"id": r.ID})
		return err
	})
	return out, created, err
}

func (s *Service) resultOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, e standing.Enrolment,
	r NewTheoryResult) error {
	part := e.Syllabus.TheoryPart(r.Part)
	if part == nil {
		return fault.UnknownReference(fmt.Sprintf("theory part %q of the course's syllabus", r.Part), "/part")
	}
	saw, err := examiner(ctx, by, tx, r)
	if err != nil {
		return err
	}
	if saw == e.PersonID {
		return fault.UnknownReference(
			"member of the staff other than the student: nobody marks their own theory", "/witnessed_by")
	}
	entry := journal.Entry{ID: r.ID, Kind: journal.TheoryResult, Session: r.SessionID,
		Enrolment: &r.EnrolmentID, WitnessedBy: saw, WitnessedAt: r.WitnessedAt,
		Findings: judgeResult(*part, r), Digest: r.Digest}
	if err := journal.Record(ctx, by, tx, entry); err != nil {
		return err
	}
	_, err = tx.Do(ctx, `
		INSERT INTO theory_result (centre_id, id, enrolment_id, part, percent, pass_mark)
		VALUES (app_centre(), @id, @enrolment, @part, @percent, @mark)`,
		pgx.StrictNamedArgs{"id": r.ID, "enrolment": r.EnrolmentID, "part": r.Part, "percent": r.Percent,
			"mark": part.PassMark.Value.Float()})
	return err
}

func judgeResult(part syllabus.TheoryPart, r NewTheoryResult) finding.List {
	mark := units.Read(r.Percent, units.UnitPercent)
	if syllabus.Passed(part, syllabus.Quantity(mark)) {
		return nil
	}
	f := BelowPassMark.Say(`{mark} in "{part}"; the pass mark is {pass_mark}.`, mark, part.Title,
		part.PassMark).About(finding.Subject{Type: "enrolment", ID: r.EnrolmentID.String()})
	f.Limit, f.Found = finding.Quantity(units.Reading(part.PassMark)), finding.Quantity(mark)
	f.Cures = []finding.Cure{{Code: "try_again", Message: "Go through it again and let the student try again."}}
	return finding.List{f}
}

// examiner returns who marked a result: crew of the session where it was sat, or,
// sat outside of sessions, anybody of the staff.
func examiner(ctx context.Context, by actor.Actor, tx *pg.Tx, r NewTheoryResult) (uuid.UUID, error) {
	if r.SessionID != nil {
		witnesses := watercheck.MentionsOf([]NewTheoryResult{r},
			func(r NewTheoryResult) (uuid.UUID, *uuid.UUID) { return r.ID, r.WitnessedBy })
		st, err := watercheck.ReadSnapshot(ctx, tx, *r.SessionID, 0, witnesses)
		if errors.Is(err, fault.NotFound.Err()) {
			return uuid.Nil, fault.UnknownReference("session", "/session_id")
		}
		if err != nil {
			return uuid.Nil, err
		}
		return st.Witness(by, tx.Now, watercheck.Sighting{By: r.WitnessedBy, At: r.WitnessedAt,
			Member: "witnessed_at"}, "")
	}
	saw := by.Person
	if r.WitnessedBy != nil {
		saw = *r.WitnessedBy
	}
	staff, err := pg.Row[bool](ctx, tx,
		`SELECT EXISTS (
			SELECT FROM people_person
			WHERE centre_id = app_centre() AND id = @id AND roles && '{manager,instructor,assistant}')`,
		pgx.StrictNamedArgs{"id": saw})
	if err == nil && !staff {
		err = fault.UnknownReference("manager, instructor or assistant", "/witnessed_by")
	}
	if err != nil {
		return saw, err
	}
	return saw, journal.CheckTime(tx.Now, r.WitnessedAt, "/witnessed_at")
}

// Results lists the theory results of an enrolment, voided ones included.
func (s *Service) Results(ctx context.Context, by actor.Actor, enrolment uuid.UUID) (out []TheoryResult,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := s.checkReadable(ctx, by, tx, "listTheoryResults", enrolment); err != nil {
			return err
		}
		out, err = pg.Rows[TheoryResult](ctx, tx, `SELECT `+resultColumns+resultFrom+
			`WHERE t.centre_id = app_centre() AND t.enrolment_id = @id ORDER BY e.witnessed_at, e.id`,
			pgx.StrictNamedArgs{"id": enrolment})
		return err
	})
	return out, err
}

// TheoryKind returns the kind of theory results, which no batch brings.
func (s *Service) TheoryKind() journal.EntryKind {
	return journal.Summarised(journal.EntryKind{Kind: journal.TheoryResult, Operation: "createTheoryResult"}, `
	SELECT d.id, n.name, d.part, d.percent, d.pass_mark
	FROM theory_result d
	JOIN courses_enrolment p ON p.centre_id = d.centre_id AND p.id = d.enrolment_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	WHERE d.centre_id = app_centre() AND d.id = w.id`, theorySummary.say)
}

// theorySummary is the mark of a part of the theory.
type theorySummary struct {
	ID                uuid.UUID
	Name, Part        string
	Percent, PassMark float64
}

func (t theorySummary) say() (uuid.UUID, string) {
	outcome := "passed"
	if t.Percent < t.PassMark {
		outcome = "not passed"
	}
	mark := func(x float64) units.Reading { return units.Read(x, units.UnitPercent) }
	return t.ID, fmt.Sprintf("%s: theory %s, %s of the %s to pass, %s.", t.Name,
		strings.ReplaceAll(t.Part, "_", " "),
		mark(t.Percent), mark(t.PassMark), outcome)
}
