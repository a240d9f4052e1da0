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
func heldPlaces(ctx context.Context, tx *pg.Tx, condition string, args pgx.StrictNamedArgs) (out places, err error) {
	var b pgx.Batch
	out.queue(&b, condition, args)
	err = tx.Send(ctx, &b)
	return out, err
}

// queue adds the reading of heldPlaces to a batch.
func (p *places) queue(b *pgx.Batch, condition string, args pgx.StrictNamedArgs) {
	pg.Queue(b, &p.sessions, `SELECT DISTINCT COALESCE(w.session_id, d.session_id) AS id FROM water_entry w
		LEFT JOIN sessions_dive d ON d.centre_id = w.centre_id AND d.id = w.dive_id
		WHERE w.centre_id = app_centre() AND w.state = 'held' AND COALESCE(w.session_id, d.session_id) IS NOT NULL AND `+condition+` ORDER BY 1`, args)
	pg.Queue(b, &p.outings, `SELECT DISTINCT w.outing_id FROM water_entry w
		WHERE w.centre_id = app_centre() AND w.state = 'held' AND w.outing_id IS NOT NULL AND `+condition+` ORDER BY 1`, args)
}
