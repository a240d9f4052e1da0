package waterlog

import (
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
)

// ofParticipant joins the name to a row d of a participant, and the number of its
// dive, which may be null.
const ofParticipant = `
	JOIN sessions_participant p ON p.centre_id = d.centre_id AND p.id = d.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id `

const thisOne = ` WHERE d.centre_id = app_centre() AND d.id = w.id`

// QueueSummaries adds to a batch the reading of what entries say of the kinds that
// the water brings: dives, gas checks and responses, drill attempts, and that a log is
// complete.
func (s *Service) QueueSummaries(b *pgx.Batch, into journal.Summaries, entries map[journal.Kind][]uuid.UUID) {
	journal.QueueSummaries(b, into, entries[journal.DiveStart],
		`SELECT d.id, n.name, v.number, d.start_value AS value, d.start_unit AS unit
		FROM dive_start d`+ofParticipant+thisOne, inSummary.say)
	journal.QueueSummaries(b, into, entries[journal.DiveEnd],
		`SELECT z.id, n.name, v.number, z.end_value AS value, z.end_unit AS unit,
			z.depth_value, z.depth_unit
		FROM dive_end z JOIN dive_start d ON d.centre_id = z.centre_id AND d.id = z.dive_start_id`+ofParticipant+
			` WHERE z.centre_id = app_centre() AND z.id = w.id`, outSummary.say)
	journal.QueueSummaries(b, into, entries[journal.GasCheck],
		`SELECT d.id, n.name, d.depth_value, d.depth_unit, d.reading_value, d.reading_unit,
			d.signalled_value, d.signalled_unit, d.answered, d.simulated
		FROM gas_check d`+ofParticipant+thisOne, checkSummary.say)
	journal.QueueSummaries(b, into, entries[journal.GasResponse], `SELECT d.id, n.name, d.what
		FROM gas_response d`+ofParticipant+thisOne, responseSummary.say)
	journal.QueueSummaries(b, into, entries[journal.DrillAttempt],
		`SELECT d.id, n.name, d.skill, d.role, d.claimed, d.met
		FROM drill_attempt d`+ofParticipant+thisOne, attemptSummary.say)
	journal.QueueSummaries(b, into, entries[journal.LogCompletion], `SELECT d.id, v.number
		FROM log_completion d LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id`+thisOne, completeSummary.say)
}

// at returns the words for a reading, with what leads to it, "" for none.
func at(before string, value *float64, unit *string) string {
	if r := pg.Reading(value, unit); r != nil {
		return before + r.String()
	}
	return ""
}

func onDiveNumber(on string, n *int) string {
	if n == nil {
		return ""
	}
	return fmt.Sprintf("%s dive %d", on, *n)
}
