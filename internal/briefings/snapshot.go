package briefings

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// sessionSnapshot is the session of a briefing: its site and conditions, its people, and
// the pressures of confirmed plans.
type sessionSnapshot struct {
	id         uuid.UUID
	emergency  *string // of the site
	conditions conditions
	takingPart []snapshotPerson             // crew first, then students, by name
	people     map[uuid.UUID]snapshotPerson // takingPart, and others whom the briefing names
	plans      []dayview.Plan               // of record
	dives      []uuid.UUID
}

// snapshotPerson is a person whom a briefing may name.
type snapshotPerson struct {
	ParticipantID *uuid.UUID // nil for a person without a part in the session
	PersonID      uuid.UUID
	Name          string
	GaugeUnit     units.Unit
	BirthOn       time.Time
	Crew          bool
	InCharge      bool // of a group
	Counted       bool // is not absent and does not sit out
	Manager       bool
}

// subject returns the person as the subject of a finding.
func (p snapshotPerson) subject() finding.Subject {
	return finding.Subject{Type: "person", ID: p.PersonID.String()}
}

// named returns the person as a message names them.
func (p snapshotPerson) named() finding.Named { return finding.Person(p.PersonID, p.Name) }

// readSnapshot reads the session of a briefing; others are persons whom the briefing
// names, with or without a part in it. Fault: not_found.
func readSnapshot(ctx context.Context, tx *pg.Tx, session uuid.UUID, others []uuid.UUID) (sessionSnapshot,
	error) {
	var b pgx.Batch
	rows := dayview.Query{Sessions: []uuid.UUID{session}, Also: others,
		Want: dayview.People | dayview.Told}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return sessionSnapshot{}, fmt.Errorf("read the session of a briefing: %w", err)
	}
	v, err := rows.View()
	return snapshotOf(v), err
}

func snapshotOf(v dayview.View) sessionSnapshot {
	out := sessionSnapshot{id: v.ID, emergency: v.Site.Emergency, conditions: conditions(v.Water),
		people: make(map[uuid.UUID]snapshotPerson, len(v.People)), plans: v.Record()}
	for _, d := range v.Dives {
		out.dives = append(out.dives, d.ID)
	}
	for id, person := range v.People {
		one := snapshotPerson{PersonID: id, Name: person.Name, GaugeUnit: person.GaugeUnit,
			BirthOn: person.BirthOn, Manager: person.Is("manager")}
		if p, takesPart := v.PartOf(id); takesPart {
			one.ParticipantID, one.GaugeUnit, one.Counted = &p.ID, p.GaugeUnit, p.Counted
			one.Crew, one.InCharge = p.Role != dayview.Student, p.Role == dayview.InCharge
			out.takingPart = append(out.takingPart, one)
		}
		out.people[id] = one
	}
	slices.SortFunc(out.takingPart, snapshotPerson.compare)
	return out
}

// compare orders crew before students, then by name and id.
func (p snapshotPerson) compare(o snapshotPerson) int {
	if p.Crew != o.Crew {
		if p.Crew {
			return -1
		}
		return 1
	}
	return cmp.Or(strings.Compare(p.Name, o.Name), slices.Compare(p.PersonID[:], o.PersonID[:]))
}

// witness returns the person who gave a briefing or saw an acknowledgement: the one
// named, or else the caller. Faults: invalid_request for a program that names nobody;
// unknown_reference for a person who is neither crew of the session nor a manager.
func (s sessionSnapshot) witness(ctx context.Context, by actor.Actor, tx *pg.Tx, named *uuid.UUID,
	pointer string) (uuid.UUID, error) {
	id := by.Person
	if named != nil {
		id = *named
	}
	if id == uuid.Nil {
		return id, fault.Invalid(pointer, "Say who it was; a program gave and saw nothing itself.")
	}
	if s.people[id].Crew || s.people[id].Manager || id == by.Person && by.Is(actor.Manager) {
		return id, nil
	}
	manager, err := pg.Row[bool](ctx, tx, `
		SELECT EXISTS (
			SELECT
			FROM people_person
			WHERE centre_id = app_centre() AND id = @id AND 'manager' = ANY (roles))`,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !manager {
		err = fault.UnknownReference("crew of this session, nor a manager", pointer)
	}
	return id, err
}

// checkDive returns a fault for a dive that is not of the session.
func (s sessionSnapshot) checkDive(dive *uuid.UUID) error {
	if dive != nil && !slices.Contains(s.dives, *dive) {
		return fault.UnknownReference("dive of this session", "/dive/dive_id")
	}
	return nil
}

// plansOf returns the plans of record of a person.
func (s sessionSnapshot) plansOf(p snapshotPerson) (out []dayview.Plan) {
	for _, plan := range s.plans {
		if p.ParticipantID != nil && plan.ParticipantID == *p.ParticipantID {
			out = append(out, plan)
		}
	}
	return out
}

// appliesTo reports whether a person's plan is the one that counts for a dive, or for
// any dive if nil.
func (s sessionSnapshot) appliesTo(p snapshotPerson, plan dayview.Plan, dive *uuid.UUID) bool {
	if dive == nil || plan.DiveID != nil {
		return dive == nil || *plan.DiveID == *dive
	}
	return !slices.ContainsFunc(s.plansOf(p),
		func(x dayview.Plan) bool { return x.DiveID != nil && *x.DiveID == *dive })
}

// covered returns for how many of the dives that a briefing is about a plan that applies
// has the pressures.
func (s sessionSnapshot) covered(plan dayview.Plan, dive *uuid.UUID) int {
	if dive != nil || plan.DiveID == nil {
		return max(1, len(s.dives))
	}
	return 1
}
