package briefings

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/planview"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// usualTime is the time of a dive where neither the briefing nor the syllabus has one:
// 20 min, our choice.
var usualTime = gasplan.Quantity{Value: 20, Unit: string(units.UnitMinute)}

// pressureReview judges the pressures that a briefing itself tells.
type pressureReview struct {
	session sessionSnapshot
	view    planview.Session
	centre  gasplan.CentreGas
	dive    Dive            // by which they are judged
	people  []briefedPerson // whose Forbidden is set
}

// reviewPressures judges the pressures that a briefing itself tells, as a plan's are
// judged, and sets what forbids each person's. It returns the dive that they were judged
// by, nil where the briefing tells no pressures and names no dive, and the findings.
func (s *Service) reviewPressures(ctx context.Context, tx *pg.Tx, session sessionSnapshot, n NewBriefing,
	people []briefedPerson) (*Dive, finding.List, error) {
	r := pressureReview{session: session, people: people, dive: n.Dive.named()}
	if !slices.ContainsFunc(people, func(p briefedPerson) bool { return len(p.Own) > 0 }) {
		if n.Dive == (NewDive{}) {
			return nil, nil, nil
		}
		return &r.dive, nil, nil
	}
	var err error
	if r.view, err = s.sessions.Read(ctx, tx, n.SessionID); err != nil {
		return nil, nil, err
	}
	if r.centre, err = planview.CentreGas(ctx, tx); err != nil {
		return nil, nil, err
	}
	r.setAssumed()
	found, err := r.judgeWithoutPlan(ctx, tx)
	if err != nil {
		return nil, nil, err
	}
	byPlan, err := r.judgeByPlans(ctx, tx)
	return &r.dive, slices.Concat(found, byPlan), err
}

// named returns the dive as far as the briefing names it.
func (d NewDive) named() Dive {
	out := Dive{DiveID: d.DiveID, Depth: d.Depth, PlannedTime: d.PlannedTime, Named: []string{}}
	if d.Cylinder != nil {
		out.Cylinder = new(d.Cylinder.Filled())
	}
	for _, x := range []struct {
		name  string
		named bool
	}{{"depth", d.Depth != nil}, {"planned_time", d.PlannedTime != nil}, {"cylinder", d.Cylinder != nil}} {
		if x.named {
			out.Named = append(out.Named, x.name)
		}
	}
	return out
}

// setAssumed sets what the briefing does not name of the dive. The depth stays nil where
// none is known.
func (r *pressureReview) setAssumed() {
	d := &r.dive
	if d.Depth == nil {
		d.Depth = r.view.GreatestDepth(d.DiveID)
	}
	if d.PlannedTime == nil {
		d.PlannedTime = &usualTime
		if least := r.view.LeastTime(d.DiveID); least != nil && gasplan.Less(usualTime, *least, units.Times) {
			d.PlannedTime = least
		}
	}
	if d.Cylinder == nil {
		d.Cylinder = new(r.centre.Smallest())
	}
}

// judgeWithoutPlan judges the pressures of people for whom there is no plan, by one that
// is made of the briefing's dive. All divers are judged together, since gas is shared
// within a group.
func (r *pressureReview) judgeWithoutPlan(ctx context.Context, tx *pg.Tx) (finding.List, error) {
	var told []int // indices into people
	for i, p := range r.people {
		if slices.ContainsFunc(p.Own, func(x ownPressures) bool { return x.PlanID == nil }) {
			told = append(told, i)
		}
	}
	switch {
	case len(told) == 0 || r.view.Kind == ratio.Theory:
		return nil, nil
	case r.dive.Depth == nil:
		return r.notJudged(told,
			"No depth is known: neither the briefing nor the syllabus nor the site says one."), nil
	}
	a := r.request()
	in := r.view.Input(a)
	plan, err := gasplan.Compute(in)
	if err == nil {
		if in, err = r.view.WithPast(ctx, tx, in, a, plan); err == nil {
			plan, err = gasplan.Compute(in)
		}
	}
	var f *fault.Fault
	if errors.As(err, &f) && f.Kind == fault.Malformed {
		return r.notJudged(told, f.Message), nil
	}
	if err != nil {
		return nil, err
	}
	out := finding.List{r.assumptions(told)}
	for _, x := range r.aboutDive(plan) {
		out = append(out, r.assign(x, told)...)
	}
	for _, i := range told {
		for _, x := range r.people[i].Own {
			if x.PlanID == nil {
				out = append(out, r.judge(&r.people[i], plan, x)...)
			}
		}
	}
	return out, nil
}

// judgeByPlans judges the pressures that a briefing tells otherwise than a confirmed
// plan, by what that plan knows of the dive and the cylinder.
func (r *pressureReview) judgeByPlans(ctx context.Context, tx *pg.Tx) (out finding.List, err error) {
	plans := map[uuid.UUID]gasplan.Computed{}
	for i := range r.people {
		for _, x := range r.people[i].Own {
			if x.PlanID == nil {
				continue
			}
			plan, known := plans[*x.PlanID]
			if !known {
				if plan, err = planview.Computed(ctx, tx, *x.PlanID); err != nil {
					return nil, err
				}
				plans[*x.PlanID] = plan
			}
			out = append(out, r.judge(&r.people[i], plan, x)...)
		}
	}
	return out, nil
}

// judge returns the findings about pressures of a person, by a computed plan in which
// they are a diver, and sets those that forbid them. It returns none for a person who is
// not in the plan.
func (r *pressureReview) judge(p *briefedPerson, plan gasplan.Computed, x ownPressures) finding.List {
	at := slices.IndexFunc(plan.Input().Divers, func(v gasplan.DiverInput) bool {
		return v.ParticipantID != nil && *v.ParticipantID == r.diverID(p.PersonID)
	})
	if at < 0 {
		return nil
	}
	told := x.told()
	found := plan.Plan().JudgeTold(at, told, r.floor(cmp.Or(told.Low.Unit, p.GaugeUnit)))
	for i := range found {
		found[i].Subjects = r.subjects(p.PersonID)
	}
	p.Forbidden = append(p.Forbidden, found.Only(finding.Forbidden)...)
	return found
}

// told returns the pressures as the rules take them, zero where none was told.
func (x ownPressures) told() (t gas.ToldPressures) {
	for _, y := range []struct {
		to   *units.Reading
		from *units.Reading
	}{{&t.Start, x.Start}, {&t.Turn, x.Turn}, {&t.Low, x.Low}} {
		if y.from != nil {
			*y.to = *y.from
		}
	}
	return t
}

// floor returns the pressure below which nobody stays in that water, in the unit of a
// gauge.
func (r *pressureReview) floor(gauge units.Unit) units.Reading {
	return r.centre.Floors().For(r.view.Kind == ratio.Confined, gauge)
}

// aboutDive returns the findings of the rule books about the dive, as far as the
// briefing names what they judge: none about an assumed depth being too deep, none about
// time where the depth or the time is assumed, none about a start that was not told.
func (r *pressureReview) aboutDive(plan gasplan.Computed) (out finding.List) {
	named := func(what string) bool { return slices.Contains(r.dive.Named, what) }
	for _, f := range plan.Findings() {
		switch {
		case !strings.HasPrefix(f.Rule, "gas."):
			if named("depth") && named("planned_time") {
				out = append(out, f)
			}
		case slices.Contains(depthRules, f.Rule) && !named("depth"),
			slices.Contains(startRules, f.Rule) && !r.startTold(f):
		default:
			out = append(out, f)
		}
	}
	return out
}

// The rules about the depth of a dive, and those about the gas at its start.
var (
	depthRules = []string{gas.DepthOverSite.ID, gas.DepthOverPerson.ID, gas.OxygenOverLimit.ID,
		gas.OxygenTooLong.ID}
	startRules = []string{gas.StartAtLowGas.ID, gas.TimeBelowLeast.ID, gas.TimeBelowPlanned.ID,
		gas.EndBelow50.ID, gas.OverFilled.ID}
)

// startTold reports whether a person whom a finding is about was told a start.
func (r *pressureReview) startTold(f finding.Finding) bool {
	return slices.ContainsFunc(r.people, func(p briefedPerson) bool {
		return isAbout(f, r.diverID(p.PersonID)) &&
			slices.ContainsFunc(p.Own, func(x ownPressures) bool { return x.Start != nil })
	})
}

// isAbout reports whether an id is among the subjects of a finding.
func isAbout(f finding.Finding, id uuid.UUID) bool {
	return slices.ContainsFunc(f.Subjects, func(x finding.Subject) bool { return x.ID == id.String() })
}

// assign makes those who were told pressures the subjects of a finding about the dive,
// all or the one whom it is about, and adds a forbidding one to theirs. It returns none
// for a finding about another person.
func (r *pressureReview) assign(f finding.Finding, told []int) finding.List {
	all := len(f.Subjects) == 0
	var subjects []finding.Subject
	for _, i := range told {
		p := &r.people[i]
		if !all && !isAbout(f, r.diverID(p.PersonID)) {
			continue
		}
		subjects = append(subjects, r.subjects(p.PersonID)...)
		if f.Severity == finding.Forbidden {
			own := f
			own.Subjects = r.subjects(p.PersonID)
			p.Forbidden = append(p.Forbidden, own)
		}
	}
	if len(subjects) == 0 {
		return nil
	}
	f.Subjects = subjects
	return finding.List{f}
}

// notJudged forbids pressures that cannot be judged.
func (r *pressureReview) notJudged(told []int, because string) finding.List {
	f := ToldNotJudged.Say("The pressures that the briefing tells were not judged and do not count. {because}",
		because)
	f.Cures = []finding.Cure{{Code: "name_dive",
		Message: "Brief again and name the dive, its depth and its time."}}
	return r.assign(f, told)
}

// assumptions returns the finding that says what the told pressures were judged by.
func (r *pressureReview) assumptions(told []int) finding.Finding {
	assumed := func(name, because string) string {
		if slices.Contains(r.dive.Named, name) {
			return ""
		}
		return because
	}
	cylinder := ", the program's own choice"
	if r.centre.SmallestCylinder != nil {
		cylinder = ", the smallest that the centre has set"
	}
	f := ToldAssumed.Say("Judged for two people on one cylinder of {cylinder}, from {depth} and after {time}, at the rate learned of each person or the novice's.",
		r.dive.Cylinder.Words()+assumed("cylinder", cylinder),
		r.dive.Depth.Reading().String()+assumed("depth", ", the greatest depth that the dive may have"),
		r.dive.PlannedTime.Reading().String()+assumed("planned_time", ", since the briefing names no time"))
	for _, i := range told {
		f.Subjects = append(f.Subjects, r.subjects(r.people[i].PersonID)...)
	}
	return f
}

// giverNotInCharge returns the finding that the pressures of a briefing do not count for
// opening the session, none where it tells no pressures.
func giverNotInCharge(session uuid.UUID, people []briefedPerson) finding.List {
	if !slices.ContainsFunc(people, func(p briefedPerson) bool { return len(p.Own) > 0 }) {
		return nil
	}
	f := ToldNotInCharge.Of("Who gave the briefing is in charge of no group of this session, so the pressures that it tells do not count for opening it.",
		finding.Subject{Type: "session", ID: session.String()})
	f.Cures = []finding.Cure{{Code: "brief_in_charge",
		Message: "Let an instructor in charge tell the pressures in a briefing, or confirm a plan."}}
	return finding.List{f}
}
