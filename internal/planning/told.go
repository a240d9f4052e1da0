package planning

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gasplan"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// usualTime is how long a dive is taken to last where neither the briefing nor the
// syllabus says: 20 min, our choice.
var usualTime = gasplan.Quantity{Value: 20, Unit: string(units.UnitMinute)}

// unknownStart is the start of somebody who was told none: a full cylinder, 200
// bar, our choice. Nothing that depends on it is said of them.
var unknownStart = gasplan.Quantity{Value: 200, Unit: string(units.UnitBar)}

// toldCase is what the pressures that a briefing tells are judged by.
type toldCase struct {
	scene  briefingScene
	stage  planStage
	centre gasplan.CentreGas
	about  NewBriefedDive
	dive   BriefedDive
	people []briefed
}

// judgeTold judges the pressures that a briefing itself tells, as a plan's are
// judged, and puts down for each person what forbids theirs. It returns what they
// were judged by, nil where the briefing tells none and names no dive.
func (s *Service) judgeTold(ctx context.Context, tx *pg.Tx, b briefingScene, n NewBriefing,
	people []briefed) (*BriefedDive, finding.List, error) {
	c := toldCase{scene: b, about: n.Dive, people: people, dive: n.Dive.named()}
	if !slices.ContainsFunc(people, func(p briefed) bool { return len(p.Said) > 0 }) {
		if n.Dive == (NewBriefedDive{}) {
			return nil, nil, nil
		}
		return &c.dive, nil, nil
	}
	var err error
	if c.stage, err = s.readPlanStage(ctx, tx, n.SessionID); err != nil {
		return nil, nil, err
	}
	if c.centre, err = readCentreGas(ctx, tx); err != nil {
		return nil, nil, err
	}
	c.takeForGranted()
	found, err := c.judge(ctx, tx)
	if err != nil {
		return nil, nil, err
	}
	changed, err := c.judgeChanged(ctx, tx)
	return &c.dive, slices.Concat(found, changed), err
}

// named returns the dive as far as the briefing names it.
func (d NewBriefedDive) named() BriefedDive {
	out := BriefedDive{DiveID: d.DiveID, Depth: d.Depth, PlannedTime: d.PlannedTime, Named: []string{}}
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

// takeForGranted fills in what the briefing does not name of the dive.
func (c *toldCase) takeForGranted() {
	d := &c.dive
	if d.Depth == nil {
		d.Depth = c.stage.greatestDepth(d.DiveID)
	}
	if d.PlannedTime == nil {
		d.PlannedTime = &usualTime
		if least := c.stage.leastTime(d.DiveID); least != nil && gasplan.Less(usualTime, *least, units.Times) {
			d.PlannedTime = least
		}
	}
	if d.Cylinder == nil {
		d.Cylinder = new(c.centre.Smallest())
	}
}

// judge judges the pressures that are told where no plan says any. All who take
// part are looked at together, since gas is shared within a group.
func (c *toldCase) judge(ctx context.Context, tx *pg.Tx) (finding.List, error) {
	var told []int
	for i, p := range c.people {
		if slices.ContainsFunc(p.Said, func(x said) bool { return x.PlanID == nil }) {
			told = append(told, i)
		}
	}
	switch {
	case len(told) == 0 || c.stage.Kind == ratio.Theory:
		return nil, nil
	case c.dive.Depth == nil:
		return c.notJudged(told,
			"No depth is known: neither the briefing nor the syllabus nor the site says one."), nil
	}
	a := c.ask()
	in := c.stage.input(a)
	made, err := gasplan.Compute(in)
	if err == nil {
		if in, err = c.stage.withPast(ctx, tx, in, a, made); err == nil {
			made, err = gasplan.Compute(in)
		}
	}
	var f *fault.Fault
	if errors.As(err, &f) && f.Kind == fault.Malformed {
		return c.notJudged(told, f.Message), nil
	}
	if err != nil {
		return nil, err
	}
	out := finding.List{c.assumed(told)}
	for _, x := range c.ofDive(made) {
		out = append(out, c.keep(x, told)...)
	}
	for _, i := range told {
		out = append(out, c.judgeOne(made, i)...)
	}
	return out, nil
}

// judgeOne judges the pressures of one person as they are told.
func (c *toldCase) judgeOne(made gasplan.Computed, i int) (out finding.List) {
	p := &c.people[i]
	at := slices.IndexFunc(made.Input().Divers,
		func(v gasplan.DiverInput) bool { return *v.ParticipantID == c.key(*p) })
	for _, x := range p.Said {
		if x.PlanID == nil {
			out = append(out, c.pressures(p, made, at, x)...)
		}
	}
	return out
}

// pressures judges the pressures of somebody who is diver at of a plan.
func (c *toldCase) pressures(p *briefed, made gasplan.Computed, at int, x said) finding.List {
	t := x.told()
	found := made.Plan().JudgeTold(at, t, c.floor(cmp.Or(t.Low.Unit, p.GaugeUnit)))
	for i := range found {
		found[i].Subjects = c.subjects(*p)
	}
	p.Told = append(p.Told, found.Only(finding.Forbidden)...)
	return found
}

func (x said) told() (t gas.ToldPressures) {
	return gas.ToldPressures{Start: given(x.Start, units.Reading{}), Turn: given(x.Turn, units.Reading{}),
		Low: given(x.Low, units.Reading{})}
}

// floor returns the pressure below which nobody stays in that water, as a gauge
// shows it.
func (c *toldCase) floor(gauge units.Unit) units.Reading {
	return c.centre.Floors().For(c.stage.Kind == ratio.Confined, gauge)
}

// ofDive returns what the rule books say to the dive, as far as the briefing names
// what they judge: no limit of depth to a depth that was taken for granted, nothing
// about time without one, nor about a start that nobody told.
func (c *toldCase) ofDive(made gasplan.Computed) (out finding.List) {
	has := func(name string) bool { return slices.Contains(c.dive.Named, name) }
	for _, f := range made.Findings() {
		switch {
		case !strings.HasPrefix(f.Rule, "gas."):
			if has("depth") && has("planned_time") {
				out = append(out, f)
			}
		case slices.Contains(ofDepth, f.Rule) && !has("depth"), slices.Contains(ofStart, f.Rule) &&
			!c.startTold(f):
		default:
			out = append(out, f)
		}
	}
	return out
}

// The rules about how deep the dive goes, and those about the gas at its start.
var (
	ofDepth = []string{gas.DepthOverSite.ID, gas.DepthOverPerson.ID, gas.OxygenOverLimit.ID,
		gas.OxygenTooLong.ID}
	ofStart = []string{gas.StartAtLowGas.ID, gas.TimeBelowLeast.ID, gas.TimeBelowPlanned.ID, gas.EndBelow50.ID,
		gas.OverFilled.ID}
)

// startTold reports whether whoever a finding is about was told a start.
func (c *toldCase) startTold(f finding.Finding) bool {
	return slices.ContainsFunc(c.people, func(p briefed) bool {
		return isAbout(f, c.key(p)) && slices.ContainsFunc(p.Said, func(x said) bool { return x.Start != nil })
	})
}

// isAbout reports whether a thing is among the subjects of a finding.
func isAbout(f finding.Finding, id uuid.UUID) bool {
	return slices.ContainsFunc(f.Subjects, func(x finding.Subject) bool { return x.ID == id.String() })
}

// keep puts a finding of the dive down for those whom it is about, and makes them
// its subjects: one person, or all who were told pressures. It returns none for a
// finding about somebody else.
func (c *toldCase) keep(f finding.Finding, told []int) finding.List {
	all := len(f.Subjects) == 0
	var subjects []finding.Subject
	for _, i := range told {
		p := &c.people[i]
		if !all && !isAbout(f, c.key(*p)) {
			continue
		}
		subjects = append(subjects, c.subjects(*p)...)
		if f.Severity == finding.Forbidden {
			own := f
			own.Subjects = c.subjects(*p)
			p.Told = append(p.Told, own)
		}
	}
	if len(subjects) == 0 {
		return nil
	}
	f.Subjects = subjects
	return finding.List{f}
}

// notJudged forbids pressures that nothing can be worked out from.
func (c *toldCase) notJudged(told []int, because string) finding.List {
	f := ToldNotJudged.Say("The pressures that the briefing tells were not judged and do not count. {because}",
		because)
	f.Cures = []finding.Cure{{Code: "name_dive",
		Message: "Brief again and name the dive, its depth and its time."}}
	return c.keep(f, told)
}

// assumed returns what the told pressures were judged by.
func (c *toldCase) assumed(told []int) finding.Finding {
	taken := func(name, because string) string {
		if slices.Contains(c.dive.Named, name) {
			return ""
		}
		return because
	}
	cylinder := ", the program's own choice"
	if c.centre.SmallestCylinder != nil {
		cylinder = ", the smallest that the centre has set"
	}
	f := ToldAssumed.Say("Judged for two people on one cylinder of {cylinder}, from {depth} and after {time}, at the rate learned of each person or the novice's.",
		c.dive.Cylinder.Words()+taken("cylinder", cylinder),
		c.dive.Depth.Reading().String()+taken("depth", ", the greatest depth that the dive may have"),
		c.dive.PlannedTime.Reading().String()+taken("planned_time", ", since the briefing names no time"))
	for _, i := range told {
		f.Subjects = append(f.Subjects, c.subjects(c.people[i])...)
	}
	return f
}

// notInCharge returns the finding that what the briefing tells does not count for opening.
func notInCharge(session uuid.UUID, people []briefed) finding.List {
	if !slices.ContainsFunc(people, func(p briefed) bool { return len(p.Said) > 0 }) {
		return nil
	}
	f := ToldNotInCharge.Of("Who gave the briefing is in charge of no group of this session, so the pressures that it tells do not count for opening it.",
		finding.Subject{Type: "session", ID: session.String()})
	f.Cures = []finding.Cure{{Code: "brief_in_charge",
		Message: "Let an instructor in charge tell the pressures in a briefing, or confirm a plan."}}
	return finding.List{f}
}

// judgeChanged judges the pressures that a briefing tells otherwise than a plan, by
// what that plan knows of the dive and the cylinder.
func (c *toldCase) judgeChanged(ctx context.Context, tx *pg.Tx) (out finding.List, err error) {
	plans := map[uuid.UUID]gasplan.Computed{}
	for i := range c.people {
		p := &c.people[i]
		for _, x := range p.Said {
			if x.PlanID == nil {
				continue
			}
			made, known := plans[*x.PlanID]
			if !known {
				if made, err = planOf(ctx, tx, *x.PlanID); err != nil {
					return nil, err
				}
				plans[*x.PlanID] = made
			}
			at := slices.IndexFunc(made.Input().Divers,
				func(v gasplan.DiverInput) bool {
					return v.ParticipantID != nil &&
						*v.ParticipantID == c.key(*p)
				})
			if at >= 0 {
				out = append(out, c.pressures(p, made, at, x)...)
			}
		}
	}
	return out, nil
}

// planOf works out a stored plan again.
func planOf(ctx context.Context, tx *pg.Tx, id uuid.UUID) (gasplan.Computed, error) {
	text, err := pg.Row[[]byte](ctx, tx,
		`SELECT input FROM gas_plan WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": id})
	if err != nil {
		return gasplan.Computed{}, err
	}
	var in gasplan.Input
	if err := json.Unmarshal(text, &in); err != nil {
		return gasplan.Computed{}, fmt.Errorf("read plan: %w", err)
	}
	return gasplan.Compute(in)
}
