package offline

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// mostAtOnce is how many entries are judged in one transaction, our choice: as many as
// a batch may bring.
const mostAtOnce = 200

// placed is a held entry with where it is judged.
type placed struct {
	ID        uuid.UUID
	SessionID *uuid.UUID // its own, or that of its dive
	OutingID  *uuid.UUID
	Signs     bool
}

// part names held entries that are judged together: the facts of one session or of one
// outing, or sign-offs.
type part struct {
	rank  int // in the order of judging
	place uuid.UUID
}

// The ranks of parts.
const (
	ofSession = iota
	ofOuting
	signing
)

// partsOf reads where those of the entries belong that are held. An entry of a dive that
// does not exist yet belongs to no part, and waits unjudged.
func (s *Service) partsOf(ctx context.Context, by actor.Actor, ids []uuid.UUID) (map[part][]uuid.UUID, error) {
	var rows []placed
	err := s.db.ReadBatch(ctx, by.Centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, `SELECT w.id, COALESCE(w.session_id, d.session_id) AS session_id, w.outing_id, w.kind = 'sign_off' AS signs
			FROM unnest(@ids::uuid[]) x (id)
			CROSS JOIN LATERAL (
				SELECT t.* FROM water_entry t
				WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id AND t.state IN ('held', 'expired')
				ORDER BY t.id LIMIT 1) w
			LEFT JOIN sessions_dive d ON d.centre_id = w.centre_id AND d.id = w.dive_id
			ORDER BY w.id`, pgx.StrictNamedArgs{"ids": ids})
	})
	out := map[part][]uuid.UUID{}
	for _, r := range rows {
		of := part{rank: ofSession}
		switch {
		case r.Signs:
			of.rank = signing
		case r.SessionID != nil:
			of.place = *r.SessionID
		case r.OutingID != nil:
			of.rank, of.place = ofOuting, *r.OutingID
		default:
			continue
		}
		out[of] = append(out[of], r.ID)
	}
	return out, err
}

// inOrder returns parts in the order of judging, and of locking.
func inOrder(parts map[part][]uuid.UUID) []part {
	return slices.SortedFunc(maps.Keys(parts), func(a, b part) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), slices.Compare(a.place[:], b.place[:]))
	})
}
