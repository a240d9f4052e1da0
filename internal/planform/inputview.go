package planform

import (
	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/planning"
)

// InputView writes what a plan was worked out from, in the form in which it can
// be sent again, defaults filled in.
func InputView(in planning.Input) api.PlanInput {
	in = in.Filled()
	return api.PlanInput{Dive: diveView(in.Dive), Divers: form.Each(in.Divers, diverView), Settings: new(SettingsView(in.Settings))}
}

// write writes an optional quantity.
func write(q *planning.Quantity) *api.Quantity { return (*api.Quantity)(q) }

// unless leaves out what Go writes as its zero value.
func unless[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// unlessNone leaves out an empty list.
func unlessNone[T, V any](all []T, view func(T) V) *[]V {
	if len(all) == 0 {
		return nil
	}
	return new(form.Each(all, view))
}

func diveView(d planning.DiveInput) api.PlanDive {
	return api.PlanDive{
		Depth:            api.Quantity(d.Depth),
		MeanDepth:        write(d.MeanDepth),
		PlannedTime:      api.Quantity(d.PlannedTime),
		LeastTime:        write(d.LeastTime),
		SiteMaxDepth:     write(d.SiteMaxDepth),
		Altitude:         write(d.Altitude),
		Water:            unless(d.Water),
		Visibility:       write(d.Visibility),
		Current:          write(d.Current),
		WaterTemperature: write(d.WaterTemperature),
		StartsAt:         d.StartsAt,
		Ascents:          unless(d.Ascents),
	}
}

func diverView(v planning.DiverInput) api.PlanDiver {
	return api.PlanDiver{
		Key:           v.Key,
		ParticipantID: v.ParticipantID,
		Name:          unless(v.Name),
		Cylinder:      CylinderView(v.Cylinder),
		Oxygen:        write(v.Oxygen),
		Start:         api.Quantity(v.Start),
		FilledAt:      write(v.FilledAt),
		GaugeUnit:     unless(v.GaugeUnit),
		BreathingRate: write(v.BreathingRate),
		Team:          unless(v.Team),
		DepthLimits:   unlessNone(v.DepthLimits, depthLimitView),
		OxygenToday:   write(v.OxygenToday),
		EarlierDives:  unlessNone(v.EarlierDives, earlierDiveView),
	}
}

// CylinderView writes one diver's supply.
func CylinderView(c planning.CylinderInput) api.PlanCylinder {
	return api.PlanCylinder{
		WaterVolume:     write(c.WaterVolume),
		WorkingPressure: write(c.WorkingPressure),
		RatedCapacity:   write(c.RatedCapacity),
		RatedPressure:   write(c.RatedPressure),
		RatedBy:         unless(c.RatedBy),
		Count:           unless(c.Count),
	}
}

func depthLimitView(l planning.DepthLimit) api.PlanDepthLimit {
	return api.PlanDepthLimit{Depth: api.Quantity(l.Depth), Because: l.Because, Source: unless(l.Source)}
}

func earlierDiveView(e planning.EarlierDive) api.PlanEarlierDive {
	return api.PlanEarlierDive{Depth: api.Quantity(e.Depth), InAt: e.InAt, OutAt: e.OutAt, Ascents: unless(e.Ascents), Altitude: write(e.Altitude)}
}

// SettingsView writes how gas is planned.
func SettingsView(s planning.GasSettings) api.PlanSettings {
	out := api.PlanSettings{
		Law:          unless(s.Law),
		SortOut:      write(s.SortOut),
		AscentSpeed:  write(s.AscentSpeed),
		StopDepth:    write(s.StopDepth),
		StopTime:     write(s.StopTime),
		Reserve:      write(s.Reserve),
		Floor:        write(s.Floor),
		TurnRule:     unless(s.TurnRule),
		OxygenLimit:  write(s.OxygenLimit),
		NoStopMargin: write(s.NoStopMargin),
		DivesADay:    unless(s.DivesADay),
		AscentsADay:  unless(s.AscentsADay),
	}
	out.Stress = unless(s.Stress)
	return out
}
