package offline

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/syllabus"
)

// verdict is what became of a held entry.
type verdict struct {
	ID      uuid.UUID `json:"id"`
	State   string    `json:"state"`
	Problem *problem  `json:"problem"`
}

// timed adds what is to be said of an entry's time to what was found of it,
// where the service did not read it back already.
func timed(found finding.List, h held) finding.List {
	for _, f := range h.Timing.Findings(h.EntryID, h.at()) {
		if !slices.ContainsFunc(found, func(x finding.Finding) bool { return x.Rule == f.Rule }) {
			found = append(slices.Clone(found), f)
		}
	}
	return found
}

// inCall is where an item stood in a call of a service.
var inCall = regexp.MustCompile(`^/items/[0-9]+`)

// ofEntry makes the pointers of a refusal those of the entry itself, and says of
// a clash of ids what a device can do about it.
func ofEntry(f *fault.Fault) *fault.Fault {
	switch {
	case f == nil:
		return nil
	case f.Code == "id_reused":
		return fault.New(fault.Conflict, f.Code,
			"Another entry has this id already, and stands. This one is kept as it was sent, and does not stand. "+
				"Send it under an id of its own.")
	}
	own := *f
	own.Message = inCall.ReplaceAllString(f.Message, "/body")
	own.Findings = slices.Clone(f.Findings)
	for i, x := range own.Findings {
		own.Findings[i].Pointer, own.Findings[i].Message = inCall.ReplaceAllString(x.Pointer,
			"/body"), inCall.ReplaceAllString(x.Message, "/body")
	}
	return &own
}

// queueVerdicts adds to a batch of statements what became of held entries.
func queueVerdicts(b *pgx.Batch, now time.Time, results map[uuid.UUID]journal.Result) error {
	if len(results) == 0 {
		return nil
	}
	verdicts := make([]verdict, 0, len(results))
	for id, r := range results {
		v := verdict{ID: id, State: "recorded"}
		if r.Refusal != nil {
			v.State, v.Problem = stateOf(r.Refusal), problemOf(r.Refusal)
		}
		verdicts = append(verdicts, v)
	}
	text, err := json.Marshal(verdicts)
	if err != nil {
		return fmt.Errorf("judge held entries: %w", err)
	}
	b.Queue(writeVerdicts, pgx.StrictNamedArgs{"rows": string(text), "now": now})
	return nil
}

// writeVerdicts writes what became of held entries. One that had expired, and does not
// stand, is expired still. The rows are locked, so each is where its key says.
const writeVerdicts = `UPDATE water_entry w
	SET state = CASE WHEN x.state = 'held' THEN w.state ELSE x.state END,
		problem = x.problem,
		judged_at = @now
	FROM (
		SELECT y.*, t.ctid AS place
		FROM jsonb_to_recordset(@rows::jsonb) AS y (id uuid, state text, problem jsonb)
		CROSS JOIN LATERAL (
			SELECT e.ctid
			FROM water_entry e
			WHERE e.centre_id = app_centre() AND e.id BETWEEN y.id AND y.id
			ORDER BY e.id LIMIT 1) t) x
	WHERE w.centre_id = app_centre() AND w.ctid = x.place`

// stateOf returns held or refused. Refused is what is outside the contract's
// bounds, without permission, or under an id that is taken. All else a later
// entry or a person can cure. A defect of ours holds an entry too.
func stateOf(f *fault.Fault) string {
	switch {
	case f.Kind == fault.Malformed, f.Kind == fault.Forbidden, f.Code == "id_reused", f.Code == "wrong_state":
		return "refused"
	case slices.ContainsFunc(f.Findings,
		func(x finding.Finding) bool { return x.Rule == syllabus.SignerNotInstructor.ID }):
		return "refused" // an assistant may not assess
	}
	return "held"
}
