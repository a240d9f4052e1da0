package sessions

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// LiveSession is a session as somebody who watches it wants to see it.
type LiveSession struct {
	Session      Session
	Groups       []Group
	Participants []Participant
}

// Standings reads how sessions stand, in the order of their ids, within the
// caller's transaction. Missing when one is not there.
func (s *Service) Standings(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) ([]LiveSession, error) {
	views, err := dayview.Read(ctx, tx, dayview.Query{Sessions: ids})
	if err != nil {
		return nil, err
	}
	out := make([]LiveSession, 0, len(ids))
	for _, id := range ids {
		at := slices.IndexFunc(views, func(v dayview.View) bool { return v.ID == id })
		if at < 0 {
			return nil, fault.NoSuch("session")
		}
		out = append(out, LiveSession{Session: views[at].Session, Groups: views[at].Groups,
			Participants: views[at].Participants})
	}
	return out, nil
}

// RollCallEntry is what a roll call said of one participant.
type RollCallEntry struct {
	ID            uuid.UUID
	ParticipantID uuid.UUID
	Attendance    Attendance
	Note          *string
}

// Clearance is a group's clearance, lost or given back.
type Clearance struct {
	ID        uuid.UUID
	GroupID   uuid.UUID
	Name      string // of the group
	Cleared   bool
	Cause     string
	Findings  finding.List
	ChangedAt time.Time
}

// QueueCalled reads roll calls by the ids of their entries, in a batch.
func QueueCalled(b *pgx.Batch, into *[]RollCallEntry, entries []uuid.UUID) {
	pg.QueueRows(b, into, `SELECT id, participant_id, attendance, note FROM roll_call WHERE centre_id = app_centre() AND id = ANY (@ids)`,
		pgx.StrictNamedArgs{"ids": entries})
}

// QueueClearances reads changes of clearance by their ids, in a batch.
func (s *Service) QueueClearances(b *pgx.Batch, into *[]Clearance, ids []uuid.UUID) {
	pg.QueueRows(b, into, `SELECT c.id, c.group_id, g.name, c.cleared, c.cause, c.findings, c.changed_at
		FROM clearance c JOIN session_group g ON g.centre_id = c.centre_id AND g.id = c.group_id
		WHERE c.centre_id = app_centre() AND c.id = ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids})
}
