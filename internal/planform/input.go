package planform

import (
	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/gasplan"
)

// Input reads the input of a plan. The contract and package gasplan judge its bounds and units.
func Input(r api.PlanInput) gasplan.Input {
	in := gasplan.Input{Dive: dive(r.Dive), Divers: form.Each(r.Divers, diver)}
	if r.Settings != nil {
		in.Settings = Settings(*r.Settings)
	}
	return in
}

// read reads an optional quantity.
func read(q *api.Quantity) *gasplan.Quantity { return (*gasplan.Quantity)(q) }

func dive(d api.PlanDive) gasplan.DiveInput {
	return gasplan.DiveInput{
		Depth:            gasplan.Quantity(d.Depth),
		MeanDepth:        read(d.MeanDepth),
		PlannedTime:      gasplan.Quantity(d.PlannedTime),
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

func diver(v api.PlanDiver) gasplan.DiverInput {
	return gasplan.DiverInput{
		Key:           v.Key,
		ParticipantID: v.ParticipantID,
		Name:          form.Given(v.Name, ""),
		Cylinder:      Cylinder(v.Cylinder),
		Oxygen:        read(v.Oxygen),
		Start:         gasplan.Quantity(v.Start),
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
func Cylinder(c api.PlanCylinder) gasplan.CylinderInput {
	return gasplan.CylinderInput{
		WaterVolume:     read(c.WaterVolume),
		WorkingPressure: read(c.WorkingPressure),
		RatedCapacity:   read(c.RatedCapacity),
		RatedPressure:   read(c.RatedPressure),
		RatedBy:         form.Given(c.RatedBy, ""),
		Count:           form.Given(c.Count, 0),
	}
}

func depthLimit(l api.PlanDepthLimit) gasplan.DepthLimit {
	return gasplan.DepthLimit{Depth: gasplan.Quantity(l.Depth), Because: l.Because,
		Source: form.Given(l.Source, "")}
}

func earlierDive(e api.PlanEarlierDive) gasplan.EarlierDive {
	return gasplan.EarlierDive{Depth: gasplan.Quantity(e.Depth), InAt: e.InAt, OutAt: e.OutAt,
		Ascents: form.Given(e.Ascents, 0), Altitude: read(e.Altitude)}
}

// Settings reads the settings of a plan; an absent member stays absent.
func Settings(s api.PlanSettings) gasplan.GasSettings {
	return gasplan.GasSettings{
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
