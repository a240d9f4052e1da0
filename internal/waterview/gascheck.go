package waterview

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// GasCheck is a gas check as it was recorded.
type GasCheck struct {
	journal.Head
	DiveID          *uuid.UUID
	Depth           *units.Reading
	Reading         *units.Reading // nil: nobody saw the gauge
	ReadAfterSignal bool
	Signalled       *units.Reading // nil: no report was seen
	SignalledWith   *string
	Answered        bool
	Verdict         signal.Verdict
	Simulated       bool
}

const (
	checkedColumns = `g.dive_id, g.depth, g.reading, g.read_after_signal, g.signalled,
		g.signalled_with, g.answered, g.verdict, g.simulated`

	gasChecksFrom = `
	SELECT ` + journal.Columns + `, ` + checkedColumns + `
	FROM gas_check g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id `

	// gasChecksThat has the gas checks of the entries e that stand.
	gasChecksThat = `
	CROSS JOIN LATERAL (
		SELECT *
		FROM gas_check g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'gas_check' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`

	// The enrolments are left out, which the view of the session has.
	gasChecksOfSession = `SELECT ` + journal.BareColumns + `, ` + checkedColumns + ofSession + gasChecksThat
	gasChecksOfParts   = `SELECT ` + journal.BareColumns + `, ` + checkedColumns + ofParts + gasChecksThat
)

// QueueGasChecks reads the gas checks of a session that stand, by time, in a batch. Their
// enrolments are left out.
func QueueGasChecks(b *pgx.Batch, into *[]GasCheck, session uuid.UUID) {
	pg.QueueRows(b, into, gasChecksOfSession, pgx.StrictNamedArgs{"session": session})
}

// QueueGasChecksOf is QueueChecks for some participants.
func QueueGasChecksOf(b *pgx.Batch, into *[]GasCheck, participants []uuid.UUID) {
	pg.QueueRows(b, into, gasChecksOfParts, pgx.StrictNamedArgs{"parts": participants})
}

// CheckCount counts the gas checks of one verdict.
type CheckCount struct {
	Verdict string
	Count   int
}

// QueueCheckCounts counts the gas checks of an enrolment that stand, by verdict, in a
// batch.
func QueueCheckCounts(b *pgx.Batch, into *[]CheckCount, enrolment uuid.UUID) {
	pg.QueueRows(b, into, `
		SELECT g.verdict, count(*) AS count
		FROM sessions_participant p
		JOIN gas_check g ON g.centre_id = p.centre_id AND g.participant_id = p.id
		JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id
		WHERE p.centre_id = app_centre() AND p.enrolment_id = @id AND e.voided_at IS NULL
		GROUP BY g.verdict
		ORDER BY g.verdict`, pgx.StrictNamedArgs{"id": enrolment})
}
