package sessions

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
)

// NewIncident is something that went wrong, as one of the crew saw it. It has
// no preconditions at all.
type NewIncident struct {
	Key          once.Key         `json:"Key"`
	OutingID     *uuid.UUID       `json:"OutingID"`  // of a water session
	SessionID    *uuid.UUID       `json:"SessionID"` // of theory, or the session meant
	What         string           `json:"What"`
	Actions      string           `json:"Actions"`
	OxygenFromAt *time.Time       `json:"OxygenFromAt"`
	OxygenToAt   *time.Time       `json:"OxygenToAt"`
	Called       string           `json:"Called"`    // who was called, when, and what they said
	EndsAlarm    bool             `json:"EndsAlarm"` // as it was said; it ends no alarm
	People       []IncidentPerson `json:"People"`
	WitnessedBy  *uuid.UUID       `json:"WitnessedBy"`
	WitnessedAt  time.Time        `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (n *NewIncident) Times() []*time.Time {
	out := []*time.Time{&n.WitnessedAt}
	for _, t := range []*time.Time{n.OxygenFromAt, n.OxygenToAt} {
		if t != nil {
			out = append(out, t)
		}
	}
	return out
}

// Digest implements journal.Item.
func (n NewIncident) Digest(uuid.UUID) []byte { return n.Key.Digest }

// Names implements journal.Item.
func (n NewIncident) Names() []journal.Ref {
	out := journal.Named(journal.APerson, n.WitnessedBy)
	for _, p := range n.People {
		out = append(out, journal.Ref{Kind: journal.APerson, ID: p.PersonID})
	}
	return out
}

// IncidentPerson is somebody concerned.
type IncidentPerson struct {
	PersonID uuid.UUID `json:"person_id"`
	Part     string    `json:"part"`
}

// Incident is an incident as it was recorded.
type Incident struct {
	ID           uuid.UUID
	OutingID     *uuid.UUID
	SessionID    *uuid.UUID
	What         string
	Actions      string
	OxygenFromAt *time.Time
	OxygenToAt   *time.Time
	Called       string
	EndsAlarm    bool
	People       []IncidentPerson
	WitnessedBy  uuid.UUID
	RecordedBy   *uuid.UUID
	WitnessedAt  time.Time
	RecordedAt   time.Time
	VoidedAt     *time.Time
}

const incidentColumns = `e.id, e.outing_id, e.session_id, i.what, i.actions, i.oxygen_from_at, i.oxygen_to_at, i.called, i.ends_alarm,
	COALESCE((SELECT jsonb_agg(jsonb_build_object('person_id', c.person_id, 'part', c.part) ORDER BY c.person_id)
		FROM incident_person c WHERE c.centre_id = i.centre_id AND c.incident_id = i.id), '[]') AS people,
	e.witnessed_by, e.recorded_by, e.witnessed_at, e.recorded_at, e.voided_at`

const incidentFrom = ` FROM incident i JOIN journal_entry e ON e.centre_id = i.centre_id AND e.id = i.id `

// RecordIncident records an incident of an outing or a session.
func (s *Service) RecordIncident(ctx context.Context, by actor.Actor, n NewIncident) (out Incident,
	created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, created, err = s.EnterIncident(ctx, by, tx, n)
		return err
	})
	return out, created, err
}

// EnterIncident is RecordIncident in the caller's transaction.
func (s *Service) EnterIncident(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewIncident) (out Incident,
	created bool, err error) {
	if err := placeIncident(ctx, tx, &n); err != nil {
		return out, false, err
	}
	seen, err := journal.Replay(ctx, tx, n.Key.ID, n.Key.Digest)
	if err != nil {
		return out, false, err
	}
	if !seen {
		if err := incidentOnce(ctx, by, tx, n); err != nil {
			return out, false, err
		}
	}
	out, err = pg.Row[Incident](ctx, tx, `SELECT `+incidentColumns+incidentFrom+
		`WHERE e.centre_id = app_centre() AND e.id = @id`,
		pgx.StrictNamedArgs{"id": n.Key.ID})
	return out, !seen, err
}

// placeIncident finds the outing of a session's incident, and checks that what
// it names is there.
func placeIncident(ctx context.Context, tx *pg.Tx, n *NewIncident) error {
	if n.SessionID != nil {
		row, err := findSession(ctx, tx, *n.SessionID)
		if err != nil {
			return err
		}
		n.OutingID = row.OutingID
		return nil
	}
	if n.OutingID != nil {
		_, err := findOuting(ctx, tx, *n.OutingID)
		return err
	}
	return fault.Invalid("/session_id", "An incident belongs to an outing or a session.")
}

func incidentOnce(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewIncident) error {
	if err := journal.CheckTime(tx.Now, n.WitnessedAt, "/witnessed_at"); err != nil {
		return err
	}
	witness, err := sawIncident(ctx, by, tx, n.WitnessedBy)
	if err != nil {
		return err
	}
	if err := peopleThere(ctx, tx, n.People); err != nil {
		return err
	}
	if err := journal.Record(ctx, by, tx,
		journal.Entry{ID: n.Key.ID, Kind: journal.Incident, Session: n.SessionID, Outing: n.OutingID,
			WitnessedBy: witness, WitnessedAt: n.WitnessedAt, Digest: n.Key.Digest}); err != nil {
		return err
	}
	if _, err := tx.Do(ctx, `INSERT INTO incident (centre_id, id, what, actions, oxygen_from_at, oxygen_to_at, called, ends_alarm)
		VALUES (app_centre(), @id, @what, @actions, @from, @to, @called, @ends)`,
		pgx.StrictNamedArgs{"id": n.Key.ID, "what": n.What, "actions": n.Actions, "from": n.OxygenFromAt,
			"to": n.OxygenToAt, "called": n.Called, "ends": n.EndsAlarm}); err != nil {
		return err
	}
	for i := range n.People {
		if _, err := tx.Do(ctx, `INSERT INTO incident_person (centre_id, incident_id, person_id, part) VALUES (app_centre(), @id, @person, @part)
			ON CONFLICT (centre_id, incident_id, person_id) DO NOTHING`,
			pgx.StrictNamedArgs{"id": n.Key.ID, "person": n.People[i].PersonID,
				"part": n.People[i].Part}); err != nil {
			return err
		}
	}
	return nil
}

// sawIncident returns who saw an incident: the caller unless said, one of the crew
// or a manager. What a student saw, whoever of the crew heard it reports.
func sawIncident(ctx context.Context, by actor.Actor, tx *pg.Tx, said *uuid.UUID) (uuid.UUID, error) {
	who, err := counter(ctx, by, tx, said, "/witnessed_by")
	if err != nil || said == nil {
		return who, err
	}
	staff, err := pg.Row[bool](ctx, tx,
		`SELECT roles && ARRAY['manager', 'instructor', 'assistant'] FROM people_person
		WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": who})
	if err == nil && !staff {
		err = fault.UnknownReference("crew of the centre, nor a manager", "/witnessed_by")
	}
	return who, err
}

// peopleThere insists that the people of an incident are there.
func peopleThere(ctx context.Context, tx *pg.Tx, people []IncidentPerson) error {
	ids := make([]uuid.UUID, len(people))
	for i, p := range people {
		ids[i] = p.PersonID
	}
	there, err := pg.Rows[uuid.UUID](ctx, tx,
		`SELECT id FROM people_person WHERE centre_id = app_centre() AND id = ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids})
	if err != nil {
		return err
	}
	for i, id := range ids {
		if !slices.Contains(there, id) {
			return fault.UnknownReference("person", fmt.Sprintf("/people/%d/person_id", i))
		}
	}
	return nil
}

// Incidents lists the incidents of an outing, or of a session, in their order.
func (s *Service) Incidents(ctx context.Context, by actor.Actor, outing, session *uuid.UUID) (out []Incident,
	err error) {
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := placeIncident(ctx, tx, &NewIncident{OutingID: outing, SessionID: session}); err != nil {
			return err
		}
		out, err = pg.Rows[Incident](ctx, tx, `SELECT `+incidentColumns+incidentFrom+`
			WHERE e.centre_id = app_centre() AND (e.outing_id = @outing OR e.session_id = @session) ORDER BY e.witnessed_at, e.id`,
			pgx.StrictNamedArgs{"outing": outing, "session": session})
		return err
	})
	return out, err
}

// Entries lists the headers of what was witnessed in a session, in the order in
// which it was witnessed, in the caller's transaction, for package desk; kinds
// narrows it.
func (s *Service) Entries(ctx context.Context, tx *pg.Tx, session uuid.UUID, kinds []string,
	p page.Request) (out []journal.Head, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"session": session, "kinds": kinds}
	cond, order, err := p.SQL(page.Column{Name: "witnessed_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	if _, err := findSession(ctx, tx, session); err != nil {
		return nil, nil, err
	}
	rows, err := pg.Rows[journal.Head](ctx, tx, `SELECT `+journal.Columns+
		` FROM journal_entry e WHERE e.centre_id = app_centre()
		AND e.session_id = @session AND (@kinds::text[] IS NULL OR e.kind = ANY (@kinds)) AND `+cond+` `+order, args)
	if err != nil {
		return nil, nil, err
	}
	out, next = page.Cut(p, rows, func(h journal.Head) page.Place { return page.At(h.WitnessedAt, h.ID) })
	return out, next, nil
}
