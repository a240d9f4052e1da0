package briefings

import (
	"cmp"
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
	"tankside/internal/pg"
	"tankside/internal/readiness"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Get returns a briefing, to staff, programs and the persons whom it names. Fault:
// not_found.
func (s *Service) Get(ctx context.Context, by actor.Actor, id uuid.UUID) (out Briefing, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if out, err = find(ctx, tx, id); err != nil {
			return err
		}
		if !out.readableBy(by) {
			return fault.NoSuch("briefing")
		}
		return nil
	})
	return out, err
}

// List returns the briefings of a session, newest first, with the voided ones; to a
// student those that name them. Fault: not_found.
func (s *Service) List(ctx context.Context, by actor.Actor, session uuid.UUID) (out []Briefing,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		_, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
			`SELECT id FROM sessions_session WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": session})
		if err == nil && !found {
			err = fault.NoSuch("session")
		}
		if err != nil {
			return err
		}
		out, err = readAll(ctx, tx, session, nil)
		out = slices.DeleteFunc(out, func(b Briefing) bool { return !b.readableBy(by) })
		return err
	})
	return out, err
}

// find returns a briefing. Fault: not_found.
func find(ctx context.Context, tx *pg.Tx, id uuid.UUID) (Briefing, error) {
	session, found, err := pg.OptionalRow[uuid.UUID](ctx, tx,
		`SELECT session_id FROM briefing WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("briefing")
	}
	if err != nil {
		return Briefing{}, err
	}
	all, err := readAll(ctx, tx, session, &id)
	if err != nil {
		return Briefing{}, err
	}
	return all[0], nil
}

// briefingRow is a briefing with its entry, as briefingsSQL returns it.
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
	Dive        *Dive
}

// personRow is a person of a briefing, as peopleSQL returns them. What counts for them
// now follows from the read model.
type personRow struct {
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
	briefingsSQL = `
		SELECT b.id, b.session_id, s.title AS session, t.name AS site, s.time_zone, e.witnessed_by,
			n.name AS given_name, e.witnessed_at, e.recorded_at, e.recorded_by, e.voided_at, e.void_reason,
			e.findings, b.convention, b.check_every_s, b.content, b.in_charge, b.dive_id, b.dive
		FROM briefing b
		JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
		JOIN people_person n ON n.centre_id = b.centre_id AND n.id = e.witnessed_by
		JOIN sessions_session s ON s.centre_id = b.centre_id AND s.id = b.session_id
		LEFT JOIN courses_site t ON t.centre_id = s.centre_id AND t.id = s.site_id
		WHERE b.centre_id = app_centre()
			AND b.session_id = @session
			AND (@only::uuid IS NULL OR b.id = @only)
		ORDER BY e.witnessed_at DESC, e.recorded_at DESC, b.id`
	peopleSQL = `
		SELECT b.id AS briefing_id, x.person_id, n.name, p.id AS participant_id, x.gauge_unit, x.figures, x.knows,
			COALESCE((
				SELECT jsonb_object_agg(d.id, d.number)
				FROM sessions_dive d
				WHERE d.centre_id = b.centre_id AND d.session_id = b.session_id), '{}') AS dives
		FROM briefing b
		JOIN briefing_person x ON x.centre_id = b.centre_id AND x.briefing_id = b.id
		JOIN people_person n ON n.centre_id = x.centre_id AND n.id = x.person_id
		LEFT JOIN sessions_participant p
			ON p.centre_id = b.centre_id AND p.session_id = b.session_id AND p.person_id = x.person_id
		WHERE b.centre_id = app_centre()
			AND b.session_id = @session
			AND (@only::uuid IS NULL OR b.id = @only)
		ORDER BY n.name, n.id`
	acknowledgedSQL = `
		SELECT a.id, a.briefing_id, a.person_id, a.how, e.witnessed_by, e.recorded_by, e.witnessed_at
		FROM briefing b
		JOIN acknowledgement a ON a.centre_id = b.centre_id AND a.briefing_id = b.id
		JOIN journal_entry e ON e.centre_id = a.centre_id AND e.id = a.id AND e.voided_at IS NULL
		WHERE b.centre_id = app_centre() AND b.session_id = @session
		ORDER BY e.witnessed_at, a.id`
)

// readAll returns the briefings of a session, or only one of them.
func readAll(ctx context.Context, tx *pg.Tx, session uuid.UUID, only *uuid.UUID) ([]Briefing, error) {
	var b pgx.Batch
	var rows []briefingRow
	var people []personRow
	var acknowledged []Acknowledgement
	args, of := pgx.StrictNamedArgs{"session": session, "only": only}, pgx.StrictNamedArgs{"session": session}
	pg.QueueRows(&b, &rows, briefingsSQL, args)
	pg.QueueRows(&b, &people, peopleSQL, args)
	pg.QueueRows(&b, &acknowledged, acknowledgedSQL, of)
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
		one, err := r.briefing(people, acknowledged)
		if err != nil {
			return nil, err
		}
		for _, o := range outdated {
			one.markOutdated(o)
		}
		out = append(out, one)
	}
	return out, nil
}

// markOutdated marks that what the briefing told a person counts no more, with the
// finding that says so.
func (b *Briefing) markOutdated(o readiness.ToldOtherwise) {
	i := slices.IndexFunc(b.People,
		func(p Person) bool { return b.ID == o.BriefingID && p.PersonID == o.PersonID })
	if i >= 0 {
		b.People[i].BriefedAt, b.People[i].Outdated = nil, true
		b.Findings = append(b.Findings, o.Finding())
	}
}

// briefing returns the briefing, with those of the people and acknowledgements that are
// its own.
func (r briefingRow) briefing(people []personRow, acknowledged []Acknowledgement) (Briefing, error) {
	c, err := readConvention(r.Convention)
	if err != nil {
		return Briefing{}, err
	}
	var content storedContent
	if err := json.Unmarshal(r.Content, &content); err != nil {
		return Briefing{}, fmt.Errorf("read briefing: %w", err)
	}
	out := Briefing{ID: r.ID, SessionID: r.SessionID, Session: r.Session, Site: r.Site, TimeZone: r.TimeZone,
		GivenBy: r.WitnessedBy, GivenName: r.GivenName, BriefedAt: r.WitnessedAt, RecordedAt: r.RecordedAt,
		RecordedBy: r.RecordedBy, VoidedAt: r.VoidedAt, VoidReason: r.VoidReason, Convention: c,
		Instructions: content.Instructions, Roles: content.Roles,
		Visibility: content.Conditions.Visibility, Current: content.Conditions.Current,
		Temperature: content.Conditions.Temperature, Emergency: content.Emergency, Note: content.Note,
		Findings: r.Findings}
	if out.InCharge, out.Dive = r.InCharge, r.Dive; out.Dive != nil {
		out.Dive.DiveID = r.DiveID
	}
	if r.CheckEveryS != nil {
		out.CheckEvery = cmp.Or(content.CheckEvery, new(units.Read(float64(*r.CheckEveryS), units.UnitSecond)))
	}
	for _, p := range people {
		if p.BriefingID != r.ID {
			continue
		}
		one, err := p.person(c, acknowledged)
		if err != nil {
			return out, err
		}
		out.People = append(out.People, one)
	}
	return out, nil
}

// person returns the person, with the acknowledgement that counts for them.
func (p personRow) person(c signal.Convention, acknowledged []Acknowledgement) (Person, error) {
	out := Person{PersonID: p.PersonID, Name: p.Name, ParticipantID: p.ParticipantID, GaugeUnit: p.GaugeUnit,
		BriefedAt: p.BriefedAt, Newest: p.Newest}
	for _, a := range acknowledged {
		own, counts := a.BriefingID == p.BriefingID, p.BriefedAt != nil && a.WitnessedAt.Equal(*p.BriefedAt)
		if a.PersonID == p.PersonID && (counts || own && out.Acknowledged == nil) {
			out.Acknowledged = &a
		}
	}
	for _, f := range p.Figures {
		one := shown(f, c.In(p.GaugeUnit))
		if f.DiveID != nil {
			if n, ok := p.Dives[*f.DiveID]; ok {
				one.DiveNumber = &n
			}
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

// shown returns a person's pressures as hands show them, in the unit of their gauge.
func shown(f storedFigures, c signal.Convention) Figures {
	figure := func(x *units.Reading, up bool) *Figure {
		if x == nil {
			return nil
		}
		out := &Figure{Given: *x}
		if s, found := show(c, out.Given, up); !found.Forbids() {
			out.Shown = &s
		}
		return out
	}
	return Figures{DiveID: f.DiveID, PlanID: f.PlanID, Start: figure(f.Start, false),
		Turn: figure(f.Turn, true), Low: figure(f.Low, true)}
}
