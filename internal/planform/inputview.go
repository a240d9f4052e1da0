package planform

import (
	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/gasplan"
)

// InputView returns the input of a plan in the form in which it can be sent again, with defaults
// filled in.
func InputView(in gasplan.Input) api.PlanInput {
	in = in.Filled()
	return api.PlanInput{Dive: diveView(in.Dive), Divers: form.Each(in.Divers, diverView),
		Settings: new(SettingsView(in.Settings))}
}

// write returns an optional quantity.
func write(q *gasplan.Quantity) *api.Quantity { return (*api.Quantity)(q) }

// unlessZero returns a value, nil for the zero value.
func unlessZero[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// unlessNone returns a list, nil for an empty one.
func unlessNone[T, V any](all []T, view func(T) V) *[]V {
	if len(all) == 0 {
		return nil
	}
	return new(form.Each(all, view))
}

func diveView(d gasplan.DiveInput) api.PlanDive {
	return api.PlanDive{
		Depth:            api.Quantity(d.Depth),
		MeanDepth:        write(d.MeanDepth),
		PlannedTime:      api.Quantity(d.PlannedTime),
		LeastTime:        write(d.LeastTime),
		SiteMaxDepth:     write(d.SiteMaxDepth),
		Altitude:         write(d.Altitude),
		Water:            unlessZero(d.Water),
		Visibility:       write(d.Visibility),
		Current:          write(d.Current),
		WaterTemperature: write(d.WaterTemperature),
		StartsAt:         d.StartsAt,
		Ascents:          unlessZero(d.Ascents),
	}
}

func diverView(v gasplan.DiverInput) api.PlanDiver {
	return api.PlanDiver{
		Key:           v.Key,
		ParticipantID: v.ParticipantID,
		Name:          unlessZero(v.Name),
		Cylinder:      CylinderView(v.Cylinder),
		Oxygen:        write(v.Oxygen),
		Start:         api.Quantity(v.Start),
		FilledAt:      write(v.FilledAt),
		GaugeUnit:     unlessZero(v.GaugeUnit),
		BreathingRate: write(v.BreathingRate),
		Team:          unlessZero(v.Team),
		DepthLimits:   unlessNone(v.DepthLimits, depthLimitView),
		OxygenToday:   write(v.OxygenToday),
		EarlierDives:  unlessNone(v.EarlierDives, earlierDiveView),
	}
}

// CylinderView returns one diver's supply.
func CylinderView(c gasplan.CylinderInput) api.PlanCylinder {
	return api.PlanCylinder{
		WaterVolume:     write(c.WaterVolume),
		WorkingPressure: write(c.WorkingPressure),
		RatedCapacity:   write(c.RatedCapacity),
		RatedPressure:   write(c.RatedPressure),
		RatedBy:         unlessZero(c.RatedBy),
		Count:           unlessZero(c.Count),
	}
}

func depthLimitView(l gasplan.DepthLimit) api.PlanDepthLimit {
	return api.PlanDepthLimit{Depth: api.Quantity(l.Depth), Because: l.Because, Source: unlessZero(l.Source)}
}

func earlierDiveView(e gasplan.EarlierDive) api.PlanEarlierDive {
	return api.PlanEarlierDive{Depth: api.Quantity(e.Depth), InAt: e.InAt, OutAt: e.OutAt,
		Ascents: unlessZero(e.Ascents), Altitude: write(e.Altitude)}
}

// SettingsView returns the settings of a plan.
func SettingsView(s gasplan.GasSettings) api.PlanSettings {
	out := api.PlanSettings{
		Law:          unlessZero(s.Law),
		SortOut:      write(s.SortOut),
		AscentSpeed:  write(s.AscentSpeed),
		StopDepth:    write(s.StopDepth),
		StopTime:     write(s.StopTime),
		Reserve:      write(s.Reserve),
		Floor:        write(s.Floor),
		TurnRule:     unlessZero(s.TurnRule),
		OxygenLimit:  write(s.OxygenLimit),
		NoStopMargin: write(s.NoStopMargin),
		DivesADay:    unlessZero(s.DivesADay),
		AscentsADay:  unlessZero(s.AscentsADay),
	}
	out.Stress = unlessZero(s.Stress)
	return out
}
