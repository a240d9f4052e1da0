package planning

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// key returns the id by which somebody stands in the plan that told pressures are
// judged by: of the participant, or of the person who has no part in the session.
func (c *toldCase) key(p briefed) uuid.UUID {
	if id := c.scene.people[p.PersonID].ID; id != nil {
		return *id
	}
	return p.PersonID
}

// subjects returns whom findings about somebody are about.
func (c *toldCase) subjects(p briefed) (out []finding.Subject) {
	part := c.scene.people[p.PersonID]
	if part.ID != nil {
		out = append(out, participant(*part.ID))
	}
	return append(out, part.subject())
}

// ask puts together the plan that told pressures are judged by: the dive, everybody
// who takes part, and whoever is briefed to join. Gas is shared within a group;
// whoever would be alone shares with somebody of whom nothing is known.
func (c *toldCase) ask() gasplan.PlanRequest {
	a := gasplan.PlanRequest{DiveID: c.dive.DiveID,
		Dive: gasplan.DiveInput{Depth: *c.dive.Depth, PlannedTime: *c.dive.PlannedTime}}
	teams := map[string]int{}
	for _, p := range c.divers() {
		team := ""
		if p.GroupID != nil {
			team = p.GroupID.String()
		}
		teams[team]++
		id := p.ID
		v := gasplan.DiverInput{ParticipantID: &id, Cylinder: *c.dive.Cylinder, Start: unknownStart, Team: team,
			GaugeUnit: p.GaugeUnit}
		if t, told := c.saidTo(p); told {
			v.Start, v.Told = given(quantityOf(t.Start), unknownStart), quantityOf(t.Low)
		}
		a.Divers = append(a.Divers, v)
	}
	for team, n := range teams {
		if n == 1 {
			id := uuid.NewSHA1(c.scene.session.ID, []byte(team))
			c.stage.parts[id] = planPart{ID: id, Name: "a partner", Role: "instructor",
				GaugeUnit: string(units.UnitBar), BirthOn: grownUp}
			a.Divers = append(a.Divers,
				gasplan.DiverInput{ParticipantID: &id, Cylinder: *c.dive.Cylinder, Start: unknownStart,
					Team: team})
		}
	}
	return a
}

// divers returns everybody who takes part, and whom else the briefing tells
// pressures, by name.
func (c *toldCase) divers() (out []planPart) {
	for _, p := range c.people {
		part := c.scene.people[p.PersonID]
		if part.ID == nil && len(p.Said) > 0 {
			c.stage.parts[p.PersonID] = planPart{ID: p.PersonID, PersonID: p.PersonID, Role: "student",
				GaugeUnit: string(p.GaugeUnit), Name: part.Name, BirthOn: part.BirthOn}
		}
	}
	for _, p := range c.stage.parts {
		if _, told := c.saidTo(p); told || p.Counted {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b planPart) int { return cmpText(a.Name+a.ID.String(), b.Name+b.ID.String()) })
	return out
}

// saidTo returns the pressures that the briefing tells somebody where no plan says
// any.
func (c *toldCase) saidTo(p planPart) (Pressures, bool) {
	for _, b := range c.people {
		if b.PersonID != p.PersonID {
			continue
		}
		for _, x := range b.Said {
			if x.PlanID == nil {
				return x.Pressures, true
			}
		}
	}
	return Pressures{}, false
}

// grownUp is a day of birth of somebody whom no limit by age concerns.
var grownUp = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

func quantityOf(r *units.Reading) *gasplan.Quantity {
	if r == nil {
		return nil
	}
	return new(gasplan.Of(*r))
}

// greatestDepth returns the greatest depth that a dive of the session may have, or
// any of them: the training dive's, or that of confined water, and no more than the
// site's. It is nil where neither is known.
func (st planStage) greatestDepth(dive *uuid.UUID) *gasplan.Quantity {
	y := st.taught[st.syllabus]
	var most units.Reading
	add := func(q syllabus.Quantity) {
		if r := units.Reading(q); r.Unit.Dimension() == units.Depths && (most.IsZero() || r.Compare(most) > 0) {
			most = r
		}
	}
	if st.Kind == ratio.Confined {
		add(y.ConfinedMaxDepth)
	}
	for _, n := range st.TrainingDives(dive) {
		if d := y.Dive(n); d != nil {
			add(d.MaxDepth)
		}
	}
	site := known(st.Site.MaxDepth)
	if most.IsZero() || site != nil && gasplan.Less(*site, gasplan.Of(most), units.Depths) {
		return site
	}
	return new(gasplan.Of(most))
}
