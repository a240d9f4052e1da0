package waterview

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// The witnessed rows that sign-offs and completions rest on: who saw it, when,
// and what was seen. A void is no part of them, since it comes later.
var (
	AttemptEvidence = EvidenceOf("drill_attempt",
		`d.enrolment_id, d.participant_id, d.dive_id, d.skill, d.role, d.measures, d.claimed, d.met,
		encode(sha256(convert_to(COALESCE(d.reason, ''), 'UTF8')), 'hex') AS reason FROM drill_attempt d`)
	// How the gas was reported, and whether it was simulated, join the verdict, so that checks from before it was
	// noted, on which decisions rest already, are the same evidence as ever.
	CheckEvidence = EvidenceOf("gas_check",
		`d.participant_id, d.dive_id, d.depth, d.reading,
		d.read_after_signal, d.signalled, d.answered,
			concat_ws(' ', d.verdict, d.signalled_with,
		CASE WHEN d.simulated THEN 'simulated' END) AS verdict FROM gas_check d`)
	StartEvidence = EvidenceOf("time_in",
		`d.participant_id, d.dive_id, d.team, d.size, d.rating,
		d.oxygen_percent, d.start_pressure FROM time_in d`)
	EndEvidence = EvidenceOf("time_out",
		`d.time_in_id, d.depth, d.end_pressure FROM time_out d`)
)

// EvidenceOf returns the source of evidence that stands in columns of a table d, whose
// rows are entries of the journal.
func EvidenceOf(kind, columnsFrom string) ledger.Witnessed {
	return ledger.Witnessed{Type: kind,
		SQL: `
			SELECT d.id AS ref, e.session_id, e.witnessed_by, e.witnessed_at, e.recorded_by, e.recorded_at,
				e.token_id, e.findings, ` + columnsFrom +
			` JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id WHERE d.centre_id = @centre`}
}

// Ledger are the witnessed rows of the water that decisions may rest on.
var Ledger = ledger.Sources{
	Witnessed: []ledger.Witnessed{AttemptEvidence, CheckEvidence, StartEvidence, EndEvidence}}

// SessionCheck is a gas check of a session, with the enrolment that it counts for.
type SessionCheck struct {
	EnrolmentID uuid.UUID
	ID          uuid.UUID
}

// checksOfSession asks for the gas checks of a session that stand: a sign-off of
// a skill that touches gas carries those of its student. An entry's session is
// that of its participant; it is said of both, so that a plan made while the
// tables were small does not begin with every gas check of the centre.
const checksOfSession = `SELECT p.enrolment_id, g.id FROM gas_check g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
	JOIN sessions_participant p ON p.centre_id = g.centre_id AND p.id = g.participant_id
	WHERE g.centre_id = app_centre() AND e.session_id = @session AND p.session_id = @session
		AND p.enrolment_id = ANY (@ids) AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, g.id`

// QueueSessionChecks reads the gas checks of a session that stand and count for some
// enrolments, by time, in a batch.
func QueueSessionChecks(b *pgx.Batch, into *[]SessionCheck, session uuid.UUID, enrolments []uuid.UUID) {
	pg.QueueRows(b, into, checksOfSession, pgx.StrictNamedArgs{"session": session, "ids": enrolments})
}

// Witnessed are the ids of the dives and gas checks of an enrolment that stand.
type Witnessed struct{ Starts, Ends, Checks []uuid.UUID }

// QueueWitnessed reads them, each by id, in a batch.
func QueueWitnessed(b *pgx.Batch, into *Witnessed, enrolment uuid.UUID) {
	const stands = `
		WHERE d.centre_id = app_centre() AND p.enrolment_id = @id AND EXISTS (
			SELECT FROM journal_entry e
			WHERE e.centre_id = d.centre_id AND e.id = d.id AND e.voided_at IS NULL)
		ORDER BY d.id`
	const theirs = `
		JOIN sessions_participant p ON p.centre_id = d.centre_id AND p.id = d.participant_id` + stands
	args := pgx.StrictNamedArgs{"id": enrolment}
	pg.QueueRows(b, &into.Starts, `SELECT d.id FROM time_in d`+theirs, args)
	pg.QueueRows(b, &into.Ends, `
		SELECT d.id
		FROM time_out d
		JOIN time_in s ON s.centre_id = d.centre_id AND s.id = d.time_in_id
		JOIN sessions_participant p ON p.centre_id = s.centre_id AND p.id = s.participant_id`+stands, args)
	pg.QueueRows(b, &into.Checks, `SELECT d.id FROM gas_check d`+theirs, args)
}
