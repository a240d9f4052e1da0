package diveday

import (
	"tankside/internal/units"
	"time"

	"github.com/google/uuid"
)

// ratesSQL reads the newest finished dives of each person, with the gas checks during
// each. Sessions are narrowed down first: an instructor of five years has thousands of
// dives.
const ratesSQL = `
	SELECT w.person_id, x.*, t.water, COALESCE(s.kind, '') AS kind, COALESCE((
		SELECT jsonb_agg(jsonb_build_object('id', g.id, 'at', g.witnessed_at, 'reading', g.reading,
			'depth', g.depth) ORDER BY g.witnessed_at, g.id)
		FROM (
			SELECT *
			FROM waterlog_gas_check g
			WHERE g.centre_id = app_centre() AND g.participant_id BETWEEN x.participant_id AND x.participant_id
			ORDER BY g.participant_id) g
		WHERE (g.dive_id = x.dive_id OR g.dive_id IS NULL)
			AND g.witnessed_at >= x.in_at
			AND g.witnessed_at <= x.out_at
			AND g.depth IS NOT NULL), '[]') AS checks
	FROM (SELECT DISTINCT unnest(@persons::uuid[]) AS person_id) w
	CROSS JOIN LATERAL (
		SELECT d.start_id, d.dive_id, d.session_id, d.participant_id, d.in_at, d.out_at, d.end_id, d.size,
			d.rating, d.start_pressure, d.end_pressure, d.depth
		FROM (
			SELECT p.id
			FROM (
				SELECT p.id, p.session_id
				FROM sessions_participant p
				WHERE p.centre_id = app_centre() AND p.person_id BETWEEN w.person_id AND w.person_id
				ORDER BY p.person_id) p
			CROSS JOIN LATERAL (
				SELECT s.starts_at, s.kind
				FROM sessions_session s
				WHERE s.centre_id = app_centre() AND s.id BETWEEN p.session_id AND p.session_id
				ORDER BY s.id) s
			WHERE s.starts_at < @before AND s.kind <> 'theory'
			ORDER BY s.starts_at DESC, p.id
			LIMIT @sessions) p
		CROSS JOIN LATERAL (
			SELECT *
			FROM waterlog_dive d
			WHERE d.centre_id = app_centre() AND d.participant_id BETWEEN p.id AND p.id
			ORDER BY d.participant_id) d
		WHERE d.out_at > d.in_at AND d.out_at <= @before
		ORDER BY d.in_at DESC, d.start_id
		LIMIT @last) x
	LEFT JOIN LATERAL (
		SELECT s.kind, s.centre_id, s.site_id
		FROM sessions_session s
		WHERE s.centre_id = app_centre() AND s.id BETWEEN x.session_id AND x.session_id
		ORDER BY s.id) s ON true
	LEFT JOIN LATERAL (
		SELECT t.water
		FROM courses_site t
		WHERE t.centre_id = s.centre_id AND t.id BETWEEN s.site_id AND s.site_id
		ORDER BY t.id) t ON true
	ORDER BY w.person_id, x.in_at DESC, x.start_id`

// loggedDive is a finished dive as it was recorded, with its gas checks.
type loggedDive struct {
	PersonID      uuid.UUID
	StartID       uuid.UUID
	DiveID        uuid.UUID
	SessionID     uuid.UUID
	ParticipantID uuid.UUID
	InAt          time.Time
	OutAt         time.Time
	EndID         uuid.UUID
	Size          *units.Reading // of the cylinder
	Rating        *units.Reading // of the cylinder
	StartPressure *units.Reading
	EndPressure   *units.Reading
	Depth         *units.Reading // the greatest
	Water         *string
	Kind          string // of the session
	Checks        []gasCheck
}

// gasCheck is a gas check of a dive, as ratesSQL returns it.
type gasCheck struct {
	ID      uuid.UUID     `json:"id"`
	At      time.Time     `json:"at"`
	Reading units.Reading `json:"reading"`
	Depth   units.Reading `json:"depth"`
}
