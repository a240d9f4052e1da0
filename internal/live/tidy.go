package live

import (
	"context"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// tidySQL deletes the oldest events of each session, a limited number at once.
// Writers only add events, and nobody waits for a deleted row; of two instances that
// delete at once, the second finds what the first left.
const tidySQL = `DELETE FROM live_event d USING (
		SELECT x.session_id, x.seq FROM live_head h CROSS JOIN LATERAL (
			SELECT e.session_id, e.seq, e.at
			FROM live_event e
			WHERE e.centre_id = app_centre() AND e.session_id = h.session_id ORDER BY e.seq LIMIT @most) x
		WHERE h.centre_id = app_centre() AND x.at < @before LIMIT @most) old
	WHERE d.centre_id = app_centre() AND d.session_id = old.session_id AND d.seq = old.seq`

// Heard notes that the instance served a centre: its feeds may have grown.
func (h *Hub) Heard(centre uuid.UUID) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.heard[centre] = true
}

// Tidy deletes events that are too old for any reconnect, of the centres that the
// instance served, until ctx is over. Several instances may do so at once.
func (h *Hub) Tidy(ctx context.Context) {
	tick := time.NewTicker(h.pace.tidy)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		for _, centre := range h.served() {
			if err := h.tidy(ctx, centre); err != nil && !onlyCancelled(err) {
				h.Heard(centre) // the next round tries again
				h.Log.Error("the live view's feed cannot be tidied", "error", err.Error())
			}
		}
	}
}

// served returns the centres noted since its last call.
func (h *Hub) served() []uuid.UUID {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := slices.Collect(maps.Keys(h.heard))
	clear(h.heard)
	return out
}

// tidy deletes the old events of a centre in steps, each a transaction.
func (h *Hub) tidy(ctx context.Context, centre uuid.UUID) error {
	for n := int64(tidyMost); n == tidyMost; {
		if err := h.DB.InTx(ctx, centre, func(ctx context.Context, tx *pg.Tx) (err error) {
			n, err = tx.Do(ctx, tidySQL, pgx.StrictNamedArgs{"before": tx.Now.Add(-keptFor),
				"most": tidyMost})
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}
