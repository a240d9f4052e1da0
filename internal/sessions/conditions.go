package sessions

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// Report is what somebody saw of the conditions; nil was not looked at.
type Report struct {
	Key         once.Key       `json:"Key"`
	SessionID   uuid.UUID      `json:"SessionID"`
	Visibility  *units.Reading `json:"Visibility"`
	Current     *units.Reading `json:"Current"`
	Temperature *units.Reading `json:"Temperature"`
	Note        *string        `json:"Note"`
	WitnessedBy *uuid.UUID     `json:"WitnessedBy"` // the caller unless said
	WitnessedAt time.Time      `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (r *Report) Times() []*time.Time { return []*time.Time{&r.WitnessedAt} }

// Digest implements journal.Item.
func (r Report) Digest(uuid.UUID) []byte { return r.Key.Digest }

// Names implements journal.Item.
func (r Report) Names() []journal.Ref {
	return journal.Named(journal.APerson, r.WitnessedBy)
}

// ReportConditions records what the water is like. The groups are judged again
// by it: a book that takes places away in such water may cost a group its
// clearance.
func (s *Service) ReportConditions(ctx context.Context, by actor.Actor, r Report) (head journal.Head,
	created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if head, created, err = s.EnterReport(ctx, by, tx, r); err != nil {
			return err
		}
		heads, said := []journal.Head{head}, journal.Summaries{}
		var b pgx.Batch
		journal.Kinds{s.ConditionsKind("")}.QueueSummaries(&b, said, journal.ByKind(heads))
		err = tx.Send(ctx, &b)
		said.Put(heads)
		head = heads[0]
		return err
	})
	return head, created, err
}

// EnterReport is ReportConditions in the caller's transaction.
func (s *Service) EnterReport(ctx context.Context, by actor.Actor, tx *pg.Tx, r Report) (head journal.Head,
	created bool, err error) {
	row, err := hold(ctx, tx, r.SessionID)
	if err != nil {
		return head, false, err
	}
	seen, err := journal.Replay(ctx, tx, r.Key.ID, r.Key.Digest)
	if err != nil {
		return head, false, err
	}
	var found finding.List
	if !seen {
		found, err = s.reportOnce(ctx, by, tx, row, r)
	}
	if err != nil {
		return head, false, err
	}
	head, err = journal.Find(ctx, tx, r.Key.ID)
	head.Findings = append(head.Findings, found...)
	return head, !seen, err
}

func (s *Service) reportOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, row Session,
	r Report) (finding.List, error) {
	if !row.InWater() {
		return nil, fault.WrongState("session", "not in water", "Conditions are reported of water sessions.")
	}
	also := []uuid.UUID{by.Person}
	if r.WitnessedBy != nil {
		also = append(also, *r.WitnessedBy)
	}
	v, err := dayview.Read(ctx, tx,
		dayview.Query{Sessions: []uuid.UUID{row.ID}, Also: also, Want: dayview.People | dayview.Facts})
	if err != nil {
		return nil, err
	}
	witness, err := witnessIn(v[0], by, r.WitnessedBy, "/witnessed_by")
	if err != nil {
		return nil, err
	}
	if err := journal.CheckTime(tx.Now, r.WitnessedAt, "/witnessed_at"); err != nil {
		return nil, err
	}
	if err := journal.Record(ctx, by, tx,
		journal.Entry{ID: r.Key.ID, Kind: journal.Conditions, Session: &row.ID, Outing: row.OutingID,
			WitnessedBy: witness, WitnessedAt: r.WitnessedAt, Digest: r.Key.Digest}); err != nil {
		return nil, err
	}
	args := waterArgs(Water{Visibility: r.Visibility, Current: r.Current, Temperature: r.Temperature})
	args["id"], args["note"] = r.Key.ID, r.Note
	if _, err = tx.Do(ctx, `
		INSERT INTO conditions_report (centre_id, id, visibility, current, temperature, note)
		VALUES (app_centre(), @id, @visibility, @current, @temperature, @note)`, args); err != nil {
		return nil, err
	}
	return s.recallWater(ctx, by, tx, row.ID, "conditions")
}

func waterArgs(w Water) pgx.StrictNamedArgs {
	return pgx.StrictNamedArgs{"visibility": w.Visibility, "current": w.Current, "temperature": w.Temperature}
}

// VoidEntry puts right what rested on a voided entry of this package: the
// attendance that a roll call gave, the conditions that a report gave. The
// entry's void is written before.
func (s *Service) VoidEntry(ctx context.Context, by actor.Actor, tx *pg.Tx, head journal.Head) error {
	switch head.Kind {
	case journal.RollCall:
		row, err := findSession(ctx, tx, *head.SessionID)
		if err != nil {
			return err
		}
		if err := attend(ctx, tx, *head.ParticipantID); err != nil {
			return err
		}
		_, err = s.rejudge(ctx, by, tx, row, "roll_call_voided", fact)
		return err
	case journal.Conditions:
		_, err := s.recallWater(ctx, by, tx, *head.SessionID, "conditions_voided")
		return err
	}
	return nil
}

// Hold locks a session with its groups, for a caller that changes something
// that they are judged on.
func (s *Service) Hold(ctx context.Context, tx *pg.Tx, session uuid.UUID) error {
	_, err := hold(ctx, tx, session)
	return err
}

// reports reads the reports on a session that stand, in the order in which they were
// witnessed.
func reports(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]dayview.Report, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Facts)
	return v.Reports, err
}

// recallWater makes the conditions of a session what the reports that stand say,
// the newest word on each thing winning in whichever order they arrived, and
// judges the groups by them.
func (s *Service) recallWater(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	cause string) (finding.List, error) {
	list, err := reports(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	var w Water
	for _, r := range list {
		w = r.Over(w)
	}
	args := waterArgs(w)
	args["id"] = session
	if _, err := tx.Do(ctx, `
		UPDATE session SET visibility = @visibility, current = @current, temperature = @temperature
		WHERE centre_id = app_centre() AND id = @id`, args); err != nil {
		return nil, err
	}
	now, err := findSession(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	j, err := s.rejudge(ctx, by, tx, now, cause, fact)
	return foundOfGroups(j.snapshot.Groups), err
}
