package briefings

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// briefedPerson is one person of a briefing that is to be written.
type briefedPerson struct {
	PersonID  uuid.UUID
	GaugeUnit units.Unit
	Figures   []storedFigures
	Own       []ownPressures     // those among Figures that the briefing itself tells
	Forbidden finding.List       // what forbids these
	Trained   *signal.Convention // that the person was trained in, as far as known; the agreed one too
}

// storedFigures are pressures as they are stored: as told. How they are shown follows
// from the convention and the gauge.
type storedFigures = dayview.Figures

// ownPressures are pressures that a briefing itself tells a person, with those that the
// plan adds to them.
type ownPressures struct {
	PlanID *uuid.UUID // the plan that they differ from; nil: there is none
	Pressures
}

// brief returns the people of a briefing with their pressures, and the findings about
// them. Fault: unknown_reference for a person or a convention.
func (s sessionSnapshot) brief(ctx context.Context, tx *pg.Tx, n NewBriefing,
	c signal.Convention) ([]briefedPerson, finding.List, error) {
	people := n.People
	if len(people) == 0 {
		for _, p := range s.takingPart {
			if p.Counted {
				people = append(people, NewPerson{PersonID: p.PersonID})
			}
		}
	}
	trained, err := trainedIn(ctx, tx, people, n.BriefedAt)
	if err != nil {
		return nil, nil, err
	}
	var out []briefedPerson
	var found peopleFindings
	for i, x := range people {
		p, ok := s.people[x.PersonID]
		if !ok {
			return nil, nil, fault.UnknownReference("person", fmt.Sprintf("/people/%d/person_id", i))
		}
		one := briefedPerson{PersonID: p.PersonID, GaugeUnit: p.GaugeUnit}
		one.Figures, one.Own = s.figures(p, x.Pressures, n, &found)
		if x.Knows != nil {
			known, err := namedConvention(ctx, tx, *x.Knows, fmt.Sprintf("/people/%d/knows", i))
			if err != nil {
				return nil, nil, err
			}
			one.Trained = &known
		} else if known, ok := trained[p.PersonID]; ok {
			one.Trained = &known
		}
		if one.Trained != nil && one.Trained.Code != c.Code {
			found.addTrainedElsewhere(p, c, *one.Trained)
		}
		out = append(out, one)
	}
	return out, found.list(), nil
}

// trainedIn returns the conventions that people were trained in, by person: as the
// newest briefing until an instant has it that names one for them.
func trainedIn(ctx context.Context, tx *pg.Tx, people []NewPerson,
	at time.Time) (map[uuid.UUID]signal.Convention, error) {
	ids := make([]uuid.UUID, len(people))
	for i, p := range people {
		ids[i] = p.PersonID
	}
	rows, err := pg.Rows[struct {
		PersonID uuid.UUID
		Knows    []byte
	}](ctx, tx, `
		SELECT DISTINCT ON (x.person_id) x.person_id, x.knows
		FROM briefing_person x
		JOIN journal_entry e ON e.centre_id = x.centre_id AND e.id = x.briefing_id
		WHERE x.centre_id = app_centre()
			AND x.person_id = ANY (@ids)
			AND x.knows IS NOT NULL
			AND e.voided_at IS NULL
			AND e.witnessed_at <= @at
		ORDER BY x.person_id, e.witnessed_at DESC, e.id`, pgx.StrictNamedArgs{"ids": ids, "at": at})
	out := make(map[uuid.UUID]signal.Convention, len(rows))
	for _, r := range rows {
		if out[r.PersonID], err = readConvention(r.Knows); err != nil {
			return nil, err
		}
	}
	return out, err
}

// figures returns the pressures of a person, and those among them that the briefing
// itself tells; own are those that it tells this person. From a confirmed plan come the
// pressures that the briefing does not tell otherwise, without a plan all are the
// briefing's. A briefing about one dive changes nothing of a plan for another.
func (s sessionSnapshot) figures(p snapshotPerson, own Pressures, n NewBriefing,
	found *peopleFindings) (out []storedFigures, told []ownPressures) {
	dive, covered := n.Dive.DiveID, 0
	add := func(of, plan *uuid.UUID, x Pressures) {
		out = append(out, storedFigures{DiveID: of, PlanID: plan, Start: x.Start, Turn: x.Turn,
			Low: x.Low})
	}
	for _, plan := range s.plansOf(p) {
		planned, of, applies := plan.Pressures(), plan.DiveID, s.appliesTo(p, plan, dive)
		if applies {
			covered += s.covered(plan, dive)
		}
		if !applies || own == (Pressures{}) {
			add(of, &plan.PlanID, planned)
			continue
		}
		if of == nil && dive != nil { // of the plan for every dive only this one is changed
			add(nil, &plan.PlanID, planned)
			of = dive
		}
		found.addBelowPlan(p, planned, own)
		x := withDefaults(own, planned)
		add(of, &plan.PlanID, x)
		told = append(told, ownPressures{&plan.PlanID, x})
	}
	if covered >= max(1, len(s.dives)) {
		return out, told
	}
	x := withDefaults(own, n.Pressures)
	if covered == 0 {
		found.addUnplanned(p, x)
	}
	if x == (Pressures{}) {
		return append([]storedFigures{}, out...), told
	}
	add(dive, nil, x)
	return out, append(told, ownPressures{Pressures: x})
}

// withDefaults returns pressures with others in the place of those that are nil.
func withDefaults(p, defaults Pressures) Pressures {
	return Pressures{Start: cmp.Or(p.Start, defaults.Start), Turn: cmp.Or(p.Turn, defaults.Turn),
		Low: cmp.Or(p.Low, defaults.Low)}
}
