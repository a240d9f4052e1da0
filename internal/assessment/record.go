package assessment

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
	"tankside/internal/ledger"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// Record is everything that is known of one enrolment, to be shown to another
// centre or to a court: what was done, and who saw it.
type Record struct {
	EnrolmentID uuid.UUID
	PersonID    uuid.UUID
	Name        string
	BirthOn     time.Time
	State       syllabus.EnrolmentState
	CourseID    uuid.UUID
	Course      string
	SyllabusID  uuid.UUID
	SyllabusNo  int
	Syllabus    syllabus.Syllabus
	Centre      string
	MadeAt      time.Time
	SignedAs    *SignedAs    // nil while nothing is signed
	Corrections []Correction // of the name and birth date, the newest first
	Sessions    []AttendedSession
	Dives       []waterview.Dive
	GasChecks   []waterview.CheckCount
	Results     []TheoryResult
	Attempts    []waterview.Attempt
	Credits     []Credit
	SignOffs    []SignedOff
	Completions []Completion
	Progress    syllabus.Progress
	Chain       []Link
}

// Correction is a name or a birth date of the student that was corrected.
type Correction struct {
	ID            uuid.UUID
	PersonID      uuid.UUID
	Member        string // name or birth_on
	Before        string
	After         string
	Reason        string
	CorrectedBy   uuid.UUID
	CorrectedAt   time.Time
	CorrectedName string
}

// SignedAs is who the student was on record as when it was signed: the newest
// completion that stands, or else the newest sign-off that stands.
type SignedAs struct {
	Name     string
	BirthOn  time.Time
	RefID    uuid.UUID
	SignedAt time.Time
}

// signedAs takes back, from the present name and birth date, what was corrected
// since it was signed. What was recorded at the very moment of a correction, in
// another transaction, is taken as signed before it.
func (r Record) signedAs() (*SignedAs, error) {
	out := SignedAs{Name: r.Name, BirthOn: r.BirthOn}
	for _, o := range r.SignOffs {
		if o.VoidedAt == nil && !o.SignedAt.Before(out.SignedAt) {
			out.RefID, out.SignedAt = o.ID, o.SignedAt
		}
	}
	completed := false
	for _, c := range r.Completions {
		if c.VoidedAt == nil && (!completed || c.SignedAt.After(out.SignedAt)) {
			completed, out.RefID, out.SignedAt = true, c.ID, c.SignedAt
		}
	}
	if out.RefID == uuid.Nil {
		return nil, nil
	}
	for _, c := range r.Corrections {
		if c.CorrectedAt.Before(out.SignedAt) {
			break
		}
		if c.Member == "name" {
			out.Name = c.Before
			continue
		}
		born, err := time.Parse(time.DateOnly, c.Before)
		if err != nil {
			return nil, fmt.Errorf("read correction %s: %w", c.ID, err)
		}
		out.BirthOn = born
	}
	return &out, nil
}

// AttendedSession is one session that the student was a participant of.
type AttendedSession struct {
	SessionID  uuid.UUID
	CourseID   uuid.UUID // another one for a make-up
	Title      string
	Kind       string
	StartsAt   time.Time
	EndsAt     time.Time
	State      string
	Attendance string
	InCharge   *string
}

// Link is one entry of the enrolment's chain in the ledger.
type Link struct {
	Seq   int64
	Kind  ledger.Kind
	RefID uuid.UUID
	At    time.Time
	Hash  []byte
}

const attendedSQL = `
	SELECT s.id AS session_id, s.course_id, s.title, s.kind, s.starts_at, s.ends_at, s.state, p.attendance,
		(SELECT n.name
			FROM sessions_participant i
			JOIN people_person n ON n.centre_id = i.centre_id AND n.id = i.person_id
			WHERE i.centre_id = p.centre_id AND i.group_id = p.group_id AND i.role = 'in_charge'
			LIMIT 1) AS in_charge
	FROM sessions_participant p JOIN sessions_session s ON s.centre_id = p.centre_id AND s.id = p.session_id
	WHERE p.centre_id = app_centre() AND p.enrolment_id = @id ORDER BY s.starts_at, s.id`

// Record reads the record of an enrolment in the caller's transaction, which is to see
// all of it as it is at one moment; a student their own. What is found of dives and
// attempts on reading is left to the caller: see Record.Decorate.
func (s *Service) Record(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID) (out Record, err error) {
	all, err := s.standings.Read(ctx, tx, []uuid.UUID{id})
	if err != nil {
		return out, err
	}
	e, ok := all[id]
	if !ok || !permission.Covers("getRecord", by, e.PersonID) {
		return out, fault.NoSuch("enrolment")
	}
	out = Record{EnrolmentID: e.ID, PersonID: e.PersonID, Name: e.Name, BirthOn: e.BirthOn, State: e.State,
		CourseID: e.CourseID, Course: e.Course, SyllabusID: e.SyllabusID, SyllabusNo: e.SyllabusNo,
		Syllabus: e.Syllabus, MadeAt: tx.Now, Progress: syllabus.ProgressOf(e.Syllabus, *e.Standing)}
	if err := fillRecord(ctx, tx, &out); err != nil {
		return out, err
	}
	if out.SignedAs, err = out.signedAs(); err != nil {
		return out, err
	}
	for _, c := range out.Completions {
		if c.VoidedAt == nil {
			out.Progress.Flags = append(out.Progress.Flags,
				syllabus.CompletionFlags(c.ID.String(), standing.Texts(c.RestsOn), *e.Standing)...)
		}
	}
	return out, s.rested(ctx, tx, out.SignOffs)
}

// Decorate adds what is found, by entry, of dives and attempts on reading.
func (r *Record) Decorate(found map[uuid.UUID]finding.List) {
	watercheck.DecorateDives(r.Dives, found)
	watercheck.Decorate(r.Attempts, found, func(a *waterview.Attempt) *journal.Head { return &a.Head })
}

func fillRecord(ctx context.Context, tx *pg.Tx, r *Record) error {
	var b pgx.Batch
	var centre []string
	args := pgx.StrictNamedArgs{"id": r.EnrolmentID}
	pg.QueueRows(&b, &centre, `SELECT name FROM centre_settings WHERE centre_id = app_centre()`,
		pgx.StrictNamedArgs{})
	pg.QueueRows(&b, &r.Corrections, `
		SELECT id, person_id, member, before, after, reason, corrected_by, corrected_at, corrected_name
		FROM people_correction
		WHERE centre_id = app_centre() AND person_id = @person
		ORDER BY corrected_at DESC, id DESC`, pgx.StrictNamedArgs{"person": r.PersonID})
	pg.QueueRows(&b, &r.Sessions, attendedSQL, args)
	waterview.QueueDivesFor(&b, &r.Dives, r.EnrolmentID)
	waterview.QueueCheckCounts(&b, &r.GasChecks, r.EnrolmentID)
	pg.QueueRows(&b, &r.Results, `SELECT `+resultColumns+resultFrom+
		`WHERE t.centre_id = app_centre() AND t.enrolment_id = @id ORDER BY e.witnessed_at, e.id`, args)
	standing.QueueAttemptsFor(&b, &r.Attempts, r.EnrolmentID)
	pg.QueueRows(&b, &r.Credits, `SELECT `+creditColumns+creditFrom+
		`WHERE c.centre_id = app_centre() AND c.enrolment_id = @id ORDER BY c.accepted_at, c.id`, args)
	pg.QueueRows(&b, &r.SignOffs, `SELECT `+signedColumns+signedFrom+
		`WHERE o.centre_id = app_centre() AND o.enrolment_id = @id ORDER BY o.signed_at, o.id`, args)
	pg.QueueRows(&b, &r.Completions, `SELECT `+completionColumns+completionFrom+
		`WHERE c.centre_id = app_centre() AND c.enrolment_id = @id ORDER BY c.round`, args)
	pg.QueueRows(&b, &r.Chain, `SELECT seq, kind, ref_id, at, hash FROM ledger_chain
		WHERE centre_id = app_centre() AND subject_type = 'enrolment' AND subject_id = @id ORDER BY seq`, args)
	if err := tx.Send(ctx, &b); err != nil {
		return err
	}
	r.Centre = centre[0]
	return nil
}

// Flags returns what stands on something that no longer does.
func (r Record) Flags() finding.List { return r.Progress.Flags }
