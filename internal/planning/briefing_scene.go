package planning

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
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// briefingScene is what a briefing is given on: a session, its site and
// conditions, who takes part, and the pressures of confirmed plans.
type briefingScene struct {
	session briefingSession
	parts   []briefingPart
	people  map[uuid.UUID]briefingPart // parts, and whom else the briefing names
	plans   []dayview.Plan
	dives   []uuid.UUID
}

type briefingSession struct {
	ID        uuid.UUID
	Emergency *string
	briefedWater
}

// briefingPart is somebody of a session, or somebody who has no part in it.
type briefingPart struct {
	ID        *uuid.UUID // of the participant
	PersonID  uuid.UUID
	Name      string
	GaugeUnit units.Unit
	BirthOn   time.Time
	Crew      bool
	InCharge  bool // of a group
	Counted   bool
	Manager   bool
}

// readBriefingScene reads what a briefing of a session is given on; others are persons
// whom it names without a part.
func readBriefingScene(ctx context.Context, tx *pg.Tx, session uuid.UUID, others []uuid.UUID) (briefingScene,
	error) {
	var b pgx.Batch
	rows := dayview.Query{Sessions: []uuid.UUID{session}, Also: others,
		Want: dayview.People | dayview.Told}.Queue(&b)
	if err := tx.Send(ctx, &b); err != nil {
		return briefingScene{}, fmt.Errorf("read what a briefing is given on: %w", err)
	}
	v, err := rows.View()
	return sceneOf(v), err
}

// sceneOf returns the scene of a session: crew first, then students, by name.
func sceneOf(v dayview.View) briefingScene {
	out := briefingScene{session: briefingSession{ID: v.ID, Emergency: v.Site.Emergency,
		briefedWater: waterBriefed(v.Water)},
		people: make(map[uuid.UUID]briefingPart, len(v.People)), plans: v.Record()}
	for _, d := range v.Dives {
		out.dives = append(out.dives, d.ID)
	}
	for id, person := range v.People {
		one := briefingPart{PersonID: id, Name: person.Name, GaugeUnit: person.GaugeUnit,
			BirthOn: person.BirthOn, Manager: person.Is("manager")}
		if p, takesPart := v.PartOf(id); takesPart {
			one.ID, one.GaugeUnit, one.Crew, one.InCharge, one.Counted = &p.ID, p.GaugeUnit, p.Role != dayview.Student, p.Role == dayview.InCharge, p.Counted
			out.parts = append(out.parts, one)
		}
		out.people[id] = one
	}
	slices.SortFunc(out.parts, func(a, b briefingPart) int {
		return cmp.Or(-cmp.Compare(number(a.Crew), number(b.Crew)), strings.Compare(a.Name, b.Name),
			slices.Compare(a.PersonID[:], b.PersonID[:]))
	})
	return out
}

func number(b bool) int {
	if b {
		return 1
	}
	return 0
}

// witness returns who gave a briefing, or saw somebody acknowledge it: the caller
// unless said. Only crew of the session, or a manager, can have.
func (b briefingScene) witness(ctx context.Context, by actor.Actor, tx *pg.Tx, said *uuid.UUID,
	pointer string) (uuid.UUID, error) {
	saw := by.Person
	if said != nil {
		saw = *said
	}
	if saw == uuid.Nil {
		return saw, fault.Invalid(pointer, "Say who it was; a program gave and saw nothing itself.")
	}
	if b.people[saw].Crew || b.people[saw].Manager || saw == by.Person && by.Is(actor.Manager) {
		return saw, nil
	}
	manager, err := pg.Row[bool](ctx, tx,
		`SELECT EXISTS (SELECT FROM people_person WHERE centre_id = app_centre() AND id = @id AND 'manager' = ANY (roles))`,
		pgx.StrictNamedArgs{"id": saw})
	if err == nil && !manager {
		err = fault.UnknownReference("crew of this session, nor a manager", pointer)
	}
	return saw, err
}

// has refuses a dive that is not of the session.
func (b briefingScene) has(dive *uuid.UUID) error {
	if dive != nil && !slices.Contains(b.dives, *dive) {
		return fault.UnknownReference("dive of this session", "/dive/dive_id")
	}
	return nil
}

// briefed is one person of a briefing as it is written.
type briefed struct {
	PersonID  uuid.UUID
	Said      []said       // the pressures that the briefing itself tells them
	Told      finding.List // what forbids these
	GaugeUnit units.Unit
	Figures   []storedFigures
	Trained   *signal.Convention // what they were trained in, as far as anybody said; the agreed one too
}

// storedFigures are Figures as they are stored: as given. How they are shown
// follows from the convention and the gauge.
type storedFigures = dayview.Figures

// brief returns everybody with their figures, and what speaks against them.
func (b briefingScene) brief(ctx context.Context, tx *pg.Tx, n NewBriefing, c signal.Convention) ([]briefed,
	finding.List, error) {
	people := n.People
	if len(people) == 0 {
		for _, p := range b.parts {
			if p.Counted {
				people = append(people, NewBriefed{PersonID: p.PersonID})
			}
		}
	}
	trained, err := trainedIn(ctx, tx, people, n.BriefedAt)
	if err != nil {
		return nil, nil, err
	}
	var out []briefed
	j := briefingJudge{session: b.session.ID}
	for i, x := range people {
		p, ok := b.people[x.PersonID]
		if !ok {
			return nil, nil, fault.UnknownReference("person", fmt.Sprintf("/people/%d/person_id", i))
		}
		one := briefed{PersonID: p.PersonID, GaugeUnit: p.GaugeUnit}
		one.Figures, one.Said = b.figures(p, x.Pressures, n, &j)
		if x.Knows != nil {
			known, err := agreed(ctx, tx, *x.Knows, fmt.Sprintf("/people/%d/knows", i))
			if err != nil {
				return nil, nil, err
			}
			one.Trained = &known
		} else if known, said := trained[p.PersonID]; said {
			one.Trained = &known
		}
		if one.Trained != nil && one.Trained.Code != c.Code {
			j.knowsOther(p, c, *one.Trained)
		}
		out = append(out, one)
	}
	return out, j.findings(), nil
}

// trainedIn returns what people were trained in, by the newest briefing until then
// that says so of each: once said it need not be said again.
func trainedIn(ctx context.Context, tx *pg.Tx, people []NewBriefed,
	at time.Time) (map[uuid.UUID]signal.Convention, error) {
	ids := make([]uuid.UUID, len(people))
	for i, p := range people {
		ids[i] = p.PersonID
	}
	rows, err := pg.Rows[struct {
		PersonID uuid.UUID
		Knows    []byte
	}](ctx, tx, `SELECT DISTINCT ON (x.person_id) x.person_id, x.knows FROM briefing_person x
		JOIN journal_entry e ON e.centre_id = x.centre_id AND e.id = x.briefing_id
		WHERE x.centre_id = app_centre() AND x.person_id = ANY (@ids) AND x.knows IS NOT NULL AND e.voided_at IS NULL AND e.witnessed_at <= @at
		ORDER BY x.person_id, e.witnessed_at DESC, e.id`, pgx.StrictNamedArgs{"ids": ids, "at": at})
	out := make(map[uuid.UUID]signal.Convention, len(rows))
	for _, r := range rows {
		if out[r.PersonID], err = readConvention(r.Knows); err != nil {
			return nil, err
		}
	}
	return out, err
}

// said is pressures that a briefing itself tells somebody, as they count together
// with what a plan says.
type said struct {
	PlanID *uuid.UUID // the plan of which they change something
	Pressures
}

// figures returns somebody's pressures, and those among them that the briefing
// itself tells: of each confirmed plan, each figure that the briefing says
// otherwise replaced; without a plan as the briefing says. What a briefing about
// one dive says changes nothing of a plan for another.
func (b briefingScene) figures(p briefingPart, own Pressures, n NewBriefing,
	j *briefingJudge) (out []storedFigures, told []said) {
	dive, covered := n.Dive.DiveID, 0
	add := func(of, plan *uuid.UUID, x Pressures) {
		out = append(out, storedFigures{DiveID: of, PlanID: plan, Start: dayview.FigureOf(x.Start),
			Turn: dayview.FigureOf(x.Turn), Low: dayview.FigureOf(x.Low)})
	}
	for _, plan := range b.plansOf(p) {
		planned, of := plan.Pressures(), plan.DiveID
		if about := b.counts(p, plan, dive); !about || own == (Pressures{}) {
			add(of, &plan.PlanID, planned)
			covered += b.covers(plan, dive, about)
			continue
		}
		if of == nil && dive != nil { // of the plan for every dive only this one is changed
			add(nil, &plan.PlanID, planned)
			of = dive
		}
		j.below(p, planned, own)
		x := orElse(own, planned)
		add(of, &plan.PlanID, x)
		told = append(told, said{&plan.PlanID, x})
		covered += b.covers(plan, dive, true)
	}
	if covered >= max(1, len(b.dives)) {
		return out, told
	}
	x := orElse(own, n.Pressures)
	if covered == 0 {
		j.unplanned(p, x)
	}
	if x == (Pressures{}) {
		return append([]storedFigures{}, out...), told
	}
	add(dive, nil, x)
	return out, append(told, said{Pressures: x})
}

// plansOf returns the plans of record of somebody who takes part.
func (b briefingScene) plansOf(p briefingPart) (out []dayview.Plan) {
	for _, plan := range b.plans {
		if p.ID != nil && plan.ParticipantID == *p.ID {
			out = append(out, plan)
		}
	}
	return out
}

// counts reports whether a plan is the one that counts for what a briefing is
// about: a dive, or with nil any.
func (b briefingScene) counts(p briefingPart, plan dayview.Plan, dive *uuid.UUID) bool {
	if dive == nil || plan.DiveID != nil {
		return dive == nil || *plan.DiveID == *dive
	}
	return !slices.ContainsFunc(b.plansOf(p),
		func(x dayview.Plan) bool { return x.DiveID != nil && *x.DiveID == *dive })
}

// covers returns for how many of the dives that a briefing is about a plan tells
// the pressures: for all, for one, or for none.
func (b briefingScene) covers(plan dayview.Plan, dive *uuid.UUID, counts bool) int {
	switch {
	case !counts:
		return 0
	case dive != nil || plan.DiveID == nil:
		return max(1, len(b.dives))
	}
	return 1
}

// orElse fills in what is not said.
func orElse(p, otherwise Pressures) Pressures {
	or := func(a, b *units.Reading) *units.Reading {
		if a == nil {
			return b
		}
		return a
	}
	return Pressures{Start: or(p.Start, otherwise.Start), Turn: or(p.Turn, otherwise.Turn),
		Low: or(p.Low, otherwise.Low)}
}

// concern is all that a briefing says to one person, figures as they are shown:
// whoever acknowledged it need not hear it again while it stays the same.
// Conditions and the note are left out: they tell of the day, and bind nobody;
// so is what a person knows.
type concern struct {
	Convention conventionContent
	EveryS     *int
	Words      BriefingWords
	Roles      []BriefingRole
	Emergency  *string
	Gauge      units.Unit
	Figures    []storedFigures
	Dive       *NewBriefedDive `json:",omitempty"` // nil where the briefing names none, as before it could
}

func (w briefingWrite) concern(p briefed) []byte {
	c := asStored(w.convention)
	c.Name, c.Note = "", ""
	figures := make([]storedFigures, len(p.Figures))
	for i, f := range p.Figures {
		shown := f.Pressures().OnHand(p.GaugeUnit)
		// The same figures of another plan change nothing.
		figures[i] = storedFigures{DiveID: f.DiveID, Start: dayview.FigureOf(shown.Start),
			Turn: dayview.FigureOf(shown.Turn), Low: dayview.FigureOf(shown.Low)}
	}
	all := concern{c, w.every, w.content.BriefingWords, w.content.Roles, w.content.Emergency, p.GaugeUnit,
		figures, nil}
	if about := w.about; about != (NewBriefedDive{}) {
		about.Cylinder = nil // what it was judged by, and nothing that is agreed
		all.Dive = &about
	}
	return journal.DigestOf(all)
}

// briefingWrite is a briefing about to be written.
type briefingWrite struct {
	id, session, giver uuid.UUID
	digest             []byte
	at                 time.Time
	convention         signal.Convention
	every              *int
	content            briefingContent
	people             []briefed
	heard              []NewAcknowledgement
	found              finding.List
	inCharge           bool
	about              NewBriefedDive
	dive               *BriefedDive
}
