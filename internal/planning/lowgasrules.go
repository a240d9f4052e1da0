package planning

import (
	"fmt"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/when"
)

// The rules about who was told which low-gas pressure, and about plans that were
// left open.
var (
	NoLowPressureTold = finding.Rule{ID: "planning.no_low_pressure_told", Severity: finding.Forbidden,
		Title:  "Nobody dives without a low-gas pressure",
		Text:   "A water session is opened, and joined while under way, only when everybody who is to make its first dive was told a low-gas pressure for it: by a confirmed plan, or in a briefing by an instructor in charge whose pressures nothing forbids. A time in of somebody who was told none for that dive is recorded, with this finding.",
		Source: "common practice: low on gas is signalled at the agreed pressure; who has to tell it is our choice"}
	PlanLeftOpen = finding.Rule{ID: "planning.plan_left_open", Severity: finding.Caution,
		Title:  "A plan was neither confirmed nor withdrawn",
		Text:   "A gas plan made after the last confirmed one, for the same dive and group, is confirmed or withdrawn before the session is opened. Whoever opens without that has seen what forbids the plan, and says why.",
		Source: ours}
	ToldNotJudged = finding.Rule{ID: "planning.told_not_judged", Severity: finding.Forbidden,
		Title:  "Told pressures that nothing can be worked out from",
		Text:   "Pressures that a briefing tells count when the dive that they are for is known: its depth from the briefing, the syllabus or the site, and figures that are possible.",
		Source: ours}
	ToldNotInCharge = finding.Rule{ID: "planning.told_not_in_charge", Severity: finding.Caution,
		Title:  "Pressures are told by an instructor in charge",
		Text:   "Pressures that a briefing tells count for opening the session when an instructor in charge of one of its groups gave the briefing.",
		Source: ours}
	ToldAssumed = finding.Rule{ID: "planning.told_assumed", Severity: finding.Note,
		Title:  "What told pressures were judged by",
		Text:   "Told pressures are judged for two people on one cylinder, at the rate learned of each person or the novice's. Where the briefing names no depth, the greatest that the dive may have counts; where it names no time, the least duration of the training dive or 20 min; where it names no cylinder, the smallest that the centre has set.",
		Source: ours}
)

// lowGasRules lists them.
func lowGasRules() []finding.Rule {
	return []finding.Rule{NoLowPressureTold, PlanLeftOpen, ToldNotJudged, ToldNotInCharge, ToldAssumed}
}

// untold returns the finding that a participant was told no low-gas pressure for a
// dive; because is "" where there is no more to say.
func (p toldPart) untold(dive toldDive, because string) finding.Finding {
	f := NoLowPressureTold.Say("{person} was told no low-gas pressure for dive {dive}.", p.Name, dive.Number).About(
		participant(p.ID), finding.Subject{Type: "person", ID: p.PersonID.String()}, finding.Subject{Type: "dive", ID: dive.ID.String()})
	if because != "" {
		f.Message += " " + because
		f.Params["because"] = because
	}
	f.Cures = []finding.Cure{
		{Code: "tell_pressure", Message: "Tell them a low-gas pressure in a briefing, or confirm a plan."},
		{Code: "sit_out", Message: "Let the person sit out."},
	}
	if p.Crew {
		f.Cures = append(f.Cures, finding.Cure{Code: "not_diving", Message: "Mark somebody of the crew who stays out of the water as not diving."})
	}
	return f
}

// finding returns the caution that a plan was left open, with what forbids it.
func (p openPlan) finding() finding.Finding {
	zone, err := when.Zone(p.TimeZone, "")
	if err != nil {
		zone = nil // a zone that was known once and is no more
	}
	f := PlanLeftOpen.Say("The gas plan for {for}, made {made_at}, was neither confirmed nor withdrawn.",
		p.purpose(), finding.DayAndClock(p.PlannedAt, zone)).About(finding.Subject{Type: "gas_plan", ID: p.ID.String()})
	var why []string
	for _, x := range p.Findings.Only(finding.Forbidden) {
		why = append(why, x.Message)
	}
	if len(why) > 0 {
		f.Message += " It is forbidden: " + strings.Join(why, " ")
		f.Found = finding.Words(strings.Join(why, " "))
		f.Params["forbidden"] = strings.Join(why, " ")
	}
	f.Cures = []finding.Cure{
		{Code: "confirm_plan", Message: "Confirm the plan, or one made anew from it."},
		{Code: "withdraw_plan", Message: "Withdraw the plan, with a reason."},
	}
	return f
}

// purpose returns what the plan is for, in words.
func (p openPlan) purpose() string {
	out := "the session"
	if p.Dive != nil {
		out = fmt.Sprintf("dive %d", *p.Dive)
	}
	if p.Group != nil {
		out += fmt.Sprintf(" of group %q", *p.Group)
	}
	return out
}
