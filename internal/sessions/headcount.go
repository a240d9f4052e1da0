package sessions

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// phases are when heads are counted, in their order.
var phases = []string{"departure", "after_dive", "return"}

// NewHeadCount is one person's count of everybody of an outing.
type NewHeadCount struct {
	Key       once.Key
	OutingID  uuid.UUID
	Phase     string     // departure, after_dive or return
	Figure    int        // as counted
	CountedBy *uuid.UUID // the caller unless said
	CountedAt time.Time
}

// HeadCount is a count as it was recorded.
type HeadCount struct {
	ID         uuid.UUID
	OutingID   uuid.UUID
	Phase      string
	Figure     int
	OnList     int // of the outing's list when it was counted
	CountedBy  uuid.UUID
	CountedAt  time.Time
	RecordedAt time.Time
	VoidedAt   *time.Time
}

const headCountColumns = `e.id, e.outing_id, h.phase, h.figure, ` + listedThen + ` AS on_list, e.witnessed_by AS counted_by, e.witnessed_at AS counted_at, e.recorded_at, e.voided_at`

// listedThen counts who was on the outing's list when heads were counted, by the
// roll calls witnessed by then: one that arrives later does not change what it
// should have been. (The table keeps how long the list was when the count
// arrived.) e is the entry of the count.
const listedThen = `(SELECT count(DISTINCT x.who) FROM (
		SELECT p.person_id AS who FROM participant p JOIN session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		WHERE s.centre_id = e.centre_id AND s.outing_id = e.outing_id AND s.state <> 'cancelled' AND COALESCE((
			SELECT r.attendance FROM roll_call r JOIN journal_entry c ON c.centre_id = r.centre_id AND c.id = r.id
			WHERE r.centre_id = p.centre_id AND r.participant_id = p.id AND c.voided_at IS NULL AND c.witnessed_at <= e.witnessed_at
			ORDER BY c.witnessed_at DESC, c.id DESC LIMIT 1), 'expected') NOT IN ('absent', 'left_early')
		UNION ALL
		SELECT COALESCE(g.person_id, g.id) FROM outing_guest g
		WHERE g.centre_id = e.centre_id AND g.outing_id = e.outing_id AND (g.left_at IS NULL OR g.left_at > e.witnessed_at)) x)`

const headCountFrom = ` FROM head_count h JOIN journal_entry e ON e.centre_id = h.centre_id AND e.id = h.id `

// PhaseCount is how the counts of one phase stand.
type PhaseCount struct {
	Phase    string
	State    roster.CountState
	OnList   int
	Findings finding.List
}

// CountHeads records a count. It is never refused because it does not agree:
// the answer says how the counts of the phase stand now.
func (s *Service) CountHeads(ctx context.Context, n NewHeadCount) (out HeadCount, stand PhaseCount, created bool, err error) {
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, stand, created, err = s.EnterCount(ctx, tx, n)
		return err
	})
	return out, stand, created, err
}

// EnterCount is CountHeads in the caller's transaction.
func (s *Service) EnterCount(ctx context.Context, tx *pg.Tx, n NewHeadCount) (out HeadCount, stand PhaseCount, created bool, err error) {
	if err := mayReport(ctx); err != nil {
		return out, stand, false, err
	}
	if err := lockOutings(ctx, tx, n.OutingID); err != nil {
		return out, stand, false, err
	}
	seen, err := journal.Replay(ctx, tx, n.Key.ID, n.Key.Digest)
	if err != nil {
		return out, stand, false, err
	}
	list, err := onOuting(ctx, tx, n.OutingID)
	if err != nil {
		return out, stand, false, err
	}
	if !seen {
		if err := countOnce(ctx, tx, n, len(list)); err != nil {
			return out, stand, false, err
		}
	}
	if out, err = pg.One[HeadCount](ctx, tx, `SELECT `+headCountColumns+headCountFrom+`WHERE e.centre_id = app_centre() AND e.id = @id`,
		pgx.StrictNamedArgs{"id": n.Key.ID}); err != nil {
		return out, stand, false, err
	}
	counts, err := phaseCounts(ctx, tx, n.OutingID, len(list))
	for _, c := range counts {
		if c.Phase == out.Phase {
			stand = c
		}
	}
	return out, stand, !seen, err
}

// onOuting gives the list of an outing, which must exist.
func onOuting(ctx context.Context, tx *pg.Tx, id uuid.UUID) ([]Aboard, error) {
	if _, err := findOuting(ctx, tx, id); err != nil {
		return nil, err
	}
	return aboard(ctx, tx, id)
}

func countOnce(ctx context.Context, tx *pg.Tx, n NewHeadCount, onList int) error {
	if err := journal.CheckTime(tx.Now, n.CountedAt, "/counted_at"); err != nil {
		return err
	}
	by, err := counter(ctx, tx, n.CountedBy, "/counted_by")
	if err != nil {
		return err
	}
	if err := journal.Record(ctx, tx, journal.Entry{ID: n.Key.ID, Kind: journal.HeadCount, Outing: &n.OutingID, WitnessedBy: by,
		WitnessedAt: n.CountedAt, Digest: n.Key.Digest}); err != nil {
		return err
	}
	_, err = tx.Do(ctx, `INSERT INTO head_count (centre_id, id, phase, figure, on_list) VALUES (app_centre(), @id, @phase, @figure, @on_list)`,
		pgx.StrictNamedArgs{"id": n.Key.ID, "phase": n.Phase, "figure": n.Figure, "on_list": onList})
	return err
}

// counter gives who counted, or saw an incident: anybody of the centre may,
// divers or not. pointer is the member of the body that says so.
func counter(ctx context.Context, tx *pg.Tx, said *uuid.UUID, pointer string) (uuid.UUID, error) {
	by := actor.From(ctx).Person
	if said != nil {
		by = *said
	}
	if by == uuid.Nil {
		return by, fault.Invalid(pointer, "Say in "+pointer[1:]+" who saw it; a program sees nobody.")
	}
	_, found, err := pg.Maybe[uuid.UUID](ctx, tx, `SELECT id FROM people_person WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": by})
	if err == nil && !found {
		err = fault.UnknownReference("person", pointer)
	}
	return by, err
}

// HeadCounts lists the counts of an outing in the order in which they were
// made, voided ones included.
func (s *Service) HeadCounts(ctx context.Context, outing uuid.UUID) (out []HeadCount, err error) {
	if err := mayReport(ctx); err != nil {
		return nil, err
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findOuting(ctx, tx, outing); err != nil {
			return err
		}
		out, err = pg.Many[HeadCount](ctx, tx, `SELECT `+headCountColumns+headCountFrom+`
			WHERE e.centre_id = app_centre() AND e.outing_id = @id ORDER BY e.witnessed_at, e.id`, pgx.StrictNamedArgs{"id": outing})
		return err
	})
	return out, err
}

// phaseCounts judges the counts of each phase. An incident that ends the alarm
// settles what was counted before it.
func phaseCounts(ctx context.Context, tx *pg.Tx, outing uuid.UUID, onList int) ([]PhaseCount, error) {
	rows, err := pg.Many[HeadCount](ctx, tx, `SELECT `+headCountColumns+headCountFrom+`
		WHERE e.centre_id = app_centre() AND e.outing_id = @id AND e.voided_at IS NULL
			AND e.witnessed_at > COALESCE((SELECT max(x.witnessed_at) FROM incident i JOIN journal_entry x ON x.centre_id = i.centre_id AND x.id = i.id
				WHERE x.centre_id = e.centre_id AND x.outing_id = e.outing_id AND i.ends_alarm AND x.voided_at IS NULL), '-infinity')
		ORDER BY e.witnessed_at, e.id`, pgx.StrictNamedArgs{"id": outing})
	if err != nil {
		return nil, err
	}
	out := make([]PhaseCount, 0, len(phases))
	for _, phase := range phases {
		var counts []roster.Count
		list := onList
		for _, r := range rows {
			if r.Phase == phase {
				counts = append(counts, roster.Count{By: r.CountedBy.String(), Figure: r.Figure, At: r.CountedAt})
				list = r.OnList // of the latest count: who leaves later does not undo it
			}
		}
		state, found := roster.HeadCount(list, counts, finding.Subject{Type: "outing", ID: outing.String()})
		out = append(out, PhaseCount{Phase: phase, State: state, OnList: list, Findings: found})
	}
	return out, nil
}
