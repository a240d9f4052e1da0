package planning

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

// AcknowledgedBy is the way in which somebody made known that they heard a briefing.
type AcknowledgedBy string

// The ways. Who gave a briefing has heard it; with a token of their own people
// say it for themselves, otherwise somebody of the crew saw it.
const (
	GaveIt    AcknowledgedBy = "gave_it"
	OwnToken  AcknowledgedBy = "own_token"
	SaidSo    AcknowledgedBy = "said_so"
	Signalled AcknowledgedBy = "signalled"
	Wrote     AcknowledgedBy = "wrote"
)

// NewAcknowledgement is somebody who acknowledged a briefing, as somebody else saw it.
type NewAcknowledgement struct {
	ID          uuid.UUID      `json:"ID"` // chosen by the device
	PersonID    uuid.UUID      `json:"PersonID"`
	How         AcknowledgedBy `json:"How"`
	WitnessedBy *uuid.UUID     `json:"WitnessedBy"` // the caller unless said
	WitnessedAt time.Time      `json:"WitnessedAt"`
}

// Acknowledge is the calling person's own word that they heard the briefing that
// names them, at a time, nil for now. Again does no harm. Faults: not_found;
// missing_role for a program and for whom the briefing does not name;
// wrong_state for a voided briefing.
func (s *Service) Acknowledge(ctx context.Context, by actor.Actor, id uuid.UUID, at *time.Time) (out Briefing,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findBriefing(ctx, tx, id); err != nil {
			return err
		}
		if !out.readableBy(by) {
			return fault.NoSuch("briefing")
		}
		i := slices.IndexFunc(out.People, func(p Briefed) bool { return p.PersonID == by.Person })
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
		if err := writeHeard(ctx, by, tx, out.SessionID, []acknowledgementRow{a},
			[]journal.Entry{a.entry(out.SessionID, by.Person, when, journal.DigestOf(a))}); err != nil {
			return err
		}
		out, err = findBriefing(ctx, tx, id)
		return err
	})
	return out, err
}

// EnterHeard records who acknowledged a briefing, each for itself, as somebody
// of the crew saw it.
func (s *Service) EnterHeard(ctx context.Context, by actor.Actor, id uuid.UUID,
	heard []NewAcknowledgement) ([]journal.Result, error) {
	return pg.InTx(ctx, s.db, by.Centre, func(ctx context.Context, tx *pg.Tx) ([]journal.Result, error) {
		b, err := findBriefing(ctx, tx, id)
		if err != nil {
			return nil, err
		}
		scene, err := readBriefingScene(ctx, tx, b.SessionID, []uuid.UUID{})
		if err != nil {
			return nil, err
		}
		ids := make([]uuid.UUID, len(heard))
		for i, h := range heard {
			ids[i] = h.ID
		}
		before, err := journal.Digests(ctx, tx, ids)
		if err != nil {
			return nil, err
		}
		e, out := entering{scene: scene, briefing: b, before: before}, make([]journal.Result, len(heard))
		for i, h := range heard {
			if out[i], err = e.enter(ctx, by, tx, h, fmt.Sprintf("/items/%d", i)); err != nil {
				return nil, err
			}
		}
		return out, writeHeard(ctx, by, tx, b.SessionID, e.rows, e.entries)
	})
}

// entering is acknowledgements of one briefing being judged one by one.
type entering struct {
	scene    briefingScene
	briefing Briefing
	before   map[uuid.UUID][]byte
	rows     []acknowledgementRow
	entries  []journal.Entry
}

func (e *entering) enter(ctx context.Context, by actor.Actor, tx *pg.Tx, h NewAcknowledgement,
	at string) (journal.Result, error) {
	digest := journal.DigestOf(struct {
		Of   uuid.UUID          `json:"Of"`
		Item NewAcknowledgement `json:"Item"`
	}{e.briefing.ID, h})
	if r, ok := journal.ReplayResult(e.before, h.ID, digest); ok {
		return r, nil
	}
	refused := func(err error) (journal.Result, error) {
		if f, ok := fault.Of(err); ok && (f.Kind == fault.Malformed || f.Kind == fault.Refused) {
			return journal.Result{ID: h.ID, Status: journal.NotRecorded, Refusal: f}, nil
		}
		return journal.Result{}, err
	}
	if !slices.ContainsFunc(e.briefing.People, func(p Briefed) bool { return p.PersonID == h.PersonID }) {
		return refused(fault.UnknownReference("person whom the briefing is for", at+"/person_id"))
	}
	saw, err := e.scene.witness(ctx, by, tx, h.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return refused(err)
	}
	if err := journal.CheckTime(tx.Now, h.WitnessedAt, at+"/witnessed_at"); err != nil {
		return refused(err)
	}
	e.before[h.ID] = digest // should the same call bring it again
	row := acknowledgementRow{ID: h.ID, BriefingID: e.briefing.ID, PersonID: h.PersonID, How: h.How}
	e.rows, e.entries = append(e.rows, row), append(e.entries,
		row.entry(e.briefing.SessionID, saw, h.WitnessedAt, digest))
	return journal.Result{ID: h.ID, Status: journal.Recorded}, nil
}

// acknowledgementRow is an acknowledgement as its table has it.
type acknowledgementRow struct {
	ID         uuid.UUID      `json:"id"`
	BriefingID uuid.UUID      `json:"briefing_id"`
	PersonID   uuid.UUID      `json:"person_id"`
	How        AcknowledgedBy `json:"how"`
}

func (r acknowledgementRow) entry(session, saw uuid.UUID, at time.Time, digest []byte) journal.Entry {
	return journal.Entry{ID: r.ID, Kind: journal.Acknowledgement, Session: &session, WitnessedBy: saw,
		WitnessedAt: at, Digest: digest}
}

func writeHeard(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID, rows []acknowledgementRow,
	entries []journal.Entry) error {
	if len(rows) == 0 {
		return nil
	}
	var b pgx.Batch
	if err := journal.Queue(ctx, by, tx, &b, entries...); err != nil {
		return err
	}
	if err := queueHeard(&b, rows); err != nil {
		return err
	}
	if err := tx.Send(ctx, &b); err != nil {
		return fmt.Errorf("enter who acknowledged the briefing of session %s: %w", session, err)
	}
	return nil
}

func queueHeard(b *pgx.Batch, rows []acknowledgementRow) error {
	text, err := json.Marshal(rows)
	if err != nil {
		return fmt.Errorf("write acknowledgements: %w", err)
	}
	b.Queue(`INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how)
		SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, briefing_id uuid, person_id uuid, how text)`,
		pgx.StrictNamedArgs{"rows": string(text)})
	return nil
}
