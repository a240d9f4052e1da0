package briefings

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// AcknowledgedBy is how a person acknowledged a briefing.
type AcknowledgedBy string

// The ways to acknowledge a briefing. The person who gave it has heard it; another does
// it with a token of their own, or in sight of a member of the crew.
const (
	GaveIt    AcknowledgedBy = "gave_it"
	OwnToken  AcknowledgedBy = "own_token"
	SaidSo    AcknowledgedBy = "said_so"
	Signalled AcknowledgedBy = "signalled"
	Wrote     AcknowledgedBy = "wrote"
)

// NewAcknowledgement is a person's acknowledgement of a briefing, as a witness saw it.
// Its tags are kept in digests and never change.
type NewAcknowledgement struct {
	ID          uuid.UUID      `json:"ID"` // chosen by the device
	PersonID    uuid.UUID      `json:"PersonID"`
	How         AcknowledgedBy `json:"How"`
	WitnessedBy *uuid.UUID     `json:"WitnessedBy"` // the caller unless said
	WitnessedAt time.Time      `json:"WitnessedAt"`
}

// Acknowledge records that the calling person acknowledged a briefing that names them,
// at an instant, nil for now. Acknowledging it again changes nothing. Faults: not_found;
// missing_role for a program and for a person whom the briefing does not name;
// wrong_state for a voided briefing.
func (s *Service) Acknowledge(ctx context.Context, by actor.Actor, id uuid.UUID, at *time.Time) (out Briefing,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = find(ctx, tx, id); err != nil {
			return err
		}
		if !out.readableBy(by) {
			return fault.NoSuch("briefing")
		}
		i := slices.IndexFunc(out.People, func(p Person) bool { return p.PersonID == by.Person })
		switch {
		case i < 0:
			return permission.Refusal("acknowledgeBriefing", by)
		case out.VoidedAt != nil:
			return fault.WrongState("briefing", "voided", "Acknowledge the one that was given instead.")
		case out.People[i].Acknowledged != nil && out.People[i].Acknowledged.BriefingID == id:
			return nil
		}
		when := tx.Now
		if at != nil {
			when = *at
		}
		if err := journal.CheckTime(tx.Now, when, "/acknowledged_at"); err != nil {
			return err
		}
		a := acknowledgementRow{ID: uuid.Must(uuid.NewV7()), BriefingID: id, PersonID: by.Person, How: OwnToken}
		if err := writeAcknowledgements(ctx, by, tx, out.SessionID, []acknowledgementRow{a},
			[]journal.Entry{a.entry(out.SessionID, by.Person, when, journal.DigestOf(a))}); err != nil {
			return err
		}
		out, err = find(ctx, tx, id)
		return err
	})
	return out, err
}

// RecordAcknowledgements records who acknowledged a briefing, as the crew witnessed it.
// Each acknowledgement is recorded or refused by itself; the results have their order.
// Fault: not_found.
func (s *Service) RecordAcknowledgements(ctx context.Context, by actor.Actor, id uuid.UUID,
	all []NewAcknowledgement) ([]journal.Result, error) {
	return pg.InTx(ctx, s.db, by.Centre, func(ctx context.Context, tx *pg.Tx) ([]journal.Result, error) {
		b, err := find(ctx, tx, id)
		if err != nil {
			return nil, err
		}
		snapshot, err := readSnapshot(ctx, tx, b.SessionID, []uuid.UUID{})
		if err != nil {
			return nil, err
		}
		ids := make([]uuid.UUID, len(all))
		for i, n := range all {
			ids[i] = n.ID
		}
		before, err := journal.Digests(ctx, tx, ids)
		if err != nil {
			return nil, err
		}
		a, out := acknowledging{snapshot: snapshot, briefing: b, before: before}, make([]journal.Result, len(all))
		for i, n := range all {
			if out[i], err = a.add(ctx, by, tx, n, fmt.Sprintf("/items/%d", i)); err != nil {
				return nil, err
			}
		}
		return journal.InSession(b.SessionID, out), writeAcknowledgements(ctx, by, tx, b.SessionID, a.rows, a.entries)
	})
}

// acknowledging collects the acknowledgements of one briefing that are to be written.
type acknowledging struct {
	snapshot sessionSnapshot
	briefing Briefing
	before   map[uuid.UUID][]byte // digests of recorded entries by id
	rows     []acknowledgementRow
	entries  []journal.Entry
}

// add adds an acknowledgement, unless it is refused or was recorded before; at is its
// place in the request.
func (a *acknowledging) add(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewAcknowledgement,
	at string) (journal.Result, error) {
	digest := journal.DigestOf(struct {
		Of   uuid.UUID          `json:"Of"`
		Item NewAcknowledgement `json:"Item"`
	}{a.briefing.ID, n})
	if r, ok := journal.ReplayResult(a.before, n.ID, digest); ok {
		return r, nil
	}
	refused := func(err error) (journal.Result, error) {
		if f, ok := fault.Of(err); ok && (f.Kind == fault.Malformed || f.Kind == fault.Refused) {
			return journal.Result{ID: n.ID, Status: journal.NotRecorded, Refusal: f}, nil
		}
		return journal.Result{}, err
	}
	if !a.briefing.names(n.PersonID) {
		return refused(fault.UnknownReference("person whom the briefing is for", at+"/person_id"))
	}
	saw, err := a.snapshot.witness(ctx, by, tx, n.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return refused(err)
	}
	if err := journal.CheckTime(tx.Now, n.WitnessedAt, at+"/witnessed_at"); err != nil {
		return refused(err)
	}
	a.before[n.ID] = digest // the same call may bring it again
	row := acknowledgementRow{ID: n.ID, BriefingID: a.briefing.ID, PersonID: n.PersonID, How: n.How}
	a.rows = append(a.rows, row)
	a.entries = append(a.entries, row.entry(a.briefing.SessionID, saw, n.WitnessedAt, digest))
	return journal.Result{ID: n.ID, Status: journal.Recorded}, nil
}

// acknowledgementRow is an acknowledgement as its table has it.
type acknowledgementRow struct {
	ID         uuid.UUID      `json:"id"`
	BriefingID uuid.UUID      `json:"briefing_id"`
	PersonID   uuid.UUID      `json:"person_id"`
	How        AcknowledgedBy `json:"how"`
}

// entry returns the entry of the acknowledgement.
func (r acknowledgementRow) entry(session, saw uuid.UUID, at time.Time, digest []byte) journal.Entry {
	return journal.Entry{ID: r.ID, Kind: journal.Acknowledgement, Session: &session, WitnessedBy: saw,
		WitnessedAt: at, Digest: digest}
}

// writeAcknowledgements writes acknowledgements with their entries.
func writeAcknowledgements(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	rows []acknowledgementRow, entries []journal.Entry) error {
	if len(rows) == 0 {
		return nil
	}
	var b pgx.Batch
	if err := journal.Queue(ctx, by, tx, &b, entries...); err != nil {
		return err
	}
	if err := queueAcknowledgements(&b, rows); err != nil {
		return err
	}
	if err := tx.Send(ctx, &b); err != nil {
		return fmt.Errorf("record acknowledgements in session %s: %w", session, err)
	}
	return nil
}

// queueAcknowledgements adds the writing of acknowledgements to a batch.
func queueAcknowledgements(b *pgx.Batch, rows []acknowledgementRow) error {
	text, err := json.Marshal(rows)
	if err != nil {
		return fmt.Errorf("write acknowledgements: %w", err)
	}
	b.Queue(`
		INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how)
		SELECT app_centre(), x.*
		FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, briefing_id uuid, person_id uuid, how text)`,
		pgx.StrictNamedArgs{"rows": string(text)})
	return nil
}

// AcknowledgementKind returns the kind of acknowledgements, which no batch brings.
func (s *Service) AcknowledgementKind() journal.EntryKind {
	return journal.Summarised(journal.EntryKind{Kind: journal.Acknowledgement,
		Operation: "recordAcknowledgements"}, `
	SELECT a.id, n.name, a.how
	FROM acknowledgement a
	JOIN people_person n ON n.centre_id = a.centre_id AND n.id = a.person_id
	WHERE a.centre_id = app_centre() AND a.id = w.id`, acknowledgementSummary.say)
}

// acknowledgementSummary is what the summary of an acknowledgement is made of.
type acknowledgementSummary struct {
	ID        uuid.UUID
	Name, How string
}

func (h acknowledgementSummary) say() (uuid.UUID, string) {
	how := map[string]string{"gave_it": "gave it", "own_token": "acknowledged it themselves",
		"said_so":   "said so",
		"signalled": "signalled it", "wrote": "wrote it"}[h.How]
	return h.ID, fmt.Sprintf("Briefing heard: %s %s.", h.Name, how)
}
