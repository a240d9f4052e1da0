package briefings

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/planview"
	"tankside/internal/units"
)

// unknownStart is the start of a diver who was told none: a full cylinder, 200 bar, our
// choice. No finding that depends on it is kept.
var unknownStart = gasplan.Quantity{Value: 200, Unit: string(units.UnitBar)}

// diverID returns the id under which a person is a diver of the request: of the
// participant, or of the person where they have no part in the session.
func (r *pressureReview) diverID(person uuid.UUID) uuid.UUID {
	if id := r.session.people[person].ParticipantID; id != nil {
		return *id
	}
	return person
}

// subjects returns the subjects of findings about a person: the participant, where they
// take part, and the person.
func (r *pressureReview) subjects(person uuid.UUID) (out []finding.Subject) {
	p := r.session.people[person]
	if p.ParticipantID != nil {
		out = append(out, planview.Participant(*p.ParticipantID))
	}
	return append(out, p.subject())
}

// request returns the gas plan by which told pressures are judged: of the briefing's
// dive, with everybody who takes part and those who are briefed to join. Gas is shared
// within a group; a diver who would be alone shares it with an unknown partner.
func (r *pressureReview) request() gasplan.PlanRequest {
	a := gasplan.PlanRequest{DiveID: r.dive.DiveID,
		Dive: gasplan.DiveInput{Depth: *r.dive.Depth, PlannedTime: *r.dive.PlannedTime}}
	teams := map[string]int{}
	for _, d := range r.divers() {
		team := ""
		if d.GroupID != nil {
			team = d.GroupID.String()
		}
		teams[team]++
		v := gasplan.DiverInput{ParticipantID: new(d.ID), Cylinder: *r.dive.Cylinder, Start: unknownStart,
			Team: team, GaugeUnit: d.GaugeUnit}
		if told, ok := r.toldWithoutPlan(d.PersonID); ok {
			if told.Start != nil {
				v.Start = gasplan.Of(*told.Start)
			}
			if told.Low != nil {
				v.Told = new(gasplan.Of(*told.Low))
			}
		}
		a.Divers = append(a.Divers, v)
	}
	for team, n := range teams {
		if n == 1 {
			a.Divers = append(a.Divers, r.partner(team))
		}
	}
	return a
}

// partner adds an unknown partner to the session and returns them as a diver of a team.
func (r *pressureReview) partner(team string) gasplan.DiverInput {
	id := uuid.NewSHA1(r.session.id, []byte(team))
	r.view.Divers[id] = planview.Diver{ID: id, Name: "a partner", Role: "instructor",
		GaugeUnit: string(units.UnitBar), BirthOn: grownUp}
	return gasplan.DiverInput{ParticipantID: &id, Cylinder: *r.dive.Cylinder, Start: unknownStart, Team: team}
}

// grownUp is the birth date of an unknown partner, whom no limit by age applies to.
var grownUp = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// divers returns everybody who is to dive or is told pressures, by name. A person
// without a part in the session is added to it as a student.
func (r *pressureReview) divers() (out []planview.Diver) {
	for _, p := range r.people {
		known := r.session.people[p.PersonID]
		if known.ParticipantID == nil && len(p.Own) > 0 {
			r.view.Divers[p.PersonID] = planview.Diver{ID: p.PersonID, PersonID: p.PersonID, Role: "student",
				GaugeUnit: string(p.GaugeUnit), Name: known.Name, BirthOn: known.BirthOn}
		}
	}
	for _, d := range r.view.Divers {
		if _, told := r.toldWithoutPlan(d.PersonID); told || d.Dives {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, planview.Diver.Compare)
	return out
}

// toldWithoutPlan returns the pressures that the briefing tells a person for whom there
// is no plan.
func (r *pressureReview) toldWithoutPlan(person uuid.UUID) (Pressures, bool) {
	for _, p := range r.people {
		if p.PersonID != person {
			continue
		}
		for _, x := range p.Own {
			if x.PlanID == nil {
				return x.Pressures, true
			}
		}
	}
	return Pressures{}, false
}
