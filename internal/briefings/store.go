package briefings

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// newPersonRow is one person of a briefing as their row is written.
type newPersonRow struct {
	PersonID  uuid.UUID          `json:"person_id"`
	GaugeUnit units.Unit         `json:"gauge_unit"`
	Figures   []storedFigures    `json:"figures"`
	Knows     *conventionContent `json:"knows"`
	Told      finding.List       `json:"told"`
	Digest    string             `json:"digest"` // in hex
}

// write writes a briefing with its people and the acknowledgements given at once.
func (r recording) write(ctx context.Context, by actor.Actor, tx *pg.Tx) error {
	convention, err := conventionJSON(r.convention)
	if err != nil {
		return err
	}
	content, err := json.Marshal(r.content)
	if err != nil {
		return fmt.Errorf("write briefing: %w", err)
	}
	people, err := r.peopleJSON()
	if err != nil {
		return err
	}
	dive, err := json.Marshal(r.dive) // null for none
	if err != nil {
		return fmt.Errorf("write briefing: %w", err)
	}
	var b pgx.Batch
	acknowledged, entries := r.acknowledgementRows()
	if err := journal.Queue(ctx, by, tx, &b, append([]journal.Entry{{ID: r.id, Kind: journal.Briefing,
		Session: &r.session, WitnessedBy: r.giver, WitnessedAt: r.at, Findings: r.found,
		Digest: r.digest}}, entries...)...); err != nil {
		return err
	}
	b.Queue(`
		INSERT INTO briefing (centre_id, id, session_id, convention, check_every_s, content, in_charge,
			dive_id, dive)
		VALUES (app_centre(), @id, @session, @convention, @every, @content, @in_charge,
			@dive_id, NULLIF(@dive::jsonb, 'null'))`,
		pgx.StrictNamedArgs{"id": r.id, "session": r.session, "convention": convention,
			"every": r.checkEveryS, "content": string(content), "in_charge": r.inCharge,
			"dive_id": r.named.DiveID, "dive": string(dive)})
	b.Queue(`
		INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, told, knows, digest)
		SELECT app_centre(), @id, x.person_id, x.gauge_unit, x.figures, x.told, NULLIF(x.knows, 'null'),
			decode(x.digest, 'hex')
		FROM jsonb_to_recordset(@rows::jsonb) AS x (person_id uuid, gauge_unit text, figures jsonb, told jsonb,
			knows jsonb, digest text)`,
		pgx.StrictNamedArgs{"id": r.id, "rows": people})
	if err := queueAcknowledgements(&b, acknowledged); err != nil {
		return err
	}
	return tx.Send(ctx, &b)
}

// acknowledgementRows returns the acknowledgements given at once, and their entries.
// Their ids follow from the briefing's, so that a repeated request adds no others.
func (r recording) acknowledgementRows() (rows []acknowledgementRow, entries []journal.Entry) {
	rows = []acknowledgementRow{}
	for _, n := range r.acknowledged {
		row := acknowledgementRow{ID: uuid.NewSHA1(r.id, n.PersonID[:]), BriefingID: r.id,
			PersonID: n.PersonID, How: n.How}
		rows = append(rows, row)
		entries = append(entries, row.entry(r.session, r.giver, r.at, journal.DigestOf(row)))
	}
	return rows, entries
}

// peopleJSON returns the rows of the people as a JSON array.
func (r recording) peopleJSON() (string, error) {
	rows := make([]newPersonRow, len(r.people))
	for i, p := range r.people {
		rows[i] = newPersonRow{PersonID: p.PersonID, GaugeUnit: p.GaugeUnit, Figures: p.Figures,
			Told: append(finding.List{}, p.Forbidden...), Digest: fmt.Sprintf("%x", r.contentFor(p).digest())}
		if p.Trained != nil {
			rows[i].Knows = new(contentOf(*p.Trained))
		}
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return "", fmt.Errorf("write briefing: %w", err)
	}
	return string(text), nil
}
