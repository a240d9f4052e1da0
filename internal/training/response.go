package training

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
)

// GasResponse is something that somebody of the crew saw being done about gas.
type GasResponse struct {
	ID            uuid.UUID       `json:"ID"`
	ParticipantID uuid.UUID       `json:"ParticipantID"` // who did it; of a turn, anybody of the group that turned
	DiveID        *uuid.UUID      `json:"DiveID"`        // nil: the dive that is under way at its time
	What          signal.Response `json:"What"`          // one of signal's
	Note          *string         `json:"Note"`
	WitnessedBy   *uuid.UUID      `json:"WitnessedBy"` // the caller unless said
	WitnessedAt   time.Time       `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (r *GasResponse) Times() []*time.Time { return []*time.Time{&r.WitnessedAt} }

// Digest implements journal.Item.
func (r GasResponse) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, r}) }

// Names implements journal.Item.
func (r GasResponse) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AParticipant, &r.ParticipantID),
		journal.Named(journal.ADive, r.DiveID),
		journal.Named(journal.APerson, r.WitnessedBy))
}

type gasResponseRow struct {
	ID            uuid.UUID       `json:"id"`
	ParticipantID uuid.UUID       `json:"participant_id"`
	DiveID        *uuid.UUID      `json:"dive_id"`
	What          signal.Response `json:"what"`
	Note          *string         `json:"note"`
}

const insertGasResponses = `INSERT INTO gas_response (centre_id, id, participant_id, dive_id, what, note)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, dive_id uuid, what text, note text)`

// LogResponses records what was done about gas in a session, each for itself.
// None is refused by a rule.
func (s *Service) LogResponses(ctx context.Context, by actor.Actor, session uuid.UUID,
	responses []GasResponse) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterResponses(ctx, by, tx, session, responses)
		return err
	})
	return out, err
}

// EnterResponses is LogResponses in the caller's transaction.
func (s *Service) EnterResponses(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	responses []GasResponse) ([]journal.Result, error) {
	st, err := readStage(ctx, tx, session, 0,
		ask(responses, func(r GasResponse) (uuid.UUID, *uuid.UUID) { return r.ID, r.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	b, err := collect(st, session, responses, func(r GasResponse) uuid.UUID { return r.ID },
		func(r GasResponse, at string) (journal.Entry, gasResponseRow, error) {
			return st.gasResponse(by, tx.Now, r, at)
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertGasResponses)
}

func (st stage) gasResponse(by actor.Actor, now time.Time, r GasResponse,
	at string) (e journal.Entry, row gasResponseRow, err error) {
	p, err := st.participant(r.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if !r.What.Known() {
		return e, row, fault.UnknownReference("response in the water", at+"/what")
	}
	if _, err := st.trainingDive(r.DiveID, at+"/dive_id"); err != nil {
		return e, row, err
	}
	saw, err := st.witness(by, now, sighting{r.WitnessedBy, r.WitnessedAt, "witnessed_at"}, at)
	if err != nil {
		return e, row, err
	}
	row = gasResponseRow{ID: r.ID, ParticipantID: p.ID, DiveID: r.DiveID, What: r.What, Note: r.Note}
	return st.entry(journal.GasResponse, p, saw, r.WitnessedAt, nil), row, nil
}

// ResponseLogged is a response as it was recorded.
type ResponseLogged struct {
	journal.Head
	DiveID *uuid.UUID
	What   signal.Response
	Note   *string
}

const responsesFrom = `
	SELECT ` + journal.Columns + `, g.dive_id, g.what, g.note
	FROM gas_response g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id `

// responsesOfSession leaves out the enrolments, which the view of the session has.
const responsesOfSession = `
	SELECT ` + journal.BareColumns + `, g.dive_id, g.what, g.note` + ofSession + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM gas_response g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'gas_response' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`

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
	st, err := readStage(ctx, tx, session, 0,
		ask(completions, func(c LogCompletion) (uuid.UUID, *uuid.UUID) { return c.ID, c.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	b, err := collect(st, session, completions, func(c LogCompletion) uuid.UUID { return c.ID },
		func(c LogCompletion, at string) (journal.Entry, logCompletionRow, error) {
			if _, err := st.trainingDive(c.DiveID, at+"/dive_id"); err != nil {
				return journal.Entry{}, logCompletionRow{}, err
			}
			saw, err := st.witness(by, tx.Now, sighting{c.WitnessedBy, c.WitnessedAt, "witnessed_at"}, at)
			return journal.Entry{Kind: journal.LogCompletion, Session: &st.session.ID,
					Outing:      st.session.OutingID,
					WitnessedBy: saw, WitnessedAt: c.WitnessedAt},
				logCompletionRow{ID: c.ID, DiveID: c.DiveID}, err
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertLogCompletions)
}

// CompletionLogged is a log completion as it was recorded.
type CompletionLogged struct {
	journal.Head
	DiveID *uuid.UUID
}

// logCompletionsOfSession has no enrolments: the entries are of no participant.
const logCompletionsOfSession = `
	SELECT ` + journal.BareColumns + `, g.dive_id` + ofSession + `
	CROSS JOIN LATERAL (
		SELECT *
		FROM log_completion g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'log_completion' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`
