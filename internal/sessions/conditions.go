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
	"tankside/internal/units"
)

// Report is what somebody saw of the conditions; nil was not looked at.
type Report struct {
	Key         once.Key
	SessionID   uuid.UUID
	Visibility  *units.Reading
	Current     *units.Reading
	Temperature *units.Reading
	Note        *string
	WitnessedBy *uuid.UUID // the caller unless said
	WitnessedAt time.Time
}

// ReportConditions records what the water is like. The groups are judged anew
// by it: a book that takes places away in such water may cost a group its
// clearance.
func (s *Service) ReportConditions(ctx context.Context, r Report) (head journal.Head, created bool, err error) {
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		head, created, err = s.EnterReport(ctx, tx, r)
		return err
	})
	return head, created, err
}

// EnterReport is ReportConditions in the caller's transaction.
func (s *Service) EnterReport(ctx context.Context, tx *pg.Tx, r Report) (head journal.Head, created bool, err error) {
	if err := mayReport(ctx); err != nil {
		return head, false, err
	}
	row, err := hold(ctx, tx, r.SessionID)
	if err != nil {
		return head, false, err
	}
	seen, err := journal.Replay(ctx, tx, r.Key.ID, r.Key.Digest)
	if err != nil {
		return head, false, err
	}
	if !seen {
		err = s.reportOnce(ctx, tx, row, r)
	}
	if err != nil {
		return head, false, err
	}
	head, err = journal.Find(ctx, tx, r.Key.ID)
	return head, !seen, err
}

func (s *Service) reportOnce(ctx context.Context, tx *pg.Tx, row Session, r Report) error {
	if !row.InWater() {
		return fault.WrongState("session", "not in water", "Conditions are reported of water sessions.")
	}
	parts, err := participantsOf(ctx, tx, row.ID)
	if err != nil {
		return err
	}
	witness, err := witnessOf(ctx, tx, row, parts, r.WitnessedBy, "/witnessed_by")
	if err != nil {
		return err
	}
	if err := journal.CheckTime(tx.Now, r.WitnessedAt, "/witnessed_at"); err != nil {
		return err
	}
	newest, err := pg.One[bool](ctx, tx, `SELECT NOT EXISTS (SELECT FROM journal_entry WHERE centre_id = app_centre() AND session_id = @session
		AND kind = 'conditions' AND voided_at IS NULL AND witnessed_at > @at)`, pgx.StrictNamedArgs{"session": row.ID, "at": r.WitnessedAt})
	if err != nil {
		return err
	}
	var found finding.List
	if newest {
		if found, err = s.setWater(ctx, tx, row, waterOf(r.Visibility, r.Current, r.Temperature)); err != nil {
			return err
		}
	}
	if err := journal.Record(ctx, tx, journal.Entry{ID: r.Key.ID, Kind: journal.Conditions, Session: &row.ID, Outing: row.OutingID,
		WitnessedBy: witness, WitnessedAt: r.WitnessedAt, Findings: found, Digest: r.Key.Digest}); err != nil {
		return err
	}
	args := waterOf(r.Visibility, r.Current, r.Temperature).args()
	args["id"], args["note"] = r.Key.ID, r.Note
	_, err = tx.Do(ctx, `INSERT INTO conditions_report (centre_id, id, visibility_value, visibility_unit, current_value, current_unit, water_value, water_unit, note)
		VALUES (app_centre(), @id, @visibility_value, @visibility_unit, @current_value, @current_unit, @water_value, @water_unit, @note)`, args)
	return err
}

func waterOf(visibility, current, temperature *units.Reading) Water {
	var w Water
	w.VisibilityValue, w.VisibilityUnit = pg.Columns(visibility)
	w.CurrentValue, w.CurrentUnit = pg.Columns(current)
	w.WaterValue, w.WaterUnit = pg.Columns(temperature)
	return w
}

func (w Water) args() pgx.StrictNamedArgs {
	return pgx.StrictNamedArgs{"visibility_value": w.VisibilityValue, "visibility_unit": w.VisibilityUnit,
		"current_value": w.CurrentValue, "current_unit": w.CurrentUnit, "water_value": w.WaterValue, "water_unit": w.WaterUnit}
}

// setWater makes these the session's conditions, keeping what was not looked
// at, and judges the groups by them.
func (s *Service) setWater(ctx context.Context, tx *pg.Tx, row Session, w Water) (finding.List, error) {
	args := w.args()
	args["id"] = row.ID
	if _, err := tx.Do(ctx, `UPDATE session SET
			visibility_value = COALESCE(@visibility_value, visibility_value), visibility_unit = COALESCE(@visibility_unit, visibility_unit),
			current_value = COALESCE(@current_value, current_value), current_unit = COALESCE(@current_unit, current_unit),
			water_value = COALESCE(@water_value, water_value), water_unit = COALESCE(@water_unit, water_unit)
		WHERE centre_id = app_centre() AND id = @id`, args); err != nil {
		return nil, err
	}
	now, err := findSession(ctx, tx, row.ID)
	if err != nil {
		return nil, err
	}
	if _, err := s.rejudge(ctx, tx, now, "conditions", fact); err != nil {
		return nil, err
	}
	return afterFact(ctx, tx, now)
}

// VoidEntry puts right what rested on a voided entry of this package: the
// attendance that a roll call gave, the conditions that a report gave. The
// entry's void is written before.
func (s *Service) VoidEntry(ctx context.Context, tx *pg.Tx, head journal.Head) error {
	switch head.Kind {
	case journal.RollCall:
		row, err := findSession(ctx, tx, *head.SessionID)
		if err != nil {
			return err
		}
		if err := attend(ctx, tx, *head.ParticipantID); err != nil {
			return err
		}
		_, err = s.rejudge(ctx, tx, row, "roll_call_voided", fact)
		return err
	case journal.Conditions:
		return s.recallWater(ctx, tx, *head.SessionID)
	}
	return nil
}

// Hold locks a session with its groups, for a caller that changes something
// that they are judged on.
func (s *Service) Hold(ctx context.Context, tx *pg.Tx, session uuid.UUID) error {
	_, err := hold(ctx, tx, session)
	return err
}

// recallWater makes the conditions of a session what the reports that stand
// say, the newest word of each winning.
func (s *Service) recallWater(ctx context.Context, tx *pg.Tx, session uuid.UUID) error {
	if _, err := tx.Do(ctx, `UPDATE session SET visibility_value = NULL, visibility_unit = NULL, current_value = NULL, current_unit = NULL,
		water_value = NULL, water_unit = NULL WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": session}); err != nil {
		return err
	}
	row, err := findSession(ctx, tx, session)
	if err != nil {
		return err
	}
	reports, err := pg.Many[Water](ctx, tx, `SELECT c.visibility_value, c.visibility_unit, c.current_value, c.current_unit, c.water_value, c.water_unit
		FROM conditions_report c JOIN journal_entry e ON e.centre_id = c.centre_id AND e.id = c.id
		WHERE e.centre_id = app_centre() AND e.session_id = @session AND e.voided_at IS NULL ORDER BY e.witnessed_at, e.id`,
		pgx.StrictNamedArgs{"session": session})
	if err != nil {
		return err
	}
	if len(reports) == 0 {
		_, err := s.rejudge(ctx, tx, row, "conditions_voided", fact)
		return err
	}
	for _, w := range reports {
		if _, err := s.setWater(ctx, tx, row, w); err != nil {
			return err
		}
	}
	return nil
}
