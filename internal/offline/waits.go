package offline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/journal"
	"tankside/internal/pg"
)

// wait is one thing that a held entry waits for, as its row has it.
type wait struct {
	journal.Ref
	WaterID uuid.UUID `json:"water_id"`
}

// waitsOf returns what an entry may wait for: the place that it names, what its item
// names, and its sender, who is its witness where it names none.
func waitsOf(r received, item journal.Item, by actor.Actor) []wait {
	refs := slices.Concat(journal.Named(journal.ASession, r.SessionID), journal.Named(journal.ADive, r.DiveID),
		journal.Named(journal.AnOuting, r.OutingID), journal.Named(journal.APerson, &by.Person))
	if item != nil {
		refs = append(refs, item.Names()...)
	}
	out := make([]wait, len(refs))
	for i, ref := range refs {
		out[i] = wait{ref, r.ID}
	}
	return out
}

// insertWaits notes what those of the entries wait for that are held. They stay as long
// as the entry is held: what it waits for is noted before it is judged, so that whoever
// brings it later sees that it waits.
const insertWaits = `INSERT INTO water_wait (centre_id, kind, id, water_id)
	SELECT DISTINCT app_centre(), x.kind, x.id, x.water_id
	FROM jsonb_to_recordset(@waits::jsonb) AS x (kind text, id uuid, water_id uuid)
	CROSS JOIN LATERAL (
		SELECT w.state FROM water_entry w
		WHERE w.centre_id = app_centre() AND w.id BETWEEN x.water_id AND x.water_id
		ORDER BY w.id LIMIT 1) t
	WHERE t.state = 'held'
	ON CONFLICT DO NOTHING`

// requestPatience is how long the background leaves the entries of a batch to the
// request that brought them, our choice: as long as a request may take.
const requestPatience = "50 seconds"

// insertDue has the background look at a batch, should the instance that judges it end.
const insertDue = `INSERT INTO water_due (centre_id, id, kind, thing_id, due_at)
	VALUES (app_centre(), @batch, '` + batchDue + `', @batch, clock_timestamp() + interval '` + requestPatience + `')`

// handOver leaves the rest of the entries to the background, once the request has judged
// them: their batches are looked at again when every transaction that was under way has
// ended. nothingLeft ends the looking at a batch of which nothing is held any more.
const (
	handOver = `UPDATE water_due d
	SET due_at = clock_timestamp(), after_xid = pg_snapshot_xmax(pg_current_snapshot())
	FROM (
		SELECT DISTINCT w.batch_id
		FROM unnest(@ids::uuid[]) x (id)
		CROSS JOIN LATERAL (
			SELECT t.batch_id, t.state
			FROM water_entry t
			WHERE t.centre_id = app_centre() AND t.id BETWEEN x.id AND x.id
			ORDER BY t.id LIMIT 1) w
		WHERE w.state = 'held'
		ORDER BY w.batch_id) x
	WHERE d.centre_id = app_centre() AND d.id = x.batch_id`
	nothingLeft = `DELETE FROM water_due
	WHERE centre_id = app_centre() AND id = @batch
		AND NOT EXISTS (SELECT FROM (
			SELECT w.id FROM water_entry w
			WHERE w.centre_id = app_centre() AND w.state = 'held' AND w.batch_id BETWEEN @batch::uuid AND @batch::uuid
			ORDER BY w.batch_id LIMIT 1) x)`
)

// queueWaits adds to a batch of statements what fresh entries wait for.
func queueWaits(b *pgx.Batch, batch uuid.UUID, waits []wait) error {
	if len(waits) == 0 {
		return nil
	}
	text, err := json.Marshal(waits)
	if err != nil {
		return fmt.Errorf("note what entries wait for: %w", err)
	}
	b.Queue(insertWaits, pgx.StrictNamedArgs{"waits": string(text)})
	b.Queue(insertDue, pgx.StrictNamedArgs{"batch": batch})
	return nil
}

// mostBeforeGate is how many held entries of a session are judged before one of its
// gates, within the request; further ones are left to the background. Our choice: a
// day's entries of eight students on three telephones are fewer.
const mostBeforeGate = 500

// heldForSessions selects the held entries that name sessions, their dives, or an
// enrolment of somebody who takes part: each by the key of what it waits for.
const heldForSessions = `SELECT x.water_id AS id
	FROM water_wait x
	WHERE x.centre_id = app_centre() AND x.kind = 'session' AND x.id = ANY (@ids)
	UNION
	SELECT x.water_id
	FROM sessions_dive d
	JOIN water_wait x ON x.centre_id = d.centre_id AND x.kind = 'dive' AND x.id = d.id
	WHERE d.centre_id = app_centre() AND d.session_id = ANY (@ids)
	UNION
	SELECT x.water_id
	FROM sessions_participant q
	JOIN water_wait x ON x.centre_id = q.centre_id AND x.kind = 'enrolment' AND x.id = q.enrolment_id
	WHERE q.centre_id = app_centre() AND q.session_id = ANY (@ids)
	UNION
	SELECT x.water_id
	FROM sessions_arrival a
	JOIN water_wait x ON x.centre_id = a.centre_id AND x.kind = 'enrolment' AND x.id = a.enrolment_id
	WHERE a.centre_id = app_centre() AND a.session_id = ANY (@ids)
	ORDER BY 1 LIMIT @most`

// heldForEnrolment selects the held entries that name an enrolment, or somebody's part
// in a session for it.
const heldForEnrolment = `SELECT x.water_id AS id
	FROM water_wait x
	WHERE x.centre_id = app_centre() AND x.kind = 'enrolment' AND x.id = @id
	UNION
	SELECT x.water_id
	FROM sessions_participant q
	JOIN water_wait x ON x.centre_id = q.centre_id AND x.kind = 'participant' AND x.id = q.id
	WHERE q.centre_id = app_centre() AND q.enrolment_id = @id
	ORDER BY 1 LIMIT @most`

// AtGate opens or closes a session, or signs off in it: pass does. What is held of the
// session is judged first, since what its devices sent counts there. Whether anything
// is held, the round trip that begins pass's transaction asks. Should judging fail, the
// gate is judged by what stands, and the background tries again and says why.
func (s *Service) AtGate(ctx context.Context, by actor.Actor, session uuid.UUID,
	pass func(ctx context.Context) error) error {
	return s.gated(ctx, by, heldForSessions,
		pgx.StrictNamedArgs{"ids": []uuid.UUID{session}, "most": mostBeforeGate}, pass)
}

// AtCompletion is AtGate for completing an enrolment.
func (s *Service) AtCompletion(ctx context.Context, by actor.Actor, enrolment uuid.UUID,
	pass func(ctx context.Context) error) error {
	return s.gated(ctx, by, heldForEnrolment, pgx.StrictNamedArgs{"id": enrolment, "most": mostBeforeGate},
		pass)
}

// errHeldFirst ends a transaction before which something held is to be judged.
var errHeldFirst = errors.New("offline: something is held that is to be judged first")

func (s *Service) gated(ctx context.Context, by actor.Actor, sql string, args pgx.StrictNamedArgs,
	pass func(ctx context.Context) error) error {
	var ids []uuid.UUID
	judgeFirst := false
	err := pass(pg.Ahead(ctx, func(b *pgx.Batch) { pg.QueueRows(b, &ids, sql, args) }, func() error {
		if judgeFirst = len(ids) > 0; judgeFirst {
			return errHeldFirst
		}
		return nil
	}))
	if !judgeFirst {
		return err
	}
	if err := s.judge(ctx, by, ids); ctx.Err() != nil {
		return err
	}
	return pass(ctx)
}

// heldOf returns what is held of sessions, as much as is judged before a gate.
func (s *Service) heldOf(ctx context.Context, by actor.Actor, sessions []uuid.UUID) (ids []uuid.UUID,
	err error) {
	err = s.db.ReadBatch(ctx, by.Centre, func(b *pgx.Batch) {
		pg.QueueRows(b, &ids, heldForSessions, pgx.StrictNamedArgs{"ids": sessions, "most": mostBeforeGate})
	})
	return ids, err
}
