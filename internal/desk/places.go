package desk

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// places are the sessions and outings of which something is held, ascending.
type places struct{ sessions, outings []uuid.UUID }

// heldPlaces gives the places of those held entries w that a condition picks. A
// dive that nobody knows yet has none, and its entries wait unjudged.
func heldPlaces(ctx context.Context, tx *pg.Tx, condition string, args pgx.StrictNamedArgs) (places, error) {
	var b pgx.Batch
	var out places
	pg.Queue(&b, &out.sessions, `SELECT DISTINCT COALESCE(w.session_id, d.session_id) AS id FROM water_entry w
		LEFT JOIN sessions_dive d ON d.centre_id = w.centre_id AND d.id = w.dive_id
		WHERE w.centre_id = app_centre() AND w.state = 'held' AND COALESCE(w.session_id, d.session_id) IS NOT NULL AND `+condition+` ORDER BY 1`, args)
	pg.Queue(&b, &out.outings, `SELECT DISTINCT w.outing_id FROM water_entry w
		WHERE w.centre_id = app_centre() AND w.state = 'held' AND w.outing_id IS NOT NULL AND `+condition+` ORDER BY 1`, args)
	return out, tx.Send(ctx, &b)
}
