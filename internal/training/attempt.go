package training

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// Measured is one measured value of an attempt.
type Measured struct {
	Name  string
	Value units.Decimal
	Unit  units.Unit // "" for a count
}

// Attempt is one try of a student at a skill.
type Attempt struct {
	ID            uuid.UUID
	ParticipantID uuid.UUID
	DiveID        *uuid.UUID
	Skill         string
	Role          *string // donor or receiver, where the skill has roles
	Measures      []Measured
	Met           bool // what the witness says
	Reason        *string
	WitnessedBy   *uuid.UUID
	WitnessedAt   time.Time
}

// attemptRow is the detail row of an attempt.
type attemptRow struct {
	ID            uuid.UUID                    `json:"id"`
	ParticipantID uuid.UUID                    `json:"participant_id"`
	EnrolmentID   uuid.UUID                    `json:"enrolment_id"`
	DiveID        *uuid.UUID                   `json:"dive_id"`
	Skill         string                       `json:"skill"`
	Role          *string                      `json:"role"`
	Measures      map[string]syllabus.Quantity `json:"measures"`
	Claimed       bool                         `json:"claimed"`
	Met           bool                         `json:"met"`
	Reason        *string                      `json:"reason"`
}

const insertAttempts = `INSERT INTO drill_attempt (centre_id, id, participant_id, enrolment_id, dive_id, skill, role, measures, claimed, met, reason)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, enrolment_id uuid, dive_id uuid, skill text, role text,
		measures jsonb, claimed boolean, met boolean, reason text)`

// LogAttempts records drill attempts of a session, each for itself. A claim
// that the measured values contradict is recorded, and does not count as
// evidence.
func (s *Service) LogAttempts(ctx context.Context, session uuid.UUID, attempts []Attempt) (out []journal.Result, err error) {
	if err := mayReport(ctx); err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(attempts))
	for i, a := range attempts {
		ids[i] = a.ID
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		st, err := readStage(ctx, tx, session, ids)
		if err != nil {
			return err
		}
		y, err := s.syllabusOf(tx.Centre, st.session.SyllabusID, st.session.SyllabusNo, st.session.SyllabusText)
		if err != nil {
			return err
		}
		dives, err := divesOf(ctx, tx, session)
		if err != nil {
			return err
		}
		b, err := collect(st, attempts, func(a Attempt) uuid.UUID { return a.ID }, func(a Attempt, at string) (journal.Entry, attemptRow, error) {
			return st.attempt(ctx, tx.Now, y, dives, a, at)
		})
		if err != nil {
			return err
		}
		out = b.results
		return b.write(ctx, tx, insertAttempts)
	})
	return out, err
}

func (st stage) attempt(ctx context.Context, now time.Time, y syllabus.Syllabus, dives []Dive, a Attempt, at string) (e journal.Entry, row attemptRow, err error) {
	p, err := st.participant(a.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if p.EnrolmentID == nil {
		return e, row, fault.UnknownReference("student of this session", at+"/participant_id")
	}
	skill := y.Skill(a.Skill)
	if skill == nil {
		return e, row, fault.UnknownReference(fmt.Sprintf("skill %q of the course's syllabus", a.Skill), at+"/skill")
	}
	training, err := diveNumber(dives, a.DiveID, at+"/dive_id")
	if err != nil {
		return e, row, err
	}
	saw, err := st.witness(ctx, a.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return e, row, err
	}
	if err := journal.CheckTime(now, a.WitnessedAt, at+"/witnessed_at"); err != nil {
		return e, row, err
	}
	judged := syllabus.Attempt{ID: a.ID.String(), Skill: a.Skill, Measured: measured(a.Measures), Met: a.Met, WitnessedBy: saw.String(),
		On: st.session.day(), Setting: st.session.Kind, Dive: training}
	if a.Role != nil {
		judged.Role = syllabus.Role(*a.Role)
	}
	met, found := syllabus.JudgeAttempt(*skill, judged)
	e = journal.Entry{Kind: journal.DrillAttempt, Session: &st.session.ID, Outing: st.session.OutingID, Participant: &p.ID, Enrolment: p.EnrolmentID,
		WitnessedBy: saw, WitnessedAt: a.WitnessedAt, Findings: append(found, st.notHeld(p)...)}
	row = attemptRow{ID: a.ID, ParticipantID: p.ID, EnrolmentID: *p.EnrolmentID, DiveID: a.DiveID, Skill: a.Skill, Role: a.Role,
		Measures: judged.Measured, Claimed: a.Met, Met: met, Reason: a.Reason}
	return e, row, nil
}

func measured(list []Measured) map[string]syllabus.Quantity {
	out := make(map[string]syllabus.Quantity, len(list))
	for _, m := range list {
		out[m.Name] = syllabus.Quantity{Value: m.Value, Unit: m.Unit}
	}
	return out
}

// diveNumber gives the number of the training dive that a dive of the session
// is, 0 for none.
func diveNumber(dives []Dive, id *uuid.UUID, pointer string) (int, error) {
	if id == nil {
		return 0, nil
	}
	for _, d := range dives {
		if d.ID == *id {
			if d.TrainingDive == nil {
				return 0, nil
			}
			return *d.TrainingDive, nil
		}
	}
	return 0, fault.UnknownReference("dive of this session", pointer)
}

// AttemptLogged is an attempt as it was recorded.
type AttemptLogged struct {
	journal.Head
	DiveID   *uuid.UUID
	Skill    string
	Role     *string
	Measures map[string]syllabus.Quantity
	Claimed  bool
	Met      bool
	Reason   *string
}

// Attempts lists the drill attempts of a session in the order in which they
// were witnessed, voided ones included; participants narrows it.
func (s *Service) Attempts(ctx context.Context, session uuid.UUID, participants []uuid.UUID, p page.Request) (out []AttemptLogged, next *page.Place, err error) {
	if err := mayRead(ctx); err != nil {
		return nil, nil, err
	}
	return listEntries(ctx, s, session, participants, p, `SELECT `+journal.Columns+`, d.dive_id, d.skill, d.role, d.measures, d.claimed, d.met, d.reason
		FROM drill_attempt d JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id`, func(a AttemptLogged) journal.Head { return a.Head })
}

// Result is the mark of one try at a part of the theory.
type Result struct {
	ID          uuid.UUID
	EnrolmentID uuid.UUID
	SessionID   *uuid.UUID // where it was sat
	Part        string
	Percent     float64
	WitnessedBy *uuid.UUID
	WitnessedAt time.Time
	Digest      []byte
}

// ResultLogged is a theory result as it was recorded.
type ResultLogged struct {
	journal.Head
	Part     string
	Percent  float64
	PassMark float64
}

// Passed tells whether the result passed.
func (r ResultLogged) Passed() bool { return r.Percent >= r.PassMark }

const resultColumns = journal.Columns + `, t.part, t.percent, t.pass_mark`

const resultFrom = ` FROM theory_result t JOIN journal_entry e ON e.centre_id = t.centre_id AND e.id = t.id `

// LogResult records a theory result of an enrolment.
func (s *Service) LogResult(ctx context.Context, r Result) (out ResultLogged, created bool, err error) {
	if err := mayReport(ctx); err != nil {
		return out, false, err
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, err := s.enrolment(ctx, tx, r.EnrolmentID)
		if err != nil {
			return err
		}
		seen, err := journal.Replay(ctx, tx, r.ID, r.Digest)
		if err != nil {
			return err
		}
		if created = !seen; created {
			if err := s.resultOnce(ctx, tx, e, r); err != nil {
				return err
			}
		}
		out, err = pg.One[ResultLogged](ctx, tx, `SELECT `+resultColumns+resultFrom+`WHERE e.centre_id = app_centre() AND e.id = @id`, pgx.StrictNamedArgs{"id": r.ID})
		return err
	})
	return out, created, err
}

func (s *Service) resultOnce(ctx context.Context, tx *pg.Tx, e enrolment, r Result) error {
	part := e.Syllabus.TheoryPart(r.Part)
	if part == nil {
		return fault.UnknownReference(fmt.Sprintf("theory part %q of the course's syllabus", r.Part), "/part")
	}
	if err := journal.CheckTime(tx.Now, r.WitnessedAt, "/witnessed_at"); err != nil {
		return err
	}
	saw := actor.From(ctx).Person
	if r.WitnessedBy != nil {
		saw = *r.WitnessedBy
	}
	if saw == uuid.Nil {
		return fault.Invalid("/witnessed_by", "Say in witnessed_by who marked it; a program marks nothing.")
	}
	entry := journal.Entry{ID: r.ID, Kind: journal.TheoryResult, Session: r.SessionID, Enrolment: &r.EnrolmentID, WitnessedBy: saw, WitnessedAt: r.WitnessedAt, Digest: r.Digest}
	mark := units.Read(r.Percent, units.UnitPercent)
	if !syllabus.Passed(*part, syllabus.Quantity(mark)) {
		f := BelowPassMark.Of(fmt.Sprintf("%s in %q; the pass mark is %s.", mark, part.Title, part.PassMark), finding.Subject{Type: "enrolment", ID: r.EnrolmentID.String()})
		f.Limit, f.Found = finding.Quantity(units.Reading(part.PassMark)), finding.Quantity(mark)
		f.Cures = []finding.Cure{{Code: "try_again", Message: "Go through it again and let the student try again."}}
		entry.Findings = finding.List{f}
	}
	if err := journal.Record(ctx, tx, entry); err != nil {
		return err
	}
	_, err := tx.Do(ctx, `INSERT INTO theory_result (centre_id, id, enrolment_id, part, percent, pass_mark) VALUES (app_centre(), @id, @enrolment, @part, @percent, @mark)`,
		pgx.StrictNamedArgs{"id": r.ID, "enrolment": r.EnrolmentID, "part": r.Part, "percent": r.Percent, "mark": part.PassMark.Value.Float()})
	return err
}

// Results lists the theory results of an enrolment, voided ones included.
func (s *Service) Results(ctx context.Context, enrolment uuid.UUID) (out []ResultLogged, err error) {
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		e, err := s.enrolment(ctx, tx, enrolment)
		if err == nil {
			err = mayReadOf(ctx, e.PersonID)
		}
		if err != nil {
			return err
		}
		out, err = pg.Many[ResultLogged](ctx, tx, `SELECT `+resultColumns+resultFrom+`WHERE e.centre_id = app_centre() AND e.enrolment_id = @id ORDER BY e.witnessed_at, e.id`,
			pgx.StrictNamedArgs{"id": enrolment})
		return err
	})
	return out, err
}

// mayReadOf lets staff, programs and the student read what is a student's own.
func mayReadOf(ctx context.Context, student uuid.UUID) error {
	who := actor.From(ctx)
	if who.Staff() || who.IsProgram() || who.Person == student {
		return nil
	}
	return fault.Missing("enrolment")
}
