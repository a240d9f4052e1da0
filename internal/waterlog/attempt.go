package waterlog

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// Measured is one measured value of an attempt.
type Measured struct {
	Name  string        `json:"Name"`
	Value units.Decimal `json:"Value"`
	Unit  units.Unit    `json:"Unit"` // "" for a count
}

// Attempt is one try of a student at a skill.
type Attempt struct {
	ID            uuid.UUID  `json:"ID"`
	ParticipantID uuid.UUID  `json:"ParticipantID"`
	DiveID        *uuid.UUID `json:"DiveID"`
	Skill         string     `json:"Skill"`
	Role          *string    `json:"Role"` // donor or receiver, where the skill has roles
	Measures      []Measured `json:"Measures"`
	Met           bool       `json:"Met"` // what the witness says
	Reason        *string    `json:"Reason"`
	WitnessedBy   *uuid.UUID `json:"WitnessedBy"`
	WitnessedAt   time.Time  `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (a *Attempt) Times() []*time.Time { return []*time.Time{&a.WitnessedAt} }

// Digest implements journal.Item.
func (a Attempt) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, a}) }

// Names implements journal.Item.
func (a Attempt) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AParticipant, &a.ParticipantID),
		journal.Named(journal.ADive, a.DiveID),
		journal.Named(journal.APerson, a.WitnessedBy))
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

const insertAttempts = `
	INSERT INTO drill_attempt (centre_id, id, participant_id, enrolment_id, dive_id, skill, role, measures,
		claimed, met, reason)
	SELECT app_centre(), x.*
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, enrolment_id uuid,
		dive_id uuid, skill text, role text,
		measures jsonb, claimed boolean, met boolean, reason text)`

// LogAttempts records drill attempts of a session, each for itself. A claim
// that the measured values contradict is recorded, and does not count as
// evidence.
func (s *Service) LogAttempts(ctx context.Context, by actor.Actor, session uuid.UUID,
	attempts []Attempt) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterAttempts(ctx, by, tx, session, attempts)
		return err
	})
	return out, err
}

// EnterAttempts is LogAttempts in the caller's transaction.
func (s *Service) EnterAttempts(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	attempts []Attempt) ([]journal.Result, error) {
	asked := watercheck.MentionsOf(attempts, func(a Attempt) (uuid.UUID, *uuid.UUID) { return a.ID, a.WitnessedBy })
	st, err := watercheck.ReadSnapshot(ctx, tx, session, dayview.Taught, asked)
	if err != nil {
		return nil, err
	}
	learned, err := s.standings.LessonsOf(ctx, tx, st.View)
	if err != nil {
		return nil, err
	}
	b, err := collect(st, session, attempts, func(a Attempt) uuid.UUID { return a.ID },
		func(a Attempt, at string) (journal.Entry, attemptRow, error) {
			return attemptEntry(st, by, tx.Now, learned, a, at)
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertAttempts)
}

func attemptEntry(st watercheck.Snapshot, by actor.Actor, now time.Time, learned standing.Lessons, a Attempt,
	at string) (e journal.Entry, row attemptRow, err error) {
	p, err := st.Participant(a.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	enrolment := p.Student()
	if enrolment == nil {
		return e, row, fault.UnknownReference("student of this session", at+"/participant_id")
	}
	skill := watercheck.LessonFor(learned, p).Skill(a.Skill)
	if skill == nil {
		return e, row, fault.UnknownReference(fmt.Sprintf("skill %q of the student's syllabus", a.Skill), at+
			"/skill")
	}
	training, err := st.TrainingDive(a.DiveID, at+"/dive_id")
	if err != nil {
		return e, row, err
	}
	values, err := measured(a.Measures, at+"/measures")
	if err != nil {
		return e, row, err
	}
	saw, err := st.Witness(by, now, watercheck.Sighting{By: a.WitnessedBy, At: a.WitnessedAt,
		Member: "witnessed_at"}, at)
	if err != nil {
		return e, row, err
	}
	if saw == p.PersonID {
		return e, row, fault.UnknownReference(
			"member of the crew other than the student: nobody witnesses their own skills", at+"/witnessed_by")
	}
	judged := syllabus.Attempt{ID: a.ID.String(), Skill: a.Skill, Measured: values, Met: a.Met,
		WitnessedBy: saw.String(),
		On:          st.Session.Day(), Setting: st.Session.Kind, Dive: training}
	if a.Role != nil {
		judged.Role = syllabus.Role(*a.Role)
	}
	met, found := syllabus.JudgeAttempt(*skill, judged)
	row = attemptRow{ID: a.ID, ParticipantID: p.ID, EnrolmentID: *enrolment, DiveID: a.DiveID, Skill: a.Skill,
		Role:     a.Role,
		Measures: judged.Measured, Claimed: a.Met, Met: met, Reason: a.Reason}
	return st.Entry(journal.DrillAttempt, p, saw, a.WitnessedAt, found), row, nil
}

// measured returns the values by their names, each of which is given once.
func measured(list []Measured, pointer string) (map[string]syllabus.Quantity, error) {
	out := make(map[string]syllabus.Quantity, len(list))
	for i, m := range list {
		if _, twice := out[m.Name]; twice {
			return nil, fault.Invalid(fmt.Sprintf("%s/%d/name", pointer, i),
				`"{measure}" is measured twice in one attempt. Record each try as an attempt of its own.`,
				m.Name)
		}
		out[m.Name] = syllabus.Quantity{Value: m.Value, Unit: m.Unit}
	}
	return out, nil
}

// Attempts lists the drill attempts of a session in the order in which they
// were witnessed, voided ones included; participants narrows it.
func (s *Service) Attempts(ctx context.Context, by actor.Actor, session uuid.UUID, participants []uuid.UUID,
	p page.Request) (out []waterview.Attempt, next *page.Place, err error) {
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		found, err := s.check.FoundOfEntries(ctx, tx, session)
		if err != nil {
			return err
		}
		out, next, err = waterview.ListAttempts(ctx, tx, session, participants, p)
		watercheck.Decorate(out, found, func(x *waterview.Attempt) *journal.Head { return &x.Head })
		return err
	})
	return out, next, err
}

// attemptSummary is a try at a skill.
type attemptSummary struct {
	ID           uuid.UUID
	Name, Skill  string
	Role         *string
	Claimed, Met bool
}

func (a attemptSummary) say() (uuid.UUID, string) {
	as, outcome := "", "met"
	if a.Role != nil {
		as = " as " + *a.Role
	}
	switch {
	case a.Claimed && !a.Met:
		outcome = "not met by what was measured"
	case !a.Met:
		outcome = "not yet"
	}
	return a.ID, fmt.Sprintf("%s: %s%s, %s.", a.Name, strings.ReplaceAll(a.Skill, "_", " "), as, outcome)
}

// AttemptKind returns the kind of drill attempts.
func (s *Service) AttemptKind() journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.DrillAttempt,
		Operation: "recordDrillAttempts", Member: "Attempt"}, s.EnterAttempts), `
	SELECT d.id, n.name, d.skill, d.role, d.claimed, d.met
	FROM drill_attempt d`+ofParticipant+thisOne, attemptSummary.say)
}
