package planning

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// planStage is a session with whatever its plans are judged by.
type planStage struct {
	session  planSession
	parts    map[uuid.UUID]planPart
	dives    []planDive
	groups   []uuid.UUID
	settings GasSettings  // of the centre
	books    []ratio.Book // that the centre applies
	taught   map[syllabusKey]syllabus.Syllabus
}

// planSession is what planning asks about a session.
type planSession struct {
	ID              uuid.UUID
	Title           string
	Kind            string
	Level           string // of the course
	State           string
	StartsAt        time.Time
	EndsAt          time.Time
	OnDay           time.Time
	TimeZone        string
	Water           *string
	MaxDepthValue   *float64
	MaxDepthUnit    *string
	AltitudeValue   *float64
	AltitudeUnit    *string
	VisibilityValue *float64
	VisibilityUnit  *string
	CurrentValue    *float64
	CurrentUnit     *string
	WaterValue      *float64
	WaterUnit       *string
	syllabusKey
}

// syllabusKey names a version of a syllabus of the centre.
type syllabusKey struct {
	SyllabusID     uuid.UUID
	SyllabusNumber int
}

const planSessionSQL = `SELECT s.id, s.title, s.kind, s.state, s.starts_at, s.ends_at, s.on_day, s.time_zone, t.water, t.max_depth_value, t.max_depth_unit,
		t.altitude_value, t.altitude_unit, w.visibility_value, w.visibility_unit, w.current_value, w.current_unit, w.water_value, w.water_unit,
		c.syllabus_id, c.syllabus_number, c.level
	FROM sessions_session s
	JOIN courses_course c ON c.centre_id = s.centre_id AND c.id = s.course_id
	JOIN sessions_conditions w ON w.centre_id = s.centre_id AND w.session_id = s.id
	LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
	WHERE s.centre_id = app_centre() AND s.id = @session`

// planPart is a participant as planning asks.
type planPart struct {
	ID             uuid.UUID
	GroupID        *uuid.UUID
	PersonID       uuid.UUID
	Role           string
	GaugeUnit      string
	Counted        bool // and to dive
	Name           string
	BirthOn        time.Time
	SyllabusID     *uuid.UUID // by which a student is taught
	SyllabusNumber *int
}

const planPartsSQL = `SELECT p.id, p.group_id, p.person_id, p.role, p.gauge_unit, p.counted AND d.participant_id IS NULL AS counted, n.name, n.birth_on, c.syllabus_id, c.syllabus_number
	FROM sessions_participant p
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN sessions_not_diving d ON d.centre_id = p.centre_id AND d.participant_id = p.id
	LEFT JOIN courses_enrolment e ON e.centre_id = p.centre_id AND e.id = p.enrolment_id
	LEFT JOIN courses_course c ON c.centre_id = e.centre_id AND c.id = e.course_id
	WHERE p.centre_id = app_centre() AND p.session_id = @session ORDER BY n.name, p.id`

// appliedBooks are the ratio books that the centre applies.
type appliedBooks struct {
	RuleBooks []string
	OwnBook   *ratio.Book
}

// planDive is a planned dive of the session.
type planDive struct {
	ID           uuid.UUID
	Number       int
	TrainingDive *int
}

// readPlanStage reads a session with its people in one round trip, and the
// syllabuses that are not known yet.
func (s *Service) readPlanStage(ctx context.Context, tx *pg.Tx, session uuid.UUID) (planStage, error) {
	var b pgx.Batch
	var rows []planSession
	var parts []planPart
	var settings []GasSettings
	var books []appliedBooks
	st := planStage{parts: map[uuid.UUID]planPart{}, taught: map[syllabusKey]syllabus.Syllabus{}}
	args := pgx.StrictNamedArgs{"session": session}
	pg.Queue(&b, &rows, planSessionSQL, args)
	pg.Queue(&b, &parts, planPartsSQL, args)
	pg.Queue(&b, &st.dives, `SELECT id, number, training_dive FROM sessions_dive WHERE centre_id = app_centre() AND session_id = @session ORDER BY number`, args)
	pg.Queue(&b, &st.groups, `SELECT id FROM sessions_group WHERE centre_id = app_centre() AND session_id = @session`, args)
	pg.Queue(&b, &books, `SELECT rule_books, own_book FROM people_centre WHERE centre_id = app_centre()`, pgx.StrictNamedArgs{})
	queueGasSettings(&b, &settings)
	if err := tx.Send(ctx, &b); err != nil {
		return st, err
	}
	if len(rows) == 0 {
		return st, fault.Missing("session")
	}
	st.session = rows[0]
	for _, x := range books {
		var err error
		if st.books, err = ratio.Applied(x.RuleBooks, x.OwnBook); err != nil {
			return st, fmt.Errorf("read rule books: %w", err)
		}
	}
	if len(settings) > 0 {
		st.settings = settings[0]
	}
	if err := s.learnSyllabus(ctx, tx, &st, st.session.syllabusKey); err != nil {
		return st, err
	}
	for _, p := range parts {
		st.parts[p.ID] = p
		if p.SyllabusID == nil {
			continue
		}
		if err := s.learnSyllabus(ctx, tx, &st, syllabusKey{*p.SyllabusID, *p.SyllabusNumber}); err != nil {
			return st, err
		}
	}
	return st, nil
}

// learnSyllabus puts a version of a syllabus on the stage.
func (s *Service) learnSyllabus(ctx context.Context, tx *pg.Tx, st *planStage, k syllabusKey) error {
	if _, ok := st.taught[k]; ok {
		return nil
	}
	y, err := s.syllabuses.Of(ctx, tx, versions.Version{SyllabusID: k.SyllabusID, Number: k.SyllabusNumber})
	if err != nil {
		return err
	}
	st.taught[k] = y
	return nil
}

// numbers gives the training dives that a plan is for: that of its dive, or all
// of the session.
func (st planStage) numbers(dive *uuid.UUID) []int {
	var out []int
	for _, d := range st.dives {
		if d.TrainingDive != nil && (dive == nil || d.ID == *dive) {
			out = append(out, *d.TrainingDive)
		}
	}
	return out
}

// leastTime gives how long the dive must last to count, nil where the syllabus
// does not say.
func (st planStage) leastTime(dive *uuid.UUID) *Quantity {
	var most units.Reading
	y := st.taught[st.session.syllabusKey]
	for _, n := range st.numbers(dive) {
		if d := y.Dive(n); d != nil && d.LeastDuration.Unit.Dimension() == units.Times && (most.IsZero() || units.Reading(d.LeastDuration).Compare(most) > 0) {
			most = units.Reading(d.LeastDuration)
		}
	}
	if most.IsZero() || st.session.Kind != "open" {
		return nil
	}
	return new(Of(most))
}

// known gives a quantity of two columns, nil where nothing is known.
func known(value *float64, unit *string) *Quantity {
	if r := pg.Reading(value, unit); r != nil {
		return new(Of(*r))
	}
	return nil
}
