package readiness

import (
	"fmt"
	"strings"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/when"
)

// The rules about who was told which low-gas pressure, and about plans that were
// left open.
var (
	NoLowPressureTold = finding.Rule{ID: "planning.no_low_pressure_told", Severity: finding.Forbidden,
		Title: "Nobody dives without a low-gas pressure",
		Text: "A water session is opened, and joined while under way, only when everybody who is to make its first dive was told a low-gas " +
			"pressure for it: by a confirmed plan, or in a briefing by an instructor in charge whose pressures nothing forbids. A time in of " +
			"a person who was told none for that dive is recorded, with this finding.",
		Source: "common practice: low on gas is signalled at the agreed pressure; who has to tell it is our choice"}
	PlanLeftOpen = finding.Rule{ID: "planning.plan_left_open", Severity: finding.Caution,
		Title: "A plan was neither confirmed nor withdrawn",
		Text: "A gas plan made after the last confirmed one, for the same dive and group, is confirmed or withdrawn before the session is " +
			"opened. A person who opens without that has seen what forbids the plan, and says why.",
		Source: "our choice"}
)

// untold returns the finding that participants, one or more, were told no low-gas
// pressure for a dive; because is "" where there is no more to say.
func untold(d dayview.Dive, because string, who ...dayview.Participant) finding.Finding {
	var names finding.Several
	var about []finding.Subject
	var crew bool
	for _, p := range who {
		names, about = append(names, finding.Person(p.PersonID, p.PersonName)), append(about, participant(p.ID),
			person(p.PersonID))
		crew = crew || p.Role != dayview.Student
	}
	f := NoLowPressureTold.Say("{person} was told no low-gas pressure for dive {dive}.", names[0], d.Number)
	sitOut := finding.Cure{Code: "sit_out", Message: "Let the person sit out."}
	if len(who) > 1 {
		f = NoLowPressureTold.Say("{people} were told no low-gas pressure for dive {dive}.", names, d.Number)
		sitOut.Message = "Let the people sit out whom nobody tells one."
	}
	f = f.About(append(about, finding.Subject{Type: "dive", ID: d.ID.String()})...)
	if because != "" {
		f.Message += " " + because
		f.Params["because"] = because
	}
	f.Cures = []finding.Cure{{Code: "tell_pressure",
		Message: "Tell them a low-gas pressure in a briefing, or confirm a plan."}, sitOut}
	if crew {
		f.Cures = append(f.Cures, finding.Cure{Code: "not_diving",
			Message: "Mark a member of the crew who stays out of the water as not diving."})
	}
	return f
}

// leftOpen returns the caution that a plan was left open, with what forbids it.
func leftOpen(v dayview.View, p dayview.OpenPlan) finding.Finding {
	zone, err := when.Zone(v.TimeZone, "")
	if err != nil {
		zone = nil // a zone that was known once and is no more
	}
	f := PlanLeftOpen.Say("The gas plan for {for}, made {made_at}, was neither confirmed nor withdrawn.",
		purpose(v, p), finding.DayAndClock(p.PlannedAt, zone)).About(finding.Subject{Type: "gas_plan",
		ID: p.ID.String()})
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
		{Code: "confirm_plan", Message: "Confirm the plan, or a new one made from it."},
		{Code: "withdraw_plan", Message: "Withdraw the plan, with a reason."},
	}
	return f
}

// purpose returns what a plan is for, in words.
func purpose(v dayview.View, p dayview.OpenPlan) string {
	out := "the session"
	for _, d := range v.Dives {
		if is(p.DiveID, d.ID) {
			out = fmt.Sprintf("dive %d", d.Number)
		}
	}
	for _, g := range v.Groups {
		if is(p.GroupID, g.ID) {
			out += fmt.Sprintf(" of group %q", g.Name)
		}
	}
	return out
}
