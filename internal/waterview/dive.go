// Package waterview is the read model of what was witnessed in the water: dives with their
// times in and out, gas checks, responses, drill attempts and completed logs, of sessions,
// participants and enrolments.
//
// It owns no table and writes none: package waterlog keeps the tables. It must not know
// what a fact is found guilty of.
package waterview

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Dive is one person's dive as it was recorded; what is not known is nil.
type Dive struct {
	StartID       uuid.UUID
	DiveID        uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	EnrolmentID   *uuid.UUID
	Name          string
	InAt          time.Time
	Team          *string
	Size          *units.Reading // of the cylinder
	Rating        *units.Reading // of the cylinder
	OxygenPercent *float64
	StartPressure *units.Reading
	EndID         *uuid.UUID
	OutAt         *time.Time
	Depth         *units.Reading // the greatest
	EndPressure   *units.Reading
	Findings      finding.List
	EndFindings   finding.List
}

// loggedFrom reads the dives that stand, each with its end if it has one that stands;
// more conditions on b, the time in, and e, its entry, may follow.
const loggedFrom = loggedColumns + `
	FROM time_in b
	JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id` + loggedMore + `
	WHERE b.centre_id = app_centre() AND e.voided_at IS NULL `

const (
	loggedColumns = `
	SELECT b.id AS start_id, b.dive_id, b.participant_id, p.person_id, p.enrolment_id, n.name,
		e.witnessed_at AS in_at,
		b.team, b.size, b.rating, b.oxygen_percent, b.start_pressure,
		z.id AS end_id, z.out_at, z.depth, z.end_pressure,
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
		SELECT x.id, h.witnessed_at AS out_at, x.depth, x.end_pressure,
			h.findings
		FROM (
			SELECT *
			FROM time_out x
			WHERE x.centre_id = b.centre_id AND x.time_in_id BETWEEN b.id AND b.id
			ORDER BY x.time_in_id) x
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
		FROM time_in b
		WHERE b.centre_id = e.centre_id AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b` + loggedMore + `
	WHERE e.kind = 'time_in' AND e.voided_at IS NULL` + inOrder

// loggedOfParts reads the dives of some participants.
const loggedOfParts = loggedColumns + ofParts + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM time_in b
		WHERE b.centre_id = e.centre_id AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b` + loggedMore + `
	WHERE e.kind = 'time_in' AND e.voided_at IS NULL` + inOrder

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

// QueueDives reads the dives of a session that stand, by time in, in a batch.
func QueueDives(b *pgx.Batch, into *[]Dive, session uuid.UUID) {
	pg.QueueRows(b, into, loggedSQL, pgx.StrictNamedArgs{"session": session})
}

// QueueDivesOf is QueueDives for some participants.
func QueueDivesOf(b *pgx.Batch, into *[]Dive, participants []uuid.UUID) {
	pg.QueueRows(b, into, loggedOfParts, pgx.StrictNamedArgs{"parts": participants})
}

// QueueDivesFor is QueueDives for an enrolment, in all sessions.
func QueueDivesFor(b *pgx.Batch, into *[]Dive, enrolment uuid.UUID) {
	pg.QueueRows(b, into, recordDivesSQL, pgx.StrictNamedArgs{"id": enrolment})
}

const recordDivesSQL = loggedFrom + `AND p.enrolment_id = @id` + inOrder
