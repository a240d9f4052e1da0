package training

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Dive is a planned dive of a session.
type Dive struct {
	ID           uuid.UUID
	Number       int
	TrainingDive *int
}

// plannedSQL reads the planned dives of a session.
const plannedSQL = `
	SELECT d.id, d.number, d.training_dive
	FROM (
		SELECT *
		FROM sessions_dive d
		WHERE d.centre_id = app_centre() AND d.session_id BETWEEN @session AND @session
		ORDER BY d.session_id) d
	ORDER BY d.number`

func divesOf(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]Dive, error) {
	return pg.Rows[Dive](ctx, tx, plannedSQL, pgx.StrictNamedArgs{"session": session})
}

// TimeIn is one person's start of a dive.
type TimeIn struct {
	ID            uuid.UUID      `json:"ID"`
	ParticipantID uuid.UUID      `json:"ParticipantID"`
	InAt          time.Time      `json:"InAt"`
	Team          *string        `json:"Team"`          // the buddy team's name within the dive
	Size          *units.Reading `json:"Size"`          // of the cylinder, in water or as rated gas
	Rating        *units.Reading `json:"Rating"`        // of the cylinder
	OxygenPercent *float64       `json:"OxygenPercent"` // 21 for air when not said
	Start         *units.Reading `json:"Start"`
	WitnessedBy   *uuid.UUID     `json:"WitnessedBy"`
}

// Times implements journal.Item.
func (t *TimeIn) Times() []*time.Time { return []*time.Time{&t.InAt} }

// Digest implements journal.Item.
func (t TimeIn) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, t}) }

// Names implements journal.Item.
func (t TimeIn) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AParticipant, &t.ParticipantID),
		journal.Named(journal.APerson, t.WitnessedBy))
}

// TimeOut is one person's end of a dive.
type TimeOut struct {
	ID          uuid.UUID      `json:"ID"`
	StartID     uuid.UUID      `json:"StartID"` // the time in that it ends
	OutAt       time.Time      `json:"OutAt"`
	Depth       *units.Reading `json:"Depth"` // the greatest
	End         *units.Reading `json:"End"`
	WitnessedBy *uuid.UUID     `json:"WitnessedBy"`
}

// Times implements journal.Item.
func (t *TimeOut) Times() []*time.Time { return []*time.Time{&t.OutAt} }

// Digest implements journal.Item.
func (t TimeOut) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, t}) }

// Names implements journal.Item.
func (t TimeOut) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AnEntry, &t.StartID),
		journal.Named(journal.APerson, t.WitnessedBy))
}

type timeInRow struct {
	ID            uuid.UUID `json:"id"`
	DiveID        uuid.UUID `json:"dive_id"`
	ParticipantID uuid.UUID `json:"participant_id"`
	Team          *string   `json:"team"`
	SizeValue     *float64  `json:"size_value"`
	SizeUnit      *string   `json:"size_unit"`
	RatingValue   *float64  `json:"rating_value"`
	RatingUnit    *string   `json:"rating_unit"`
	OxygenPercent *float64  `json:"oxygen_percent"`
	StartValue    *float64  `json:"start_value"`
	StartUnit     *string   `json:"start_unit"`
}

const insertTimesIn = `INSERT INTO dive_start (centre_id, id, dive_id, participant_id, team, size_value, size_unit, rating_value, rating_unit, oxygen_percent, start_value, start_unit)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_id uuid, participant_id uuid, team text, size_value numeric, size_unit text,
		rating_value numeric, rating_unit text, oxygen_percent numeric, start_value numeric, start_unit text)`

type timeOutRow struct {
	ID         uuid.UUID `json:"id"`
	StartID    uuid.UUID `json:"dive_start_id"`
	DepthValue *float64  `json:"depth_value"`
	DepthUnit  *string   `json:"depth_unit"`
	EndValue   *float64  `json:"end_value"`
	EndUnit    *string   `json:"end_unit"`
}

const insertTimesOut = `INSERT INTO dive_end (centre_id, id, dive_start_id, depth_value, depth_unit, end_value, end_unit)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_start_id uuid, depth_value numeric, depth_unit text, end_value numeric, end_unit text)`

// LoggedDive is one person's dive as it was recorded; what is not known is nil.
type LoggedDive struct {
	StartID       uuid.UUID
	DiveID        uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	EnrolmentID   *uuid.UUID
	Name          string
	InAt          time.Time
	Team          *string
	SizeValue     *float64
	SizeUnit      *string
	RatingValue   *float64
	RatingUnit    *string
	OxygenPercent *float64
	StartValue    *float64
	StartUnit     *string
	EndID         *uuid.UUID
	OutAt         *time.Time
	DepthValue    *float64
	DepthUnit     *string
	EndValue      *float64
	EndUnit       *string
	Findings      finding.List
	EndFindings   finding.List
}

// Size returns the size of the cylinder as it was read, nil when it was not; so do
// the methods below for what they are called after.
func (l LoggedDive) Size() *units.Reading { return pg.Reading(l.SizeValue, l.SizeUnit) }

// Rating returns the rating of the cylinder.
func (l LoggedDive) Rating() *units.Reading { return pg.Reading(l.RatingValue, l.RatingUnit) }

// Start returns the pressure at the start.
func (l LoggedDive) Start() *units.Reading { return pg.Reading(l.StartValue, l.StartUnit) }

// Depth returns the greatest depth.
func (l LoggedDive) Depth() *units.Reading { return pg.Reading(l.DepthValue, l.DepthUnit) }

// End returns the pressure at the end.
func (l LoggedDive) End() *units.Reading { return pg.Reading(l.EndValue, l.EndUnit) }

// loggedFrom reads the dives that stand, each with its end if it has one that stands;
// more conditions on b, the time in, and e, its entry, may follow.
const loggedFrom = loggedColumns + `
	FROM dive_start b
	JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id` + loggedMore + `
	WHERE b.centre_id = app_centre() AND e.voided_at IS NULL `

const (
	loggedColumns = `
	SELECT b.id AS start_id, b.dive_id, b.participant_id, p.person_id, p.enrolment_id, n.name, e.witnessed_at AS in_at,
		b.team, b.size_value, b.size_unit, b.rating_value, b.rating_unit, b.oxygen_percent, b.start_value, b.start_unit,
		z.id AS end_id, z.out_at, z.depth_value, z.depth_unit, z.end_value, z.end_unit,
		e.findings, COALESCE(z.findings, '[]') AS end_findings`

	// loggedMore has the participant p of the time in b, the person n and the time out z.
	loggedMore = `
	CROSS JOIN LATERAL (
		SELECT p.id, p.centre_id, p.session_id, p.person_id, p.enrolment_id
		FROM sessions_participant p
		WHERE p.centre_id = b.centre_id AND p.id BETWEEN b.participant_id AND b.participant_id
		ORDER BY p.id) p
	CROSS JOIN LATERAL (
		SELECT n.name
		FROM people_person n
		WHERE n.centre_id = p.centre_id AND n.id BETWEEN p.person_id AND p.person_id
		ORDER BY n.id) n
	LEFT JOIN LATERAL (` + outOf + `) z ON true`

	// outOf is the last time out of the time in b that stands.
	outOf = `
		SELECT x.id, h.witnessed_at AS out_at, x.depth_value, x.depth_unit, x.end_value, x.end_unit, h.findings
		FROM (
			SELECT *
			FROM dive_end x
			WHERE x.centre_id = b.centre_id AND x.dive_start_id BETWEEN b.id AND b.id
			ORDER BY x.dive_start_id) x
		CROSS JOIN LATERAL (
			SELECT h.id, h.witnessed_at, h.findings
			FROM journal_entry h
			WHERE h.centre_id = x.centre_id AND h.id BETWEEN x.id AND x.id AND h.voided_at IS NULL
			ORDER BY h.id) h
		ORDER BY h.witnessed_at DESC, h.id
		LIMIT 1`

	inOrder = ` ORDER BY e.witnessed_at, b.id`
)

// loggedSQL reads the dives of a session.
const loggedSQL = loggedColumns + ofSession + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM dive_start b
		WHERE b.centre_id = e.centre_id AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b` + loggedMore + `
	WHERE e.kind = 'dive_start' AND e.voided_at IS NULL` + inOrder

// loggedOfParts reads the dives of some participants.
const loggedOfParts = loggedColumns + ofParts + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM dive_start b
		WHERE b.centre_id = e.centre_id AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b` + loggedMore + `
	WHERE e.kind = 'dive_start' AND e.voided_at IS NULL` + inOrder

// Where the entries e of the statements about a session come from.
const (
	ofSession = `
	FROM (
		SELECT *
		FROM journal_entry e
		WHERE e.centre_id = app_centre() AND e.session_id BETWEEN @session AND @session
		ORDER BY e.session_id) e`

	ofParts = `
	FROM (SELECT DISTINCT unnest(@parts::uuid[]) AS id) w
	CROSS JOIN LATERAL (
		SELECT *
		FROM journal_entry e
		WHERE e.centre_id = app_centre() AND e.participant_id BETWEEN w.id AND w.id
		ORDER BY e.participant_id) e`
)

// DiveLog is a planned dive with what was recorded of it.
type DiveLog struct {
	Dive
	Log []LoggedDive
}

// Dives returns the planned dives of a session with who went in and came out.
func (s *Service) Dives(ctx context.Context, by actor.Actor, session uuid.UUID) (out []DiveLog, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := sessionThere(ctx, tx, session); err != nil {
			return err
		}
		dives, err := divesOf(ctx, tx, session)
		if err != nil {
			return err
		}
		log, err := pg.Rows[LoggedDive](ctx, tx, loggedSQL, pgx.StrictNamedArgs{"session": session})
		if err != nil {
			return err
		}
		found, err := s.Found(ctx, tx, session)
		if err != nil {
			return err
		}
		decorateDives(log, found)
		out = make([]DiveLog, len(dives))
		for i, d := range dives {
			out[i].Dive = d
			for _, l := range log {
				if l.DiveID == d.ID {
					out[i].Log = append(out[i].Log, l)
				}
			}
		}
		return nil
	})
	return out, err
}
