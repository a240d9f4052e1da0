package planform

import (
	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/planning"
)

// Input reads the input of a plan. The contract and package planning judge its bounds and units.
func Input(r api.PlanInput) planning.Input {
	in := planning.Input{Dive: dive(r.Dive), Divers: form.Each(r.Divers, diver)}
	if r.Settings != nil {
		in.Settings = Settings(*r.Settings)
	}
	return in
}

// read reads an optional quantity.
func read(q *api.Quantity) *planning.Quantity { return (*planning.Quantity)(q) }

func dive(d api.PlanDive) planning.DiveInput {
	return planning.DiveInput{
		Depth:            planning.Quantity(d.Depth),
		MeanDepth:        read(d.MeanDepth),
		PlannedTime:      planning.Quantity(d.PlannedTime),
		LeastTime:        read(d.LeastTime),
		SiteMaxDepth:     read(d.SiteMaxDepth),
		Altitude:         read(d.Altitude),
		Water:            form.Given(d.Water, ""),
		Visibility:       read(d.Visibility),
		Current:          read(d.Current),
		WaterTemperature: read(d.WaterTemperature),
		StartsAt:         d.StartsAt,
		Ascents:          form.Given(d.Ascents, 0),
	}
}

func diver(v api.PlanDiver) planning.DiverInput {
	return planning.DiverInput{
		Key:           v.Key,
		ParticipantID: v.ParticipantID,
		Name:          form.Given(v.Name, ""),
		Cylinder:      Cylinder(v.Cylinder),
		Oxygen:        read(v.Oxygen),
		Start:         planning.Quantity(v.Start),
		FilledAt:      read(v.FilledAt),
		GaugeUnit:     form.Given(v.GaugeUnit, ""),
		BreathingRate: read(v.BreathingRate),
		Team:          form.Given(v.Team, ""),
		DepthLimits:   form.Each(form.Given(v.DepthLimits, nil), depthLimit),
		OxygenToday:   read(v.OxygenToday),
		EarlierDives:  form.Each(form.Given(v.EarlierDives, nil), earlierDive),
	}
}

// Cylinder reads one diver's supply.
func Cylinder(c api.PlanCylinder) planning.CylinderInput {
	return planning.CylinderInput{
		WaterVolume:     read(c.WaterVolume),
		WorkingPressure: read(c.WorkingPressure),
		RatedCapacity:   read(c.RatedCapacity),
		RatedPressure:   read(c.RatedPressure),
		RatedBy:         form.Given(c.RatedBy, ""),
		Count:           form.Given(c.Count, 0),
	}
}

func depthLimit(l api.PlanDepthLimit) planning.DepthLimit {
	return planning.DepthLimit{Depth: planning.Quantity(l.Depth), Because: l.Because,
		Source: form.Given(l.Source, "")}
}

func earlierDive(e api.PlanEarlierDive) planning.EarlierDive {
	return planning.EarlierDive{Depth: planning.Quantity(e.Depth), InAt: e.InAt, OutAt: e.OutAt,
		Ascents: form.Given(e.Ascents, 0), Altitude: read(e.Altitude)}
}

// Settings reads the settings of a plan; an absent member stays absent.
func Settings(s api.PlanSettings) planning.GasSettings {
	return planning.GasSettings{
		Law:          form.Given(s.Law, ""),
		Stress:       float64(form.Given(s.Stress, 0)),
		SortOut:      read(s.SortOut),
		AscentSpeed:  read(s.AscentSpeed),
		StopDepth:    read(s.StopDepth),
		StopTime:     read(s.StopTime),
		Reserve:      read(s.Reserve),
		Floor:        read(s.Floor),
		TurnRule:     form.Given(s.TurnRule, ""),
		OxygenLimit:  read(s.OxygenLimit),
		NoStopMargin: read(s.NoStopMargin),
		DivesADay:    form.Given(s.DivesADay, 0),
		AscentsADay:  form.Given(s.AscentsADay, 0),
	}
}
