package nostop

import (
	"fmt"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// What the tables need a correction for, or do not cover. The heights are those of the manual's
// section on diving at altitude: no correction up to 300 ft; up to 1000 ft for dives below 145 fsw;
// above that for all. 300 m (984 ft) is the lower, metric figure of common practice.
const (
	maxAltitude     = 300 * units.Metre
	deepAltitude    = 300 * units.Foot
	deepAtAltitude  = 145 * units.Foot
	deepest         = 190 * units.Foot
	longest         = 24 * time.Hour // a longer dive is an input error, our choice
	outsideInterval = 24 * time.Hour // our choice
)

// possible reports whether the entry can be a dive at all.
func (d Dive) possible() bool { return d.whyImpossible() == "" }

// whyImpossible returns what is wrong with an entry that cannot be a dive, "" for nothing.
func (d Dive) whyImpossible() string {
	switch {
	case d.Depth.Unit.Dimension() != units.Depths || d.Depth.Value <= 0:
		return fmt.Sprintf("its depth is given as %q; give it in m or ft, more than 0", d.Depth)
	case !d.Out.After(d.In):
		return "its time out is not after its time in"
	case d.Out.Sub(d.In) > longest:
		return "its time out is more than 24 h after its time in"
	case d.Ascents < 0:
		return "its number of ascents is negative"
	case !d.Altitude.IsZero() && d.Altitude.Unit.Dimension() != units.Depths:
		return fmt.Sprintf("its altitude is given as %q; give it in m or ft", d.Altitude)
	}
	return ""
}

// height returns the altitude of the site.
func (d Dive) height() units.Depth {
	if d.Altitude.IsZero() {
		return 0
	}
	return d.Altitude.Depth()
}

// forbid adds the finding that a dive is outside the tables.
func (r *Result) forbid(rule finding.Rule, why string) {
	r.Outside = true
	r.add(notInTables(rule, r.name(), why))
}

// notInTables returns the finding that the tables have nothing for a dive.
func notInTables(rule finding.Rule, what, why string) finding.Finding {
	return rule.Say("{dive} cannot be planned by these tables: {why}.", what, why)
}

// add appends a finding about this dive.
func (r *Result) add(f finding.Finding) {
	if r.Dive.Key != "" {
		f.Subjects = append(f.Subjects, finding.Subject{Type: "dive", ID: r.Dive.Key})
	}
	r.Findings = append(r.Findings, f)
}

// name returns the dive's name within its day, for messages.
func (r *Result) name() string {
	if r.Dive.Key == "" {
		return fmt.Sprintf("Dive %d of the day", r.OfDay)
	}
	return fmt.Sprintf("Dive %d of the day (%s)", r.OfDay, r.Dive.Key)
}

// outsideTables reports whether the tables have nothing for the dive, and adds the finding why.
func (w *sequence) outsideTables(r *Result) bool {
	f, is := Outside(r.name(), r.Depth, r.Dive.Altitude)
	if is {
		r.Outside = true
		r.add(f)
	}
	return is
}

// Outside reports whether the tables have nothing for a depth at a site of that altitude (zero: the
// sea), with the finding why about what.
func Outside(what string, depth, altitude units.Reading) (f finding.Finding, is bool) {
	outside := func(rule finding.Rule, why string, limit, found units.Reading,
		cure finding.Cure) (finding.Finding, bool) {
		f := notInTables(rule, what, why)
		f.Limit, f.Found, f.Cures = finding.Quantity(limit), finding.Quantity(found), []finding.Cure{cure}
		return f, true
	}
	height := Dive{Altitude: altitude}.height()
	switch {
	case height > maxAltitude:
		return outside(RuleAltitudeSite,
			fmt.Sprintf("at %s of altitude every depth needs a correction, whose table is not held here",
				altitude),
			units.Read(300, units.UnitMetre), altitude,
			finding.Cure{Code: "lower_site", Message: "Choose a site at 300 m of altitude or lower."})
	case height > deepAltitude && depth.Depth() > deepAtAltitude:
		return outside(RuleAltitudeSite,
			fmt.Sprintf(
				"at %s of altitude a depth of %s, over 145 fsw, needs a correction, whose table is not "+
					"held here", altitude, depth),
			units.Read(145, units.UnitFoot), depth,
			finding.Cure{Code: "stay_shallower", Message: "Stay at 44.1 m (145 ft) or above."})
	case wholeFeet(Feet(depth.Depth())) > deepest.In(units.UnitFoot):
		return outside(RuleTooDeep, fmt.Sprintf("%s is deeper than their last row, 190 fsw", depth),
			units.Read(190, units.UnitFoot), depth,
			finding.Cure{Code: "stay_shallower", Message: "Stay at 57.9 m (190 ft) or above."})
	}
	return f, false
}

// judge adds the findings that leave the dive in the tables, and the one of a dive too long.
func (w *sequence) judge(r *Result) {
	if !r.First && r.Dive.In.Before(w.out) {
		f := RuleOverlap.Say("{dive} starts before the dive before it has ended: nobody is in two dives at once. Both "+
			"are reckoned as one.", r.name())
		f.Cures = []finding.Cure{{Code: "another_person",
			Message: "Let another of the crew make one of them, or move it."}}
		r.add(f)
	} else if r.Joined {
		r.add(RuleOneDive.Say(
			"{dive} starts {interval} after the dive before it, less than {least}: both are one dive of {time} to {depth}.",
			r.name(), r.Surface, least, r.Under, r.Depth))
	}
	if r.Row.Depth > 0 {
		w.judgeTime(r)
	}
	if w.lost && r.Dive.In.Before(w.outside.Add(outsideInterval)) {
		f := RuleOutsideBefore.Say("{dive} starts less than 24 h after a dive outside the tables: the residual nitrogen "+
			"is not known.", r.name())
		f.Cures = []finding.Cure{{Code: "wait_longer",
			Message: "Dive again 24 h after that dive at the earliest, and ask first."}}
		r.add(f)
	}
	w.judgeCounts(r)
}

// judgeTime judges the dive by its limit.
func (w *sequence) judgeTime(r *Result) {
	limit := r.Row.Limit
	if r.Residual.Undefined {
		r.add(RuleGroupUnchanged.Say(
			"{dive} to {depth} has no limit of time for a diver in group {group}, and leaves the group as it is.",
			r.name(), r.Depth, r.Before))
	}
	over := !limit.Allows(r.Total)
	if !over && limit.Allows(r.Total+w.set.Margin) {
		return
	}
	f := RuleNearLimit.Say("{dive} counts as {total} on the row of {row}, {left} before the no-stop limit of {limit}; "+
		"it should end {margin} before it.", r.name(), r.Total, r.Row.Depth, limit.At-r.Total, limit, w.set.Margin)
	if r.Dive.Done {
		f.Severity = finding.Note
	}
	if over {
		f = RuleLimitExceeded.Say("{dive} counts as {total} on the row of {row} ({under} under water and {residual} of "+
			"residual nitrogen), over the no-stop limit of {limit}.",
			r.name(), r.Total, r.Row.Depth, r.Under, r.Residual.Minutes, limit)
		f.Cures = w.cures(r)
	}
	f.Limit, f.Found = inMinutes(limit.At), inMinutes(r.Total)
	r.add(f.With("dive_of_day", r.OfDay).With("residual", r.Residual.Minutes).With("under", r.Under))
}

func inMinutes(m Minutes) *finding.Amount { return finding.Count(int(m), "min") }

// judgeCounts judges the day's dives and ascents by the centre's numbers.
func (w *sequence) judgeCounts(r *Result) {
	if r.OfDay > w.set.DivesADay {
		f := RuleManyDives.Say(
			"{dive}: the centre's number of dives a day is {limit}, crew and confined water included.",
			r.name(), w.set.DivesADay)
		f.Limit, f.Found = finding.Count(w.set.DivesADay, "dives"), finding.Count(r.OfDay, "dives")
		f.Cures = []finding.Cure{{Code: "another_person", Message: "Let another of the crew make this dive."}}
		r.add(f)
	}
	if r.Ascents > w.set.AscentsDay {
		f := RuleManyAscents.Say("{dive} brings the day's ascents to {ascents}, over {limit}.",
			r.name(), r.Ascents, w.set.AscentsDay)
		f.Limit, f.Found = finding.Count(w.set.AscentsDay, "ascents"), finding.Count(r.Ascents, "ascents")
		f.Cures = []finding.Cure{{Code: "fewer_ascents",
			Message: "Practise fewer ascents, or let another of the crew take some."}}
		r.add(f)
	}
}
