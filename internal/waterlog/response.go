package waterlog

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
	"tankside/internal/watercheck"
)

// Response is something that somebody of the crew saw being done about gas.
type Response struct {
	ID            uuid.UUID       `json:"ID"`
	ParticipantID uuid.UUID       `json:"ParticipantID"` // who did it; of a turn, anybody of the group that turned
	DiveID        *uuid.UUID      `json:"DiveID"`        // nil: the dive that is under way at its time
	What          signal.Response `json:"What"`          // one of signal's
	Note          *string         `json:"Note"`
	WitnessedBy   *uuid.UUID      `json:"WitnessedBy"` // the caller unless said
	WitnessedAt   time.Time       `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (r *Response) Times() []*time.Time { return []*time.Time{&r.WitnessedAt} }

// Digest implements journal.Item.
func (r Response) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, r}) }

// Names implements journal.Item.
func (r Response) Names() []journal.Ref {
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
	SELECT app_centre(), x.*
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, dive_id uuid, what text,
		note text)`

// LogResponses records what was done about gas in a session, each for itself.
// None is refused by a rule.
func (s *Service) LogResponses(ctx context.Context, by actor.Actor, session uuid.UUID,
	responses []Response) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterResponses(ctx, by, tx, session, responses)
		return err
	})
	return out, err
}

// EnterResponses is LogResponses in the caller's transaction.
func (s *Service) EnterResponses(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	responses []Response) ([]journal.Result, error) {
	st, err := watercheck.ReadSnapshot(ctx, tx, session, 0,
		watercheck.MentionsOf(responses, func(r Response) (uuid.UUID, *uuid.UUID) { return r.ID, r.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	b, err := collect(st, session, responses, func(r Response) uuid.UUID { return r.ID },
		func(r Response, at string) (journal.Entry, gasResponseRow, error) {
			return responseEntry(st, by, tx.Now, r, at)
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertGasResponses)
}

func responseEntry(st watercheck.Snapshot, by actor.Actor, now time.Time, r Response,
	at string) (e journal.Entry, row gasResponseRow, err error) {
	p, err := st.Participant(r.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if !r.What.Known() {
		return e, row, fault.UnknownReference("response in the water", at+"/what")
	}
	if _, err := st.TrainingDive(r.DiveID, at+"/dive_id"); err != nil {
		return e, row, err
	}
	saw, err := st.Witness(by, now, watercheck.Sighting{By: r.WitnessedBy, At: r.WitnessedAt,
		Member: "witnessed_at"}, at)
	if err != nil {
		return e, row, err
	}
	row = gasResponseRow{ID: r.ID, ParticipantID: p.ID, DiveID: r.DiveID, What: r.What, Note: r.Note}
	return st.Entry(journal.GasResponse, p, saw, r.WitnessedAt, nil), row, nil
}

// responseSummary is what somebody did about the gas.
type responseSummary struct {
	ID         uuid.UUID
	Name, What string
}

func (r responseSummary) say() (uuid.UUID, string) {
	did := map[string]string{"turned": "turned the dive", "signalled_low": "signalled low on gas",
		"ascent_begun": "began the ascent"}[r.What]
	return r.ID, r.Name + " " + did + "."
}

// ResponseKind returns the kind of responses to the gas.
func (s *Service) ResponseKind() journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.GasResponse,
		Operation: "recordResponses", Member: "Response"}, s.EnterResponses), `
	SELECT d.id, n.name, d.what
	FROM gas_response d`+ofParticipant+thisOne, responseSummary.say)
}
