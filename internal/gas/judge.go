package gas

import (
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

// objection returns the finding with the limit, what was found and the cures.
func objection(f finding.Finding, limit, found units.Reading, cures ...finding.Cure) finding.Finding {
	f.Limit, f.Found, f.Cures = finding.Quantity(limit), finding.Quantity(found), cures
	return f.With("limit", limit).With("found", found)
}

// named returns the person as a message calls them; i is their place in the plan.
func (d *Diver) named(i int) finding.Named {
	return finding.Named{Type: d.Subject.Type, ID: d.Subject.ID, Name: d.name(i)}
}

// by adds the person whom the finding is about.
func (d *Diver) by(f finding.Finding, i int) finding.Finding {
	if d.Subject.ID != "" {
		f.Subjects = []finding.Subject{d.Subject}
	}
	return f.With("person", d.named(i))
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
		out = append(out, objection(DepthOverSite.Say(
			"The plan goes to {found}; the site's maximum depth is {limit}.", found, limit),
			limit, found, goShallower, otherSite))
	}
	if d.NoStop != nil && d.Planned > *d.NoStop {
		limit, found := minutes(*d.NoStop), minutes(d.Planned)
		out = append(out, objection(OverNoStop.Say(
			"The planned time is {found}; the no-stop limit is {limit}.", found, limit),
			limit, found, diveShorter, goShallower))
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
		out = append(out, objection(TimeBelowLeast.Say(
			"The group must start its ascent after {latest} at the latest, and the ascent takes {ascent}: {found} from "+
				"time in to time out. The dive must last at least {limit}.",
			found, minutes(up), minutes(p.LatestAscent+up), minutes(d.Least)),
			minutes(d.Least), minutes(p.LatestAscent+up), moreGas, goShallower))
	}
	if p.Settings.Rule.outAndBack() && p.LatestAscent < d.Planned && limiting >= d.Planned {
		out = append(out, objection(TimeBelowPlanned.Say(
			"With the rule of {rule} the group is back after {found}; planned are {limit}.",
			p.Settings.Rule, found, minutes(d.Planned)), minutes(d.Planned), found, diveShorter, moreGas))
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
		out = append(out, objection(DemandingConditions.Say(
			"The {what} is {found}; {side} {limit} conditions are demanding.", what, found, side, limit),
			limit, found, otherSite))
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
		f := v.by(objection(DepthOverPerson.Say(
			"The plan goes to {found}; for {person} the limit is {limit} ({because}).",
			found, v.named(i), limit, l.Because), limit, found, goShallower, regroupDiver), i)
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
	name, start := v.named(i), pressureIn(who.Start, v.gauge())
	if w := v.Cylinder.Working(); w > 0 && v.Start.Pressure() > overfill*w {
		out = append(out, v.by(objection(OverFilled.Say(
			"{person} starts with {found}; the cylinder's working pressure is {limit}.",
			name, v.Start, pressureIn(w, v.Start.Unit)), pressureIn(w, v.Start.Unit), v.Start, readAgain), i))
	}
	if who.Start <= who.Low.Pressure() {
		return append(out, v.by(objection(StartAtLowGas.Say(
			"{person} starts with {found}; the low-gas pressure is {limit}.", name, start, who.Low),
			who.Low, start, moreGas, goShallower), i))
	}
	out = p.judgeLeastTime(i, out)
	if who.GasTime < d.Planned {
		found := minutes(who.GasTime)
		out = append(out, v.by(objection(TimeBelowPlanned.Say(
			"The gas of {person} lasts {found}; planned are {limit}.", name, found, minutes(d.Planned)),
			minutes(d.Planned), found, diveShorter, moreGas, goShallower), i))
	}
	if who.EndExact < endCaution {
		limit := pressureIn(endCaution, v.gauge())
		out = append(out, v.by(objection(EndBelow50.Say(
			"{person} is expected back with {found}, less than 50 bar.", name, who.End),
			limit, who.End, diveShorter, moreGas), i))
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
	return append(out, v.by(objection(TimeBelowLeast.Say(
		"The gas of {person} lasts {lasts}, and the ascent takes {ascent}: {found} from time in to time out. The dive "+
			"must last at least {limit}.",
		v.named(i), minutes(lasts), minutes(up), minutes(lasts+up), minutes(least)),
		minutes(least), minutes(lasts+up), moreGas, goShallower), i))
}

// judgeOxygen judges the person's mix at the greatest depth.
func (p *Plan) judgeOxygen(i int, out finding.List) finding.List {
	v, who, d, w := &p.Divers[i], &p.People[i], &p.Dive, p.Settings.Water
	if d.Depth > who.MaxDepth+tolerance {
		limit, found := depthIn(who.MaxDepth, v.gauge()), depthIn(d.Depth, v.gauge())
		out = append(out, v.by(objection(OxygenOverLimit.Say(
			"The plan goes to {found}; {oxygen} of oxygen, breathed by {person}, allows {limit}.", found,
			units.Read(wholePercent(v.mix(), true).Percent(), units.UnitPercent), v.named(i), limit),
			limit, found, goShallower, leanerMix), i))
	}
	used, ok := OxygenExposure(v.mix(), d.Depth, d.Planned, w)
	if share := max(used.Single, used.Daily+v.OxygenToday); ok && share > 1+tolerance {
		limit, found := units.Read(100, units.UnitPercent), units.Read(share.Percent(), units.UnitPercent)
		out = append(out, v.by(objection(OxygenTooLong.Say(
			"The oxygen exposure of {person} would come to {found} of the limit.", v.named(i), found),
			limit, found, diveShorter, leanerMix), i))
	}
	return out
}

// pressureIn returns a pressure in a gauge's unit, to a hundredth.
func pressureIn(p units.Pressure, gauge units.Unit) units.Reading {
	return units.Read(p.In(gauge), gauge)
}
