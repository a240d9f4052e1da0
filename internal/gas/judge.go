package gas

import (
	"fmt"
	"strconv"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Cures of a plan.
var (
	goShallower = finding.Cure{Code: "reduce_depth", Message: "Plan a shallower dive."}
	diveShorter = finding.Cure{Code: "reduce_time", Message: "Plan a shorter dive."}
	moreGas     = finding.Cure{Code: "more_gas", Message: "Fill the cylinder or take a larger one."}
	leanerMix   = finding.Cure{Code: "less_oxygen", Message: "Take a mix with less oxygen, or air."}
	planTheStop = finding.Cure{Code: "plan_stop", Message: "Plan a safety stop of 3 min at 5 m."}
	otherSite   = finding.Cure{Code: "other_site", Message: "Choose another site or another day."}
	readAgain   = finding.Cure{Code: "check_reading",
		Message: "Read the gauge again and check its unit and the cylinder."}
	regroupDiver = finding.Cure{Code: "move_person",
		Message: "Put the person into a group with a shallower dive."}
)

// judge returns the findings of all rules on the plan.
func (p *Plan) judge() finding.List {
	out := p.judgeGroup(nil)
	for i := range p.Divers {
		out = p.judgeDepth(i, out)
		out = p.judgeGas(i, out)
		out = p.judgeOxygen(i, out)
	}
	return out
}

// objection returns a finding with the limit, what was found and the cures.
func objection(
	r finding.Rule, limit, found units.Reading, message string, cures ...finding.Cure,
) finding.Finding {
	f := r.Of(message)
	f.Limit, f.Found, f.Cures = finding.Quantity(limit), finding.Quantity(found), cures
	f.Params = map[string]any{"limit": limit.String(), "found": found.String()}
	return f
}

// by adds the person whom the finding is about.
func (d *Diver) by(f finding.Finding, i int) finding.Finding {
	f.Params["person"] = d.name(i)
	if d.Subject.ID != "" {
		f.Subjects = []finding.Subject{d.Subject}
	}
	return f
}

// depthIn returns a depth in the unit that goes with a gauge: feet with psi.
func depthIn(d units.Depth, gauge units.Unit) units.Reading {
	if gauge == units.UnitPSI {
		return units.Read(d.In(units.UnitFoot), units.UnitFoot)
	}
	return units.Read(d.In(units.UnitMetre), units.UnitMetre)
}

// minutes returns a time as a reading in minutes.
func minutes(t time.Duration) units.Reading { return units.Read(t.Minutes(), units.UnitMinute) }

// decimals returns a number with n decimals.
func decimals(x float64, n int) string { return strconv.FormatFloat(x, 'f', n, 64) }

// tolerance is the distance beyond a limit that may come from rounding alone.
const tolerance = 1e-9

// judgeGroup judges the limits of the group as a whole.
func (p *Plan) judgeGroup(out finding.List) finding.List {
	d, gauge := &p.Dive, p.Divers[0].gauge()
	if d.SiteDepth > 0 && d.Depth > d.SiteDepth+tolerance {
		limit, found := depthIn(d.SiteDepth, gauge), depthIn(d.Depth, gauge)
		out = append(out, objection(DepthOverSite, limit, found, fmt.Sprintf(
			"The plan goes to %s; the site's maximum depth is %s.", found, limit), goShallower, otherSite))
	}
	if d.NoStop != nil && d.Planned > *d.NoStop {
		limit, found := minutes(*d.NoStop), minutes(d.Planned)
		out = append(out, objection(OverNoStop, limit, found, fmt.Sprintf(
			"The planned time is %s; the no-stop limit is %s.", found, limit), diveShorter, goShallower))
	}
	if p.Settings.Ascent.StopFor <= 0 || p.Settings.Ascent.Stop <= 0 {
		f := NoSafetyStop.Of("No safety stop is planned.")
		f.Limit, f.Found, f.Cures = finding.Words("3 min at 5 m"), finding.Words("none"),
			[]finding.Cure{planTheStop}
		out = append(out, f)
	}
	out = p.judgeConditions(out)
	return p.judgeTimes(out)
}

// judgeTimes judges the latest start of the ascent where the turn rule or the no-stop limit sets
// it, and not a person's gas.
func (p *Plan) judgeTimes(out finding.List) finding.List {
	d, limiting, up := &p.Dive, p.People[p.Limiting].GasTime, p.ascentTime()
	found := minutes(p.LatestAscent)
	if p.LatestAscent+up < d.Least && limiting+up >= d.Least {
		out = append(out, objection(TimeBelowLeast, minutes(d.Least), minutes(p.LatestAscent+up), fmt.Sprintf(
			"The group must start its ascent after %s at the latest, and the ascent takes %s: %s from time "+
				"in to time out; the dive must last at least %s.",
			found, minutes(up), minutes(p.LatestAscent+up), minutes(d.Least)), moreGas, goShallower))
	}
	if p.Settings.Rule.outAndBack() && p.LatestAscent < d.Planned && limiting >= d.Planned {
		out = append(out, objection(TimeBelowPlanned, minutes(d.Planned), found, fmt.Sprintf(
			"With the rule of %s the group is back after %s; planned are %s.",
			p.Settings.Rule, found, minutes(d.Planned)), diveShorter, moreGas))
	}
	return out
}

// ascentTime returns the duration of a usual ascent, with its stop, rounded up to the minute as the
// plan shows it.
func (p *Plan) ascentTime() time.Duration {
	up := p.Settings.Ascent.Normal().Time(p.Dive.Depth)
	return (up + time.Minute - 1).Truncate(time.Minute)
}

// judgeConditions judges each known condition.
func (p *Plan) judgeConditions(out finding.List) finding.List {
	d := &p.Dive
	add := func(what string, limit, found units.Reading, side string) {
		out = append(out, objection(DemandingConditions, limit, found, fmt.Sprintf(
			"The %s is %s; %s %s conditions are demanding.", what, found, side, limit), otherSite))
	}
	if r := d.Visibility; !r.IsZero() && r.Depth() < leastVisibility-tolerance {
		add("visibility", units.Read(leastVisibility.In(r.Unit), r.Unit), r, "below")
	}
	if r := d.Current; !r.IsZero() && r.Speed() > mostCurrent+tolerance {
		add("current", units.Read(mostCurrent.In(r.Unit), r.Unit), r, "above")
	}
	if r := d.Water; !r.IsZero() && r.Temperature().Celsius() < coldestCelsius-tolerance {
		limit := units.Read(coldestCelsius, units.UnitCelsius)
		if r.Unit == units.UnitFahren {
			limit = units.Read(units.Celsius(coldestCelsius).Fahrenheit(), r.Unit)
		}
		add("water temperature", limit, r, "below")
	}
	return out
}

// judgeDepth judges the depth by the person's own limits.
func (p *Plan) judgeDepth(i int, out finding.List) finding.List {
	v := &p.Divers[i]
	for _, l := range v.Limits {
		if p.Dive.Depth <= l.Max+tolerance {
			continue
		}
		limit, found := depthIn(l.Max, v.gauge()), depthIn(p.Dive.Depth, v.gauge())
		f := v.by(objection(DepthOverPerson, limit, found,
			fmt.Sprintf("The plan goes to %s; for %s the limit is %s (%s).",
				found, v.name(i), limit, l.Because), goShallower, regroupDiver), i)
		f.Params["because"] = l.Because
		if l.Source != "" {
			f.Source = l.Source
		}
		out = append(out, f)
	}
	return out
}

// judgeGas judges the person's start, gas time and expected end.
func (p *Plan) judgeGas(i int, out finding.List) finding.List {
	v, who, d := &p.Divers[i], &p.People[i], &p.Dive
	name, start := v.name(i), pressureIn(who.Start, v.gauge())
	if w := v.Cylinder.Working(); w > 0 && v.Start.Pressure() > overfill*w {
		out = append(out, v.by(objection(OverFilled, pressureIn(w, v.Start.Unit), v.Start, fmt.Sprintf(
			"%s starts with %s; the cylinder's working pressure is %s.",
			name, v.Start, pressureIn(w, v.Start.Unit)), readAgain), i))
	}
	if who.Start <= who.Low.Pressure() {
		return append(out, v.by(objection(StartAtLowGas, who.Low, start, fmt.Sprintf(
			"%s starts with %s; the low-gas pressure is %s.", name, start, who.Low),
			moreGas, goShallower), i))
	}
	out = p.judgeLeastTime(i, out)
	if who.GasTime < d.Planned {
		found := minutes(who.GasTime)
		out = append(out, v.by(objection(TimeBelowPlanned, minutes(d.Planned), found, fmt.Sprintf(
			"The gas of %s lasts %s; planned are %s.", name, found, minutes(d.Planned)),
			diveShorter, moreGas, goShallower), i))
	}
	if who.EndExact < endCaution {
		limit := pressureIn(endCaution, v.gauge())
		out = append(out, v.by(objection(EndBelow50, limit, who.End, fmt.Sprintf(
			"%s is expected back with %s, less than 50 bar.", name, who.End), diveShorter, moreGas), i))
	}
	return out
}

// judgeLeastTime judges whether the person's gas lasts, with the ascent, for the dive's least duration.
func (p *Plan) judgeLeastTime(i int, out finding.List) finding.List {
	v, lasts, least := &p.Divers[i], p.People[i].GasTime, p.Dive.Least
	up := p.ascentTime()
	if lasts+up >= least {
		return out
	}
	return append(out, v.by(objection(TimeBelowLeast, minutes(least), minutes(lasts+up), fmt.Sprintf(
		"The gas of %s lasts %s, and the ascent takes %s: %s from time in to time out; the dive must last "+
			"at least %s.",
		v.name(i), minutes(lasts), minutes(up), minutes(lasts+up), minutes(least)), moreGas, goShallower), i))
}

// judgeOxygen judges the person's mix at the greatest depth.
func (p *Plan) judgeOxygen(i int, out finding.List) finding.List {
	v, who, d, w := &p.Divers[i], &p.People[i], &p.Dive, p.Settings.Water
	if d.Depth > who.MaxDepth+tolerance {
		limit, found := depthIn(who.MaxDepth, v.gauge()), depthIn(d.Depth, v.gauge())
		out = append(out, v.by(objection(OxygenOverLimit, limit, found, fmt.Sprintf(
			"The plan goes to %s; %s %% of oxygen, breathed by %s, allows %s.", found,
			decimals(wholePercent(v.mix(), true).Percent(), 0), v.name(i), limit),
			goShallower, leanerMix), i))
	}
	used, ok := OxygenExposure(v.mix(), d.Depth, d.Planned, w)
	if share := max(used.Single, used.Daily+v.OxygenToday); ok && share > 1+tolerance {
		limit, found := units.Read(100, units.UnitPercent), units.Read(share.Percent(), units.UnitPercent)
		out = append(out, v.by(objection(OxygenTooLong, limit, found, fmt.Sprintf(
			"The oxygen exposure of %s would come to %s of the limit.", v.name(i), found),
			diveShorter, leanerMix), i))
	}
	return out
}

// pressureIn returns a pressure in a gauge's unit, to a hundredth.
func pressureIn(p units.Pressure, gauge units.Unit) units.Reading {
	return units.Read(p.In(gauge), gauge)
}
