package planform

import (
	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/gasplan"
	"tankside/internal/plans"
)

// Ask reads a plan of a session.
func Ask(r api.GasPlanAdd) gasplan.PlanRequest {
	out := gasplan.PlanRequest{DiveID: r.DiveID, GroupID: r.GroupID, Dive: dive(r.Dive),
		Divers: form.Each(r.Divers, participant)}
	if r.Settings != nil {
		out.Settings = Settings(*r.Settings)
	}
	return out
}

func participant(v api.GasPlanDiver) gasplan.DiverInput {
	return gasplan.DiverInput{
		ParticipantID: &v.ParticipantID,
		Cylinder:      Cylinder(v.Cylinder),
		Oxygen:        read(v.Oxygen),
		Start:         gasplan.Quantity(v.Start),
		FilledAt:      read(v.FilledAt),
		GaugeUnit:     form.Given(v.GaugeUnit, ""),
		BreathingRate: read(v.BreathingRate),
		Team:          form.Given(v.Team, ""),
		DepthLimits:   form.Each(form.Given(v.DepthLimits, nil), depthLimit),
		OxygenToday:   read(v.OxygenToday),
	}
}

// Change reads a replan.
func Change(r api.GasReplan) gasplan.Change {
	out := gasplan.Change{Reason: r.Reason, Divers: form.Each(form.Given(r.Divers, nil), diverChange),
		LeaveOut: append([]uuid.UUID{}, form.Given(r.LeaveOut, nil)...)}
	if d := r.Dive; d != nil {
		out.Dive = gasplan.DiveChange{Depth: read(d.Depth), MeanDepth: read(d.MeanDepth),
			PlannedTime: read(d.PlannedTime), LeastTime: read(d.LeastTime),
			Visibility: read(d.Visibility), Current: read(d.Current),
			WaterTemperature: read(d.WaterTemperature), StartsAt: d.StartsAt, Ascents: d.Ascents}
	}
	if r.Settings != nil {
		out.Settings = Settings(*r.Settings)
	}
	return out
}

func diverChange(v api.GasReplanDiver) gasplan.DiverChange {
	out := gasplan.DiverChange{
		ParticipantID: v.ParticipantID,
		Oxygen:        read(v.Oxygen),
		Start:         read(v.Start),
		FilledAt:      read(v.FilledAt),
		GaugeUnit:     form.Given(v.GaugeUnit, ""),
		BreathingRate: read(v.BreathingRate),
		Team:          v.Team,
		OxygenToday:   read(v.OxygenToday),
	}
	if v.Cylinder != nil {
		out.Cylinder = new(Cylinder(*v.Cylinder))
	}
	if v.DepthLimits != nil {
		out.DepthLimits = new(form.Each(*v.DepthLimits, depthLimit))
	}
	return out
}

// DifferenceView returns what a replan changes.
func DifferenceView(d plans.Difference) api.GasPlanDifference {
	return api.GasPlanDifference{People: form.Each(d.People, personDifference),
		TurnAfter: beforeAfter(d.TurnAfter), LatestAscent: beforeAfter(d.LatestAscent)}
}

func personDifference(p plans.PersonDifference) api.GasPersonDifference {
	return api.GasPersonDifference{
		ParticipantID: form.OrNull(p.ParticipantID),
		Name:          p.Name,
		Changed:       p.Changed,
		Start:         beforeAfter(p.Start),
		Low:           beforeAfter(p.Low),
		Turn:          beforeAfter(p.Turn),
		GasTime:       beforeAfter(p.GasTime),
		ExpectedEnd:   beforeAfter(p.ExpectedEnd),
	}
}

func beforeAfter(x plans.BeforeAfter) api.BeforeAfter {
	return api.BeforeAfter{Before: orNull(x.Before), After: orNull(x.After)}
}
