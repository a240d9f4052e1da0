package standing

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterview"
	"tankside/internal/when"
)

// Enrolment is one person's enrolment on a course, with what it has reached.
type Enrolment struct {
	ID       uuid.UUID
	CourseID uuid.UUID
	PersonID uuid.UUID
	State    syllabus.EnrolmentState
	Name     string
	BirthOn  time.Time
	Course   string
	Version
	TimeZone string             // of the centre
	Syllabus syllabus.Syllabus  `db:"-"`
	Standing *syllabus.Standing `db:"-"` // as standings fills it in
	Rounds   map[string]int     `db:"-"` // the highest round of each skill, likewise
	Been     map[uuid.UUID]bool `db:"-"` // the planned dives that the student went in on, likewise
}

const enrolmentSQL = `
	SELECT e.id, e.course_id, e.person_id, e.state, n.name, n.birth_on, c.title AS course, c.syllabus_id,
		c.syllabus_number AS syllabus_no, z.time_zone
	FROM courses_enrolment e
	JOIN people_person n ON n.centre_id = e.centre_id AND n.id = e.person_id
	JOIN courses_course c ON c.centre_id = e.centre_id AND c.id = e.course_id
	JOIN centre_settings z ON z.centre_id = e.centre_id
	WHERE e.centre_id = app_centre() AND e.id = ANY (@ids) ORDER BY n.name, e.id`

// Enrolment reads one enrolment, which must exist.
func (s *Reader) Enrolment(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Enrolment, error) {
	rows, err := pg.Rows[Enrolment](ctx, tx, enrolmentSQL, pgx.StrictNamedArgs{"ids": []uuid.UUID{id}})
	switch {
	case err != nil:
		return Enrolment{}, err
	case len(rows) == 0:
		return Enrolment{}, fault.NoSuch("enrolment")
	}
	rows[0].Syllabus, err = s.Syllabus(ctx, tx, rows[0].Version)
	return rows[0], err
}

// The rows that a standing is made of, each with its enrolment.
type (
	signOffRow struct {
		EnrolmentID uuid.UUID
		ID          uuid.UUID
		Skill       string
		Round       int
		SignedBy    uuid.UUID
		WitnessedOn time.Time
		Evidence    []uuid.UUID
		Voided      bool
		ByRule      bool // made without coverage, and names no evidence
		SignedAt    time.Time
		Absent      bool // made without coverage, and roll call has the student as not there
		Accepted    []string
	}
	creditRow struct {
		EnrolmentID  uuid.UUID
		ID           uuid.UUID
		What         string
		Code         *string
		TrainingDive *int
		Minutes      *int
		DoneOn       time.Time
		Voided       bool
	}
	attemptFact struct {
		EnrolmentID  uuid.UUID
		ID           uuid.UUID
		Skill        string
		Role         *string
		Measures     map[string]syllabus.Quantity
		Claimed      bool
		Reason       *string
		WitnessedBy  uuid.UUID
		OnDay        time.Time
		WitnessedAt  time.Time
		SessionID    uuid.UUID
		Kind         syllabus.Setting
		TrainingDive *int
		Voided       bool
	}
	resultFact struct {
		EnrolmentID uuid.UUID
		ID          uuid.UUID
		Part        string
		Percent     float64
		WitnessedAt time.Time
		Voided      bool
	}
	diveFact struct {
		EnrolmentID  uuid.UUID
		ID           uuid.UUID
		DiveID       uuid.UUID
		TrainingDive int
		OnDay        time.Time
		InAt         time.Time
		OutAt        *time.Time
		Depth        *units.Reading
		Voided       bool
	}
)

const (
	signOffsSQL = `
		SELECT o.enrolment_id, o.id, o.skill, o.round, o.signed_by, o.witnessed_on, o.evidence,
			v.sign_off_id IS NOT NULL AS voided, o.from_water AND NOT o.evidence_named AS by_rule, o.signed_at,
			o.from_water AND NOT EXISTS (
				SELECT FROM sessions_participant p
				WHERE p.centre_id = o.centre_id AND p.session_id = o.session_id
					AND p.enrolment_id = o.enrolment_id
					AND (p.attendance NOT IN ('absent', 'sat_out') OR EXISTS (
						SELECT FROM drill_attempt d
						JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id
						WHERE d.centre_id = p.centre_id AND d.participant_id = p.id
							AND e.voided_at IS NULL))) AS absent,
			ARRAY(
				SELECT u->>'id'
				FROM jsonb_array_elements(o.findings) f, jsonb_array_elements(f->'subjects') u
				WHERE f->>'rule' = 'syllabus.failed_since' AND u->>'type' = 'attempt') AS accepted
		FROM sign_off o
		LEFT JOIN sign_off_void v ON v.centre_id = o.centre_id AND v.sign_off_id = o.id
		WHERE o.centre_id = app_centre() AND o.enrolment_id = ANY (@ids)
		ORDER BY o.signed_at, o.id`
	creditsSQL = `
		SELECT c.enrolment_id, c.id, c.what, c.code, c.training_dive, c.minutes, c.done_on,
			v.credit_id IS NOT NULL AS voided
		FROM credit c LEFT JOIN credit_void v ON v.centre_id = c.centre_id AND v.credit_id = c.id
		WHERE c.centre_id = app_centre() AND c.enrolment_id = ANY (@ids) ORDER BY c.accepted_at, c.id`
	// Attempts count for the enrolment by which somebody takes part, and where roll
	// calls disagree about an unexpected person, for each that one of them names.
	attemptsOf = `
		FROM (SELECT p.enrolment_id, p.id AS participant_id
			FROM sessions_participant p
			WHERE p.centre_id = app_centre() AND p.enrolment_id = ANY (@ids)
			UNION SELECT a.enrolment_id, a.participant_id
			FROM sessions_arrival a
			WHERE a.centre_id = app_centre() AND a.enrolment_id = ANY (@ids) AND a.stands) q
		JOIN drill_attempt d ON d.centre_id = app_centre() AND d.participant_id = q.participant_id
		JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id `
	attemptsSQL = `
		SELECT q.enrolment_id, d.id, d.skill, d.role, d.measures, d.claimed, d.reason, e.witnessed_by,
			s.id AS session_id, s.on_day, e.witnessed_at, s.kind, v.training_dive,
			e.voided_at IS NOT NULL AS voided
		` + attemptsOf + `JOIN sessions_session s ON s.centre_id = e.centre_id AND s.id = e.session_id
		LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id
		ORDER BY e.witnessed_at, d.id`
	resultsSQL = `
		SELECT t.enrolment_id, t.id, t.part, t.percent, e.witnessed_at, e.voided_at IS NOT NULL AS voided
		FROM theory_result t JOIN journal_entry e ON e.centre_id = t.centre_id AND e.id = t.id
		WHERE t.centre_id = app_centre() AND t.enrolment_id = ANY (@ids) ORDER BY e.witnessed_at, t.id`
	divesSQL = `
		SELECT p.enrolment_id, b.id, b.dive_id, v.training_dive, s.on_day, e.witnessed_at AS in_at,
			z.witnessed_at AS out_at, z.depth,
			e.voided_at IS NOT NULL AS voided
		FROM sessions_participant p
		JOIN time_in b ON b.centre_id = p.centre_id AND b.participant_id = p.id
		JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
		JOIN sessions_dive v ON v.centre_id = b.centre_id AND v.id = b.dive_id
		JOIN sessions_session s ON s.centre_id = v.centre_id AND s.id = v.session_id
		LEFT JOIN LATERAL (
			SELECT h.witnessed_at, x.depth
			FROM time_out x
			JOIN journal_entry h ON h.centre_id = x.centre_id AND h.id = x.id
			WHERE x.centre_id = b.centre_id AND x.time_in_id = b.id AND h.voided_at IS NULL
			ORDER BY h.witnessed_at DESC, h.id
			LIMIT 1) z ON true
		WHERE p.centre_id = app_centre() AND p.enrolment_id = ANY (@ids) AND v.training_dive IS NOT NULL
			AND s.kind = 'open'
		ORDER BY e.witnessed_at, b.id`
)

// Read reads everything on record for enrolments, voided facts included,
// in one round trip however many there are. What does not exist is not in the
// answer.
func (s *Reader) Read(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) (map[uuid.UUID]*Enrolment, error) {
	var b pgx.Batch
	r := Queue(&b, ids)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	return s.Compose(ctx, tx, r)
}

// Rows is what standings are composed of, once its batch was sent.
type Rows struct {
	who      []Enrolment
	signOffs []signOffRow
	credits  []creditRow
	attempts []attemptFact
	results  []resultFact
	dives    []diveFact
}

// Queue is standings as a part of a batch; compose makes them of it.
func Queue(b *pgx.Batch, ids []uuid.UUID) *Rows {
	var r Rows
	args := pgx.StrictNamedArgs{"ids": ids}
	pg.QueueRows(b, &r.who, enrolmentSQL, args)
	pg.QueueRows(b, &r.signOffs, signOffsSQL, args)
	pg.QueueRows(b, &r.credits, creditsSQL, args)
	pg.QueueRows(b, &r.attempts, attemptsSQL, args)
	pg.QueueRows(b, &r.results, resultsSQL, args)
	pg.QueueRows(b, &r.dives, divesSQL, args)
	return &r
}

// Compose returns, by id, the enrolments of which rows were read, each with its standing.
func (s *Reader) Compose(ctx context.Context, tx *pg.Tx, r *Rows) (map[uuid.UUID]*Enrolment, error) {
	out := make(map[uuid.UUID]*Enrolment, len(r.who))
	for i := range r.who {
		e := &r.who[i]
		var err error
		if e.Syllabus, err = s.Syllabus(ctx, tx, e.Version); err != nil {
			return nil, err
		}
		e.Standing, e.Rounds, e.Been = &syllabus.Standing{Enrolment: e.ID.String(),
			Student: e.PersonID.String(), State: e.State}, map[string]int{}, map[uuid.UUID]bool{}
		out[e.ID] = e
	}
	addTo(out, r.signOffs, func(x signOffRow) uuid.UUID { return x.EnrolmentID }, (*Enrolment).addSignOff)
	addTo(out, r.credits, func(x creditRow) uuid.UUID { return x.EnrolmentID }, (*Enrolment).addCredit)
	addTo(out, r.attempts, func(x attemptFact) uuid.UUID { return x.EnrolmentID }, (*Enrolment).addAttempt)
	for _, o := range r.signOffs {
		if e, ok := out[o.EnrolmentID]; ok && o.ByRule {
			e.rechooseEvidence(o)
		}
	}
	addTo(out, r.results, func(x resultFact) uuid.UUID { return x.EnrolmentID }, (*Enrolment).addResult)
	for i, d := range r.dives {
		if e, ok := out[d.EnrolmentID]; ok && !doubled(r.dives[:i], d) {
			e.addDive(d)
		}
	}
	return out, nil
}

// addTo adds rows to their enrolments. An enrolment that came to be between two
// statements is in none of them.
func addTo[T any](all map[uuid.UUID]*Enrolment, rows []T, of func(T) uuid.UUID, add func(*Enrolment, T)) {
	for _, r := range rows {
		if e, ok := all[of(r)]; ok {
			add(e, r)
		}
	}
}

// DayOf returns a date as rules know it.
func DayOf(t time.Time) syllabus.Day { return syllabus.Day(t.Format(time.DateOnly)) }

// Texts returns ids as rules know them.
func Texts(ids []uuid.UUID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	return out
}

func (e *Enrolment) addSignOff(r signOffRow) {
	e.Standing.SignOffs = append(e.Standing.SignOffs,
		syllabus.SignOff{ID: r.ID.String(), Skill: r.Skill, Signer: r.SignedBy.String(),
			On: DayOf(r.WitnessedOn), Evidence: Texts(r.Evidence), Voided: r.Voided, ByRule: r.ByRule,
			Absent: r.Absent,
			Signed: r.SignedAt, Accepted: r.Accepted})
	e.Rounds[r.Skill] = max(e.Rounds[r.Skill], r.Round)
}

// rechooseEvidence sets the attempts that count now for a sign-off that was made without
// coverage and names no evidence: those that were known when it was recorded
// depend on who came back into coverage first.
func (e *Enrolment) rechooseEvidence(r signOffRow) {
	for i := range e.Standing.SignOffs {
		if x := &e.Standing.SignOffs[i]; x.ID == r.ID.String() {
			x.Evidence = syllabus.Evidence(e.Syllabus, *e.Standing, x.Skill, x.On, e.Day(r.SignedAt))
		}
	}
}

func (e *Enrolment) addCredit(r creditRow) {
	c := syllabus.Credit{ID: r.ID.String(), On: DayOf(r.DoneOn), Voided: r.Voided}
	switch {
	case r.TrainingDive != nil:
		c.Dive = *r.TrainingDive
		if r.Minutes != nil {
			c.Duration = syllabus.QuantityOf(float64(*r.Minutes), units.UnitMinute)
		}
	case r.What == "skill":
		c.Skill = *r.Code
	default:
		c.Theory = *r.Code
	}
	e.Standing.Credits = append(e.Standing.Credits, c)
}

func (e *Enrolment) addAttempt(r attemptFact) {
	a := syllabus.Attempt{ID: r.ID.String(), Skill: r.Skill, Measured: r.Measures, Met: r.Claimed,
		WitnessedBy: r.WitnessedBy.String(),
		On:          DayOf(r.OnDay), At: r.WitnessedAt, Session: r.SessionID.String(), Setting: r.Kind, Voided: r.Voided}
	if r.Role != nil {
		a.Role = syllabus.Role(*r.Role)
	}
	if r.Reason != nil {
		a.Reason = *r.Reason
	}
	if r.TrainingDive != nil {
		a.Dive = *r.TrainingDive
	}
	e.Standing.Attempts = append(e.Standing.Attempts, a)
}

func (e *Enrolment) addResult(r resultFact) {
	e.Standing.Theory = append(e.Standing.Theory,
		syllabus.TheoryResult{ID: r.ID.String(), Part: r.Part,
			Mark: syllabus.QuantityOf(r.Percent, units.UnitPercent),
			On:   e.Day(r.WitnessedAt), Voided: r.Voided})
}

// Date returns the day of an instant in the centre's zone.
func (e *Enrolment) Date(at time.Time) time.Time {
	loc, err := when.Zone(e.TimeZone, "")
	if err != nil {
		loc = time.UTC // a zone that was known once and is no more
	}
	return when.DayOf(at, loc)
}

// Day is Date as rules know it.
func (e *Enrolment) Day(at time.Time) syllabus.Day { return DayOf(e.Date(at)) }

// Age returns the age on a day.
func (e *Enrolment) Age(on time.Time) syllabus.Years { return syllabus.Years(when.Age(e.BirthOn, on)) }

// doubled reports whether a time in was recorded while another of the same person
// on the same dive stood: the time under water counts once. earlier has those
// that began before.
func doubled(earlier []diveFact, r diveFact) bool {
	for _, o := range earlier {
		if o.EnrolmentID == r.EnrolmentID && o.DiveID == r.DiveID && !o.Voided && !r.Voided && o.OutAt != nil &&
			r.InAt.Before(*o.OutAt) {
			return true
		}
	}
	return false
}

func (e *Enrolment) addDive(r diveFact) {
	s := Session{OnDay: r.OnDay}
	d := DiveDone(s, r.TrainingDive, e.Age(r.OnDay), r.ID, r.InAt, r.OutAt,
		r.Depth)
	d.Voided = r.Voided
	e.Been[r.DiveID] = e.Been[r.DiveID] || !r.Voided
	e.Standing.Dives = append(e.Standing.Dives, d)
}

// QueueAttemptsFor reads the drill attempts of an enrolment, by time, voided ones
// included, in a batch.
func QueueAttemptsFor(b *pgx.Batch, into *[]waterview.Attempt, enrolment uuid.UUID) {
	pg.QueueRows(b, into, `SELECT `+journal.Columns+
		`, d.dive_id, d.skill, d.role, d.measures, d.claimed, d.met, d.reason`+attemptsOf+`
		ORDER BY e.witnessed_at, e.id`, pgx.StrictNamedArgs{"ids": []uuid.UUID{enrolment}})
}
