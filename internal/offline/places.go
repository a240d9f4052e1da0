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
	EntryID   uuid.UUID
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

// placesSQL reads where those of the entries belong that are held.
const placesSQL = `SELECT w.id, w.entry_id, COALESCE(w.session_id, d.session_id) AS session_id, w.outing_id,
		w.kind = 'sign_off' AS signs
	FROM (SELECT DISTINCT unnest(@ids::uuid[]) AS id) x
	CROSS JOIN LATERAL (
		SELECT *
		FROM water_entry t
		WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id AND t.state IN ('held', 'expired')
		ORDER BY t.id LIMIT 1) w
	LEFT JOIN LATERAL (
		SELECT d.session_id
		FROM sessions_dive d
		WHERE d.centre_id = app_centre() AND d.id BETWEEN w.dive_id AND w.dive_id
		ORDER BY d.id LIMIT 1) d ON true
	ORDER BY w.id`

// placesOf reads where those of the entries belong that are held.
func (s *Service) placesOf(ctx context.Context, by actor.Actor, ids []uuid.UUID) (rows []placed, err error) {
	if len(ids) == 0 {
		return nil, nil
	}
	err = s.db.ReadBatch(ctx, by.Centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &rows, placesSQL, pgx.StrictNamedArgs{"ids": ids})
	})
	return rows, err
}

// partsOf returns held entries in the order of judging, and of locking: each part, or a
// piece of it that is judged in one transaction. An entry of a dive that does not exist
// yet belongs to no part, and waits unjudged. Rows are locked in the order of their ids,
// wherever they were read.
func partsOf(rows []placed) (out [][]placed) {
	parts := map[part][]placed{}
	for _, r := range slices.SortedFunc(slices.Values(rows), func(a, b placed) int { return byID(a.ID, b.ID) }) {
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
		parts[of] = append(parts[of], r)
	}
	for _, of := range slices.SortedFunc(maps.Keys(parts), func(a, b part) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), slices.Compare(a.place[:], b.place[:]))
	}) {
		out = slices.AppendSeq(out, slices.Chunk(parts[of], mostAtOnce))
	}
	return out
}
