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
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/permission"
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// briefingPersonRow is one person of a briefing as its table has it.
type briefingPersonRow struct {
	PersonID  uuid.UUID          `json:"person_id"`
	GaugeUnit units.Unit         `json:"gauge_unit"`
	Figures   []storedFigures    `json:"figures"`
	Knows     *conventionContent `json:"knows"`
	Told      finding.List       `json:"told"`
	Digest    string             `json:"digest"` // in hex
}

// write stores a briefing with its people and whoever acknowledged it at once.
func (w briefingWrite) write(ctx context.Context, by actor.Actor, tx *pg.Tx) error {
	convention, err := storedConvention(w.convention)
	if err != nil {
		return err
	}
	content, err := json.Marshal(w.content)
	if err != nil {
		return fmt.Errorf("write briefing: %w", err)
	}
	people, err := w.rows()
	if err != nil {
		return err
	}
	dive, err := json.Marshal(w.dive) // null for none
	if err != nil {
		return fmt.Errorf("write briefing: %w", err)
	}
	var b pgx.Batch
	entries := []journal.Entry{{ID: w.id, Kind: journal.Briefing, Session: &w.session, WitnessedBy: w.giver,
		WitnessedAt: w.at, Findings: w.found, Digest: w.digest}}
	heard := make([]acknowledgementRow, len(w.heard))
	for i, h := range w.heard {
		// The id follows from the briefing's, so that sending it again makes no other.
		heard[i] = acknowledgementRow{ID: uuid.NewSHA1(w.id, h.PersonID[:]), BriefingID: w.id,
			PersonID: h.PersonID, How: h.How}
		entries = append(entries, heard[i].entry(w.session, w.giver, w.at, journal.DigestOf(heard[i])))
	}
	if err := journal.Queue(ctx, by, tx, &b, entries...); err != nil {
		return err
	}
	b.Queue(`INSERT INTO briefing (centre_id, id, session_id, convention, check_every_s, content, in_charge, dive_id, dive)
		VALUES (app_centre(), @id, @session, @convention, @every, @content, @in_charge, @dive_id, NULLIF(@dive::jsonb, 'null'))`,
		pgx.StrictNamedArgs{"id": w.id, "session": w.session, "convention": convention, "every": w.every,
			"content":   string(content),
			"in_charge": w.inCharge, "dive_id": w.about.DiveID, "dive": string(dive)})
	b.Queue(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, told, knows, digest)
		SELECT app_centre(), @id, x.person_id, x.gauge_unit, x.figures, x.told, NULLIF(x.knows, 'null'), decode(x.digest, 'hex')
		FROM jsonb_to_recordset(@rows::jsonb) AS x (person_id uuid, gauge_unit text, figures jsonb, told jsonb, knows jsonb, digest text)`,
		pgx.StrictNamedArgs{"id": w.id, "rows": people})
	if err := queueHeard(&b, heard); err != nil {
		return err
	}
	return tx.Send(ctx, &b)
}

func (w briefingWrite) rows() (string, error) {
	rows := make([]briefingPersonRow, len(w.people))
	for i, p := range w.people {
		rows[i] = briefingPersonRow{PersonID: p.PersonID, GaugeUnit: p.GaugeUnit, Figures: p.Figures,
			Told: append(finding.List{}, p.Told...), Digest: fmt.Sprintf("%x", w.concern(p))}
		if p.Trained != nil {
			rows[i].Knows = new(asStored(*p.Trained))
		}
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return "", fmt.Errorf("write briefing: %w", err)
	}
	return string(text), nil
}

// Briefing reads one: for staff and programs, and for whom it names.
func (s *Service) Briefing(ctx context.Context, by actor.Actor, id uuid.UUID) (out Briefing, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = findBriefing(ctx, tx, id); err != nil {
			return err
		}
		if !out.readableBy(by) {
			return fault.NoSuch("briefing")
		}
		return nil
	})
	return out, err
}

// readableBy reports whether the caller reads all briefings, or this one names them.
func (b Briefing) readableBy(by actor.Actor) bool {
	return permission.Of("getBriefing", by) == permission.All ||
		slices.ContainsFunc(b.People, func(p Briefed) bool { return p.PersonID == by.Person })
}

// Briefings lists the briefings of a session, newest first, voided ones
// included; a student sees those that name them.
func (s *Service) Briefings(ctx context.Context, by actor.Actor, session uuid.UUID) (out []Briefing,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		_, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
			`SELECT id FROM sessions_session WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": session})
		if err == nil && !found {
			err = fault.NoSuch("session")
		}
		if err != nil {
			return err
		}
		out, err = readBriefings(ctx, tx, session, nil)
		out = slices.DeleteFunc(out, func(b Briefing) bool { return !b.readableBy(by) })
		return err
	})
	return out, err
}

func findBriefing(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Briefing, error) {
	session, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
		`SELECT session_id FROM briefing WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("briefing")
	}
	if err != nil {
		return Briefing{}, err
	}
	all, err := readBriefings(ctx, tx, session, &id)
	if err != nil {
		return Briefing{}, err
	}
	return all[0], nil
}

// briefingRow is a briefing as its table has it, with its entry.
type briefingRow struct {
	ID          uuid.UUID
	SessionID   uuid.UUID
	Session     string
	Site        *string
	TimeZone    string
	WitnessedBy uuid.UUID
	GivenName   string
	WitnessedAt time.Time
	RecordedAt  time.Time
	RecordedBy  *uuid.UUID
	VoidedAt    *time.Time
	VoidReason  *string
	Findings    finding.List
	Convention  []byte
	CheckEveryS *int
	Content     []byte
	InCharge    bool
	DiveID      *uuid.UUID
	Dive        *BriefedDive
}

// briefedRow is a person of a briefing; what counts for them now is read apart.
type briefedRow struct {
	BriefingID    uuid.UUID
	PersonID      uuid.UUID
	Name          string
	ParticipantID *uuid.UUID
	GaugeUnit     units.Unit
	Figures       []storedFigures
	Knows         []byte
	Dives         map[uuid.UUID]int
	Newest        bool       `db:"-"`
	BriefedAt     *time.Time `db:"-"`
}

const (
	briefingsSQL = `SELECT b.id, b.session_id, s.title AS session, t.name AS site, s.time_zone, e.witnessed_by, n.name AS given_name, e.witnessed_at, e.recorded_at, e.recorded_by,
			e.voided_at, e.void_reason, e.findings, b.convention, b.check_every_s, b.content,
			b.in_charge, b.dive_id, b.dive
		FROM briefing b JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
		JOIN people_person n ON n.centre_id = b.centre_id AND n.id = e.witnessed_by
		JOIN sessions_session s ON s.centre_id = b.centre_id AND s.id = b.session_id
		LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
		WHERE b.centre_id = app_centre() AND b.session_id = @session AND (@only::uuid IS NULL OR b.id = @only)
		ORDER BY e.witnessed_at DESC, e.recorded_at DESC, b.id`
	briefedSQL = `SELECT b.id AS briefing_id, x.person_id, n.name, p.id AS participant_id, x.gauge_unit, x.figures, x.knows,
			COALESCE((SELECT jsonb_object_agg(d.id, d.number) FROM sessions_dive d WHERE d.centre_id = b.centre_id AND d.session_id = b.session_id), '{}') AS dives
		FROM briefing b JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id
		JOIN people_person n ON n.centre_id = x.centre_id AND n.id = x.person_id
		LEFT JOIN sessions_participant p ON p.centre_id = b.centre_id AND p.session_id = b.session_id AND p.person_id = x.person_id
		WHERE b.centre_id = app_centre() AND b.session_id = @session AND (@only::uuid IS NULL OR b.id = @only) ORDER BY n.name, n.id`
	heardSQL = `SELECT a.id, a.briefing_id, a.person_id, a.how, e.witnessed_by, e.recorded_by, e.witnessed_at
		FROM briefing b JOIN acknowledgement a ON a.centre_id = b.centre_id AND a.briefing_id = b.id
		JOIN journal_entry e ON e.centre_id = a.centre_id AND e.id = a.id AND e.voided_at IS NULL
		WHERE b.centre_id = app_centre() AND b.session_id = @session ORDER BY e.witnessed_at, a.id`
)

// readBriefings reads the briefings of a session, or one of them.
func readBriefings(ctx context.Context, tx *pg.Tx, session uuid.UUID, only *uuid.UUID) ([]Briefing, error) {
	var b pgx.Batch
	var rows []briefingRow
	var people []briefedRow
	var heard []Acknowledged
	args, of := pgx.StrictNamedArgs{"session": session, "only": only}, pgx.StrictNamedArgs{"session": session}
	pg.QueueRows(&b, &rows, briefingsSQL, args)
	pg.QueueRows(&b, &people, briefedSQL, args)
	pg.QueueRows(&b, &heard, heardSQL, of)
	views := dayview.Query{Sessions: []uuid.UUID{session}, Want: dayview.Told}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, fmt.Errorf("read briefings: %w", err)
	}
	v, err := views.View()
	if err != nil {
		return nil, err
	}
	outdated := readiness.Outdated(v)
	for i, p := range people {
		newest, _ := v.Newest(p.PersonID)
		people[i].Newest = newest.BriefingID == p.BriefingID
		if _, takesPart := v.PartOf(p.PersonID); takesPart && people[i].Newest {
			people[i].BriefedAt = v.BriefedAt(p.PersonID)
		}
	}
	out := make([]Briefing, 0, len(rows))
	for _, r := range rows {
		one, err := r.briefing(people, heard)
		if err != nil {
			return nil, err
		}
		for _, o := range outdated {
			one.overtake(o)
		}
		out = append(out, one)
	}
	return out, nil
}

// overtake marks that what the briefing told a person counts no more.
func (b *Briefing) overtake(o readiness.ToldOtherwise) {
	i := slices.IndexFunc(b.People,
		func(p Briefed) bool { return b.ID == o.BriefingID && p.PersonID == o.PersonID })
	if i >= 0 {
		b.People[i].BriefedAt, b.People[i].Outdated = nil, true
		b.Findings = append(b.Findings, o.Finding())
	}
}

func (r briefingRow) briefing(people []briefedRow, heard []Acknowledged) (Briefing, error) {
	c, err := readConvention(r.Convention)
	if err != nil {
		return Briefing{}, err
	}
	var content briefingContent
	if err := json.Unmarshal(r.Content, &content); err != nil {
		return Briefing{}, fmt.Errorf("read briefing: %w", err)
	}
	out := Briefing{ID: r.ID, SessionID: r.SessionID, Session: r.Session, Site: r.Site, TimeZone: r.TimeZone,
		GivenBy: r.WitnessedBy, GivenName: r.GivenName, BriefedAt: r.WitnessedAt, RecordedAt: r.RecordedAt,
		RecordedBy: r.RecordedBy, VoidedAt: r.VoidedAt, VoidReason: r.VoidReason, Convention: c,
		BriefingWords: content.BriefingWords, Roles: content.Roles,
		Visibility: pg.Reading(content.Water.VisibilityValue, content.Water.VisibilityUnit),
		Current:    pg.Reading(content.Water.CurrentValue, content.Water.CurrentUnit),
		Temperature: pg.Reading(content.Water.WaterValue,
			content.Water.WaterUnit), Emergency: content.Emergency, Note: content.Note, Findings: r.Findings}
	if out.InCharge, out.Dive = r.InCharge, r.Dive; out.Dive != nil {
		out.Dive.DiveID = r.DiveID
	}
	if r.CheckEveryS != nil {
		every := units.Read(float64(*r.CheckEveryS), units.UnitSecond)
		if x := content.Every; x != nil {
			every = units.Read(x.Value, units.Unit(x.Unit))
		}
		out.CheckEvery = &every
	}
	for _, p := range people {
		if p.BriefingID != r.ID {
			continue
		}
		one, err := p.briefed(c, heard)
		if err != nil {
			return out, err
		}
		out.People = append(out.People, one)
	}
	return out, nil
}

func (p briefedRow) briefed(c signal.Convention, heard []Acknowledged) (Briefed, error) {
	out := Briefed{PersonID: p.PersonID, Name: p.Name, ParticipantID: p.ParticipantID, GaugeUnit: p.GaugeUnit,
		BriefedAt: p.BriefedAt, Newest: p.Newest}
	for _, a := range heard {
		own, counts := a.BriefingID == p.BriefingID, p.BriefedAt != nil && a.WitnessedAt.Equal(*p.BriefedAt)
		if a.PersonID == p.PersonID && (counts || own && out.Acknowledged == nil) {
			out.Acknowledged = &a
		}
	}
	for _, f := range p.Figures {
		one := shown(f, c.In(p.GaugeUnit))
		if n, ok := p.Dives[given(f.DiveID, uuid.Nil)]; ok {
			one.DiveNumber = &n
		}
		out.Figures = append(out.Figures, one)
	}
	if p.Knows != nil {
		known, err := readConvention(p.Knows)
		if err != nil {
			return out, err
		}
		if known.Code != c.Code {
			out.Knows, out.Differences = &known, c.Differences(known)
		}
	}
	return out, nil
}

// shown puts somebody's figures on the hands, in the unit of their gauge.
func shown(f storedFigures, c signal.Convention) Figures {
	figure := func(x *dayview.Figure, up bool) *Figure {
		if x == nil {
			return nil
		}
		out := &Figure{Given: units.Read(x.Value, units.Unit(x.Unit))}
		if s, found := show(c, out.Given, up); !found.Forbids() {
			out.Shown = &s
		}
		return out
	}
	return Figures{DiveID: f.DiveID, PlanID: f.PlanID, Start: figure(f.Start, false),
		Turn: figure(f.Turn, true), Low: figure(f.Low, true)}
}
