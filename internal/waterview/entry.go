package waterview

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Entry is an entry of a session that stands, as it is found of.
type Entry struct {
	ID            uuid.UUID
	Kind          journal.Kind
	ParticipantID uuid.UUID
	WitnessedAt   time.Time
	Reading       *units.Reading
	TimeInID      *uuid.UUID
	Depth         *units.Reading // of a time out
	Simulated     bool           // of a gas check
	DiveID        *uuid.UUID
	CheckedDepth  *units.Reading // of a gas check
}

const entriesSQL = `
	SELECT e.id, e.kind, e.participant_id, e.witnessed_at, g.reading, x.time_in_id, x.depth,
		COALESCE(g.simulated, false) AS simulated, g.dive_id, g.depth AS checked_depth` + ofSession + `
	LEFT JOIN LATERAL (
		SELECT *
		FROM gas_check g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g ON e.kind = 'gas_check'
	LEFT JOIN LATERAL (
		SELECT *
		FROM time_out x
		WHERE x.centre_id = e.centre_id AND x.id BETWEEN e.id AND e.id
		ORDER BY x.id) x ON e.kind = 'time_out'
	WHERE e.voided_at IS NULL
		AND e.kind IN ('gas_check', 'gas_response', 'drill_attempt', 'time_in', 'time_out')
	ORDER BY e.witnessed_at, e.id`

// QueueEntries reads the entries of a session that stand and are judged beside one another,
// by time, in a batch.
func QueueEntries(b *pgx.Batch, into *[]Entry, session uuid.UUID) {
	pg.QueueRows(b, into, entriesSQL, pgx.StrictNamedArgs{"session": session})
}

// GasCheck returns a gas check as gauges are judged by it.
func (r Entry) GasCheck() GasCheck {
	return GasCheck{
		Head: journal.Head{ID: r.ID, ParticipantID: &r.ParticipantID, WitnessedAt: r.WitnessedAt}, DiveID: r.DiveID,
		Depth: r.CheckedDepth, Reading: r.Reading, Simulated: r.Simulated}
}

// RatingOf returns the highest rating of the cylinders with which somebody went
// in, nil when none is known.
func RatingOf(log []Dive, participant uuid.UUID) (most *units.Reading) {
	for _, l := range log {
		if r := l.Rating; l.ParticipantID == participant && r != nil &&
			(most == nil || r.Compare(*most) > 0) {
			most = r
		}
	}
	return most
}
