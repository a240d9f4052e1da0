package offline

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/pg"
)

// How the background works, our choice: what is due is judged well within a second, and
// an idle instance asks a few times a second which centres have anything due.
const (
	hands     = 2                      // that work at once in one instance, each on a centre
	pause     = 250 * time.Millisecond // between two looks where nothing was due
	longPause = 10 * time.Second       // at most, while the database cannot be used
	mostDue   = 50                     // things of a centre that are taken in one turn
	lease     = "1 minute"             // until another may take what was taken: its instance has ended
	lookAgain = "1 day"                // until entries that wait are looked at, whatever happened
)

// Term is how long an entry is held before it expires, our choice: a season's forgotten
// telephone is found within a month. It is judged no more then, unless somebody asks.
const Term = 30 * 24 * time.Hour

// isDue is the condition of what may be judged now. What waits for the end of other
// transactions is judged after a minute all the same: their numbers begin again where
// the database was restored elsewhere.
const isDue = `due_at <= clock_timestamp() AND (after_xid IS NULL OR after_xid <= pg_snapshot_xmin(pg_current_snapshot())
	OR due_at < clock_timestamp() - interval '1 minute')`

// Background judges what is due, of all centres, until ctx is over. The service is on
// a database opened as the role tankside_worker. Any number of instances may do so at
// once; what one has taken when it is killed, another takes after the lease.
func (s *Service) Background(ctx context.Context, log *slog.Logger) {
	var work sync.WaitGroup
	for range hands {
		work.Go(func() { s.work(ctx, log) })
	}
	work.Wait()
}

func (s *Service) work(ctx context.Context, log *slog.Logger) {
	rest := pause
	for ctx.Err() == nil {
		worked, err := s.round(ctx)
		switch {
		case err != nil && ctx.Err() == nil:
			rest = min(2*rest, longPause)
			log.Error("held entries could not be judged; it is tried again", "error", err.Error(), "after",
				rest.String())
		case worked:
			rest = pause
			continue
		default:
			rest = pause
		}
		select {
		case <-ctx.Done():
		case <-time.After(rest):
		}
	}
}

// round works off, in no order, a turn of each centre that has something due, and reports
// whether there was any. A centre that fails holds up no other.
func (s *Service) round(ctx context.Context) (worked bool, failed error) {
	centres, err := s.dueCentres(ctx)
	if err != nil {
		return false, err
	}
	rand.Shuffle(len(centres), func(i, j int) { centres[i], centres[j] = centres[j], centres[i] })
	for _, centre := range centres {
		did, err := s.turn(ctx, centre)
		if err != nil && ctx.Err() == nil {
			failed = fmt.Errorf("centre %s: %w", centre, err)
		}
		worked = worked || did
	}
	return worked, failed
}

// dueCentres returns the centres that have something due. It is asked outside the scope
// of a centre, where the background's role sees their ids.
func (s *Service) dueCentres(ctx context.Context) (out []uuid.UUID, err error) {
	ctx, cancel := context.WithTimeout(ctx, longPause)
	defer cancel()
	err = s.db.Probe(ctx, func(ctx context.Context, conn *pgx.Conn) error {
		rows, err := conn.Query(ctx, `SELECT DISTINCT centre_id FROM water_due WHERE `+isDue)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("find what is due: %w", err)
	}
	return out, nil
}

// due is a thing that something happened to, or a batch, whose entries are to be judged.
type due struct {
	ID      uuid.UUID
	Kind    string
	ThingID uuid.UUID
	Reached *uuid.UUID
}

// takeDue takes what is due of a centre until the lease ends. What another has taken is
// passed over.
const takeDue = `UPDATE water_due d SET due_at = clock_timestamp() + interval '` + lease + `', after_xid = NULL
	FROM (
		SELECT x.id FROM water_due x
		WHERE x.centre_id = app_centre() AND ` + isDue + `
		ORDER BY x.due_at LIMIT @most
		FOR UPDATE SKIP LOCKED) t
	WHERE d.centre_id = app_centre() AND d.id = t.id
	RETURNING d.id, d.kind, d.thing_id, d.reached`

// turn judges what is due of a centre, a bounded part of it, and reports whether there
// was anything.
func (s *Service) turn(ctx context.Context, centre uuid.UUID) (worked bool, err error) {
	by := actor.Actor{Centre: centre}
	var taken []due
	if err := s.db.InTx(ctx, centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		taken, err = pg.Rows[due](ctx, tx, takeDue, pgx.StrictNamedArgs{"most": mostDue})
		return err
	}); err != nil {
		return false, err
	}
	type thing struct {
		kind string
		id   uuid.UUID
	}
	together := map[thing][]due{} // what happened to one thing often is judged once
	for _, d := range taken {
		of := thing{d.Kind, d.ThingID}
		together[of] = append(together[of], d)
	}
	for _, all := range together {
		if err := s.workOff(ctx, by, centre, all); err != nil {
			return true, err
		}
	}
	return len(taken) > 0, nil
}

const (
	heldOfBatch = `SELECT w.id FROM water_entry w
	WHERE w.centre_id = app_centre() AND w.batch_id BETWEEN @thing::uuid AND @thing::uuid AND w.state = 'held' AND w.id > @reached
	ORDER BY w.batch_id, w.id LIMIT @most`
	heldForThing = `SELECT x.water_id FROM water_wait x
	WHERE x.centre_id = app_centre() AND x.kind = @kind AND x.id = @thing AND x.water_id > @reached
	ORDER BY x.water_id LIMIT @most`
)

// workOff judges the next entries that wait for one thing, and notes that it has.
func (s *Service) workOff(ctx context.Context, by actor.Actor, centre uuid.UUID, all []due) error {
	d, reached := all[0], uuid.Nil
	if len(all) == 1 && d.Reached != nil {
		reached = *d.Reached
	}
	args := pgx.StrictNamedArgs{"thing": d.ThingID, "reached": reached, "most": mostAtOnce}
	sql := heldOfBatch
	if d.Kind != batchDue {
		sql, args["kind"] = heldForThing, d.Kind
	}
	var ids []uuid.UUID
	if err := s.db.ReadBatch(ctx, centre, func(b *pgx.Batch) { pg.QueueRows(b, &ids, sql, args) }); err != nil {
		return err
	}
	if err := s.judge(ctx, by, ids); err != nil {
		return err
	}
	return s.db.InTx(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		taken := make([]uuid.UUID, len(all))
		for i, x := range all {
			taken[i] = x.ID
		}
		switch {
		case len(ids) == mostAtOnce: // the rest of them next
			b.Queue(deleteDue, pgx.StrictNamedArgs{"ids": taken[1:]})
			b.Queue(goOn, pgx.StrictNamedArgs{"id": d.ID, "reached": ids[len(ids)-1]})
		case d.Kind == batchDue:
			b.Queue(expire, pgx.StrictNamedArgs{"batch": d.ThingID, "before": tx.Now.Add(-Term)})
			b.Queue(nothingLeft, pgx.StrictNamedArgs{"batch": d.ThingID})
			b.Queue(later, pgx.StrictNamedArgs{"id": d.ID})
		default:
			b.Queue(deleteDue, pgx.StrictNamedArgs{"ids": taken})
		}
		return tx.Send(ctx, &b)
	})
}

// batchDue is the kind of a due batch; every other is a journal.Thing.
const batchDue = "batch"

const (
	deleteDue = `DELETE FROM water_due WHERE centre_id = app_centre() AND id = ANY (@ids)`
	goOn      = `UPDATE water_due SET due_at = clock_timestamp(), reached = @reached WHERE centre_id = app_centre() AND id = @id`
	later     = `UPDATE water_due SET due_at = clock_timestamp() + interval '` + lookAgain + `', reached = NULL
	WHERE centre_id = app_centre() AND id = @id`
	expire = `UPDATE water_entry w SET state = 'expired'
	FROM water_batch b
	WHERE w.centre_id = app_centre() AND w.batch_id = @batch AND w.state = 'held'
		AND b.centre_id = w.centre_id AND b.id = w.batch_id AND b.received_at < @before`
)

// WorkOff judges all that is due of a centre now, and returns when nothing is. What the
// background does by and by, a test or a command has done at once.
func (s *Service) WorkOff(ctx context.Context, centre uuid.UUID) error {
	for {
		if _, err := s.turn(ctx, centre); err != nil {
			return err
		}
		var left []bool
		if err := s.db.ReadBatch(ctx, centre, func(b *pgx.Batch) {
			pg.QueueRows(b, &left, `SELECT EXISTS (SELECT FROM water_due WHERE centre_id = app_centre() AND due_at <= clock_timestamp())`, pgx.StrictNamedArgs{})
		}); err != nil {
			return err
		}
		if !left[0] {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Millisecond):
		}
	}
}
