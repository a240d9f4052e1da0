package waterlog

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/watercheck"
)

// LogCompletion is the word that everything which was seen in a session, or on one of
// its dives, has been logged.
type LogCompletion struct {
	ID          uuid.UUID  `json:"ID"`
	DiveID      *uuid.UUID `json:"DiveID"`      // nil: the whole session
	WitnessedBy *uuid.UUID `json:"WitnessedBy"` // whose word it is; the caller's unless said
	WitnessedAt time.Time  `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (c *LogCompletion) Times() []*time.Time { return []*time.Time{&c.WitnessedAt} }

// Digest implements journal.Item.
func (c LogCompletion) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, c}) }

// Names implements journal.Item.
func (c LogCompletion) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.ADive, c.DiveID), journal.Named(journal.APerson, c.WitnessedBy))
}

type logCompletionRow struct {
	ID     uuid.UUID  `json:"id"`
	DiveID *uuid.UUID `json:"dive_id"`
}

const insertLogCompletions = `INSERT INTO log_completion (centre_id, id, dive_id)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_id uuid)`

// CompleteLog records that the log of a session, or of some of its dives, is
// complete, so that lateness is judged. What is logged later is taken all the
// same.
func (s *Service) CompleteLog(ctx context.Context, by actor.Actor, session uuid.UUID,
	completions []LogCompletion) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterLogCompletions(ctx, by, tx, session, completions)
		return err
	})
	return out, err
}

// EnterLogCompletions is CompleteLog in the caller's transaction.
func (s *Service) EnterLogCompletions(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	completions []LogCompletion) ([]journal.Result, error) {
	st, err := watercheck.ReadSnapshot(ctx, tx, session, 0,
		watercheck.MentionsOf(completions, func(c LogCompletion) (uuid.UUID, *uuid.UUID) { return c.ID, c.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	b, err := collect(st, session, completions, func(c LogCompletion) uuid.UUID { return c.ID },
		func(c LogCompletion, at string) (journal.Entry, logCompletionRow, error) {
			if _, err := st.TrainingDive(c.DiveID, at+"/dive_id"); err != nil {
				return journal.Entry{}, logCompletionRow{}, err
			}
			saw, err := st.Witness(by, tx.Now, watercheck.Sighting{By: c.WitnessedBy, At: c.WitnessedAt,
				Member: "witnessed_at"}, at)
			return journal.Entry{Kind: journal.LogCompletion, Session: &st.Session.ID,
					Outing:      st.Session.OutingID,
					WitnessedBy: saw, WitnessedAt: c.WitnessedAt},
				logCompletionRow{ID: c.ID, DiveID: c.DiveID}, err
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertLogCompletions)
}

// completeSummary is somebody's word that a log is complete.
type completeSummary struct {
	ID     uuid.UUID
	Number *int // of the dive; nil: the whole session
}

func (c completeSummary) say() (uuid.UUID, string) {
	if c.Number == nil {
		return c.ID, "The log of the session is complete."
	}
	return c.ID, fmt.Sprintf("The log of dive %d is complete.", *c.Number)
}

// LogCompletionKind returns the kind of completed logs.
func (s *Service) LogCompletionKind() journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.LogCompletion,
		Operation: "recordLogCompletion", Member: "Complete"}, s.EnterLogCompletions), `
	SELECT d.id, v.number
	FROM log_completion d
	LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id`+thisOne, completeSummary.say)
}
