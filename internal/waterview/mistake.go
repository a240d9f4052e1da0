package waterview

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
	"tankside/internal/units"
)

// Mistake is something that a student got wrong before.
type Mistake struct {
	EnrolmentID uuid.UUID
	EntryID     uuid.UUID
	Verdict     *string // of a gas check
	Reading     *units.Reading
	Skill       *string // of a drill attempt
	Role        *string
}

const mistakesSQL = `
	SELECT p.enrolment_id, e.id AS entry_id, g.verdict, g.reading, d.skill, d.role
	FROM sessions_participant p
	JOIN journal_entry e ON e.centre_id = p.centre_id AND e.participant_id = p.id
	LEFT JOIN gas_check g ON g.centre_id = e.centre_id AND g.id = e.id
	LEFT JOIN drill_attempt d ON d.centre_id = e.centre_id AND d.id = e.id
	WHERE p.centre_id = app_centre() AND p.enrolment_id = ANY (@enrolments)
		AND e.kind IN ('gas_check', 'drill_attempt') AND e.voided_at IS NULL
		AND (g.verdict IN ('over_reported', 'misread_low', 'no_answer') OR NOT d.met)
	ORDER BY p.enrolment_id, e.witnessed_at, e.id`

// ReadMistakes returns, by enrolment, what students got wrong in gas checks and drill
// attempts that stand, by time.
func ReadMistakes(ctx context.Context, tx *pg.Tx, enrolments []uuid.UUID) (map[uuid.UUID][]Mistake, error) {
	rows, err := pg.Rows[Mistake](ctx, tx, mistakesSQL, pgx.StrictNamedArgs{"enrolments": enrolments})
	out := map[uuid.UUID][]Mistake{}
	for _, m := range rows {
		out[m.EnrolmentID] = append(out[m.EnrolmentID], m)
	}
	return out, err
}
