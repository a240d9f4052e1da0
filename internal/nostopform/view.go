package nostopform

import (
	"time"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/form"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// Times is which times of an answer have a meaning.
type Times uint8

// The kinds of times of an answer.
const (
	Intervals Times = iota // only intervals have a meaning
	Local                  // by the clock of an unknown place
	Instants               // by the clock of a known place
)

// View returns the answer in the contract's form; worked adds each step with its table.
func (a Answer) View(worked bool) api.NoStopDay {
	times := Intervals
	if a.Clock {
		times = Local
	}
	out := api.NoStopDay{RuleBook: nostop.Source, Caution: nostop.Advice, Findings: form.Findings(a.Findings),
		LookedUp: nullable.NewNullNullable[api.NoStopRow](),
		Flying:   nullable.NewNullNullable[api.NoStopWait](),
		Dives: form.Each(a.Plan.Results,
			func(r nostop.Result) api.NoStopDive { return Dive(r, times, worked) }),
		GoingUp: form.Each(a.GoingUp, func(w nostop.Wait) api.NoStopWait { return Wait(w, times, worked) })}
	if a.Row != nil {
		out.LookedUp.Set(row(*a.LookUp, *a.Row))
	}
	if len(a.Dives) > 0 {
		out.Flying.Set(Wait(a.Flying, times, worked))
	}
	return out
}

// Dive returns the tables' result for one dive.
func Dive(r nostop.Result, times Times, worked bool) api.NoStopDive {
	d := api.NoStopDive{
		Key:               r.Dive.Key,
		Done:              r.Dive.Done,
		InLocal:           local(r.Dive.In, times),
		OutLocal:          local(r.Dive.Out, times),
		Depth:             form.Quantity(r.Dive.Depth),
		OfDay:             r.OfDay,
		AscentsOfDay:      r.Ascents,
		SurfaceInterval:   null,
		OneDiveWithBefore: r.Joined,
		GroupBefore:       group(r.Before),
		RowFsw:            nullable.NewNullNullable[int](),
		ByTheFoot:         r.ByFoot,
		UnderTime:         minutes(r.Own),
		ResidualTime:      null,
		TotalTime:         minutes(r.Total),
		Limit:             null,
		Longest:           null,
		GroupAfter:        nullable.NewNullNullable[string](),
		OutsideTables:     r.Outside,
		Findings:          form.Findings(r.Findings),
		Worked:            nullable.NewNullNullable[[]api.NoStopStep](),
	}
	if !r.First {
		d.SurfaceInterval = known(r.Surface)
	}
	if !r.Residual.Undefined {
		d.ResidualTime = known(r.Residual.Minutes)
	}
	if r.Row.Depth > 0 {
		d.RowFsw = nullable.NewNullableWithValue(int(r.Row.Depth))
		d.Limit, d.Longest = limit(r.Row.Limit), limit(r.Left)
	}
	if !r.Outside {
		d.GroupAfter = group(r.After)
	}
	if worked {
		d.Worked.Set(steps(r.Worked()))
	}
	return d
}

// Wait returns how long to wait before going up.
func Wait(w nostop.Wait, times Times, worked bool) api.NoStopWait {
	out := api.NoStopWait{
		Altitude:         form.Quantity(w.Altitude),
		Flying:           w.Flying,
		FromLocal:        local(w.From, times),
		HighestGroup:     group(w.Highest),
		TableInterval:    null,
		WorkshopInterval: null,
		Several:          w.Several,
		Wait:             null,
		EarliestLocal:    local(w.Earliest, times),
		EarliestAt:       nullable.NewNullNullable[time.Time](),
		Findings:         form.Findings(w.Findings),
		Worked:           nullable.NewNullNullable[[]api.NoStopStep](),
	}
	if !w.Earliest.IsZero() {
		out.TableInterval, out.Wait = known(w.Table), known(max(w.Table, w.Workshop))
		if times == Instants {
			out.EarliestAt.Set(w.Earliest.UTC())
		}
	}
	if w.Workshop > 0 {
		out.WorkshopInterval = known(w.Workshop)
	}
	if worked && times != Intervals {
		out.Worked.Set(steps(w.Worked()))
	}
	return out
}

// Settings returns the settings as they were used.
func Settings(s nostop.Settings) api.NoStopSettings {
	return api.NoStopSettings{NoStopMargin: new(minutes(s.Margin)), DivesADay: &s.DivesADay,
		AscentsADay: &s.AscentsDay, ByTheFoot: &s.ByTheFoot}
}

func row(l LookUp, r nostop.Residual) api.NoStopRow {
	out := api.NoStopRow{Depth: form.Quantity(l.Depth), RowFsw: int(r.Row.Depth), Limit: limit(r.Row.Limit),
		Group: group(l.Group), ResidualTime: null,
		Longest: limit(r.Row.Limit.Less(r.Minutes)), Groups: []api.NoStopGroupTime{}}
	if r.Undefined {
		return out
	}
	out.ResidualTime = known(r.Minutes)
	for g := nostop.A; g <= nostop.Z; g++ {
		if r.Row.Has(g) {
			out.Groups = append(out.Groups,
				api.NoStopGroupTime{Group: g.String(), ToTime: limit(r.Row.Longest(g))})
		}
	}
	return out
}

var null = nullable.NewNullNullable[api.Duration]()

func minutes(m nostop.Minutes) api.Quantity {
	return api.Quantity{Value: float64(m), Unit: string(units.UnitMinute)}
}

func known(m nostop.Minutes) nullable.Nullable[api.Duration] {
	return nullable.NewNullableWithValue(minutes(m))
}

func limit(l nostop.Limit) nullable.Nullable[api.Duration] {
	if l.Unlimited {
		return null
	}
	return known(l.At)
}

func group(g nostop.Group) nullable.Nullable[string] {
	if g == nostop.None {
		return nullable.NewNullNullable[string]()
	}
	return nullable.NewNullableWithValue(g.String())
}

func local(t time.Time, times Times) nullable.Nullable[api.LocalTime] {
	if t.IsZero() || times == Intervals {
		return nullable.NewNullNullable[api.LocalTime]()
	}
	return nullable.NewNullableWithValue(t.Format(Layout))
}

func steps(list []nostop.Step) []api.NoStopStep {
	return form.Each(list, func(s nostop.Step) api.NoStopStep {
		return api.NoStopStep{Title: s.Title, Text: s.Text, Source: s.Source}
	})
}
