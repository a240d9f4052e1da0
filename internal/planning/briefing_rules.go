package planning

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/readiness"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// The rules of briefings. A briefing is a fact, so none of them refuses it.
var (
	NoConfirmedPlan = finding.Rule{ID: "planning.no_confirmed_plan", Severity: finding.Caution,
		Title:  "Pressures come from a confirmed plan",
		Text:   "A person for whom no confirmed gas plan is on record goes by the pressures that the briefing says, if it says any.",
		Source: "our choice"}
	NoLowPressure = finding.Rule{ID: "planning.no_low_pressure", Severity: finding.Caution,
		Title:  "Everybody knows their low-gas pressure",
		Text:   "Before the dive everybody knows at which pressure they signal low on gas, from a confirmed plan or as the briefing says.",
		Source: "low on gas is signalled at the agreed pressure: training organisations' manuals (seen)"}
	BelowPlan = finding.Rule{ID: "planning.below_plan", Severity: finding.Caution,
		Title:  "A briefing does not go below the plan",
		Text:   "A turn or low-gas pressure below that of the confirmed plan leaves less gas than was planned for. It is kept as it was said, and pointed out.",
		Source: "our choice"}
	KnowsOther = finding.Rule{ID: "planning.knows_other_convention", Severity: finding.Caution,
		Title:  "A person was trained in other signals",
		Text:   "Signals differ by region and training organisation. A person who learned others is shown the signs that differ before the dive.",
		Source: "common practice"}
	BriefAgain = finding.Rule{ID: "planning.brief_again", Severity: finding.Note,
		Title:  "A plan tells people other pressures than their briefing",
		Text:   "Confirming a plan names everybody who was briefed with other pressures, as hands show both. They are not cleared for the water until they are briefed again.",
		Source: "our choice"}
	RoleOpen = finding.Rule{ID: "planning.role_open", Severity: finding.Note,
		Title:  "Who does what is said",
		Text:   "A briefing says who leads and who is last, and who has the oxygen and the radio.",
		Source: "common practice"}
	NoInterval = finding.Rule{ID: "planning.no_check_interval", Severity: finding.Note,
		Title:  "How often gas is checked is agreed",
		Text:   "Where a briefing agrees no interval, no gas check is ever due and none is late. Gas is usually looked at every minute or two.",
		Source: "common practice"}
)

func briefingRules() []finding.Rule {
	return []finding.Rule{NoConfirmedPlan, NoLowPressure, BelowPlan, KnowsOther, BriefAgain, RoleOpen,
		NoInterval}
}

// briefingJudge gathers what speaks against what a briefing says to people, so
// that one finding names everybody whom it is about.
type briefingJudge struct {
	session    uuid.UUID
	noPlan     []briefingPart
	noLow      []briefingPart
	individual finding.List
}

func (p briefingPart) subject() finding.Subject {
	return finding.Subject{Type: "person", ID: p.PersonID.String()}
}

func (j *briefingJudge) unplanned(p briefingPart, said Pressures) {
	j.noPlan = append(j.noPlan, p)
	if said.Low == nil {
		j.noLow = append(j.noLow, p)
	}
}

// below points out figures that are lower than a confirmed plan's.
func (j *briefingJudge) below(p briefingPart, planned, said Pressures) {
	for _, x := range []struct {
		name          string
		planned, said *units.Reading
	}{{"turn", planned.Turn, said.Turn}, {"low-gas", planned.Low, said.Low}} {
		if x.planned == nil || x.said == nil || x.said.Compare(*x.planned) >= 0 {
			continue
		}
		f := BelowPlan.Say("The briefing gives {person} a {which} pressure of {said}; the confirmed plan says {planned}.",
			finding.Person(p.PersonID, p.Name), x.name, *x.said, *x.planned).About(p.subject())
		f.Limit, f.Found = finding.Quantity(*x.planned), finding.Quantity(*x.said)
		f.Cures = []finding.Cure{{Code: "brief_again",
			Message: "Brief again with the plan's pressure, or plan again and confirm it."}}
		j.individual = append(j.individual, f)
	}
}

// knowsOther points out somebody who was trained in another convention.
func (j *briefingJudge) knowsOther(p briefingPart, here, known signal.Convention) {
	differences := here.Differences(known)
	if len(differences) == 0 {
		return
	}
	words := make([]string, len(differences))
	for i, d := range differences {
		words[i] = fmt.Sprintf("%s: here %s, there %s", strings.ReplaceAll(d.What, "_", " "), d.Here, d.There)
	}
	f := KnowsOther.Say("{person} was trained in other signals ({convention}). {differences}.",
		finding.Person(p.PersonID, p.Name), known.Name, strings.Join(words, ". ")).
		About(p.subject()).With("knows", known.Code).With("agreed", here.Code)
	f.Found = finding.Count(len(differences), "differences")
	f.Cures = []finding.Cure{{Code: "show_differences",
		Message: "Show the signs that differ, both ways, and have them repeated."}}
	j.individual = append(j.individual, f)
}

func (j *briefingJudge) findings() finding.List {
	var out finding.List
	if len(j.noPlan) > 0 {
		f := NoConfirmedPlan.Say("No confirmed gas plan is on record for {people}.", namesOf(j.noPlan)).
			About(subjects(j.noPlan)...)
		f.Cures = []finding.Cure{{Code: "confirm_plan",
			Message: "Confirm a gas plan and brief again, or go by the pressures that the briefing says."}}
		out = append(out, f)
	}
	if len(j.noLow) > 0 {
		f := NoLowPressure.Say("No low-gas pressure is agreed for {people}.", namesOf(j.noLow)).
			About(subjects(j.noLow)...)
		f.Cures = []finding.Cure{{Code: "agree_pressures",
			Message: "Say at which pressure low on gas is signalled, and brief again."}}
		out = append(out, f)
	}
	return append(out, j.individual...)
}

func namesOf(l []briefingPart) finding.Several {
	out := make(finding.Several, len(l))
	for i, p := range l {
		out[i] = finding.Person(p.PersonID, p.Name)
	}
	return out
}

func subjects(l []briefingPart) []finding.Subject {
	out := make([]finding.Subject, len(l))
	for i, p := range l {
		out[i] = p.subject()
	}
	return out
}

// roleWords are what each role does.
var roleWords = []struct{ role, words string }{{"lead", "leads"}, {"last", "is last"},
	{"oxygen", "has the oxygen"}, {"radio", "has the radio"}}

func (c briefingContent) missingRoles(session uuid.UUID) finding.List {
	var open []string
	for _, r := range roleWords {
		if !slices.ContainsFunc(c.Roles, func(x BriefingRole) bool { return x.Role == r.role }) {
			open = append(open, r.words)
		}
	}
	if len(open) == 0 {
		return nil
	}
	f := RoleOpen.Say("The briefing does not say who {roles}.", strings.Join(open, ", who ")).
		About(finding.Subject{Type: "session", ID: session.String()})
	f.Cures = []finding.Cure{{Code: "say_roles", Message: "Say who does it."}}
	return finding.List{f}
}

func noInterval(session uuid.UUID, every *units.Reading) finding.List {
	if every != nil {
		return nil
	}
	f := NoInterval.Of("No interval of gas checks was agreed.",
		finding.Subject{Type: "session", ID: session.String()})
	f.Cures = []finding.Cure{{Code: "agree_interval",
		Message: "Agree how often gas is checked, and brief again."}}
	return finding.List{f}
}

// briefAgain returns the finding of a person who confirms a plan about those whom it
// gives other pressures than they were told.
func briefAgain(all []readiness.ToldOtherwise) finding.List {
	if len(all) == 0 {
		return nil
	}
	f := BriefAgain.Say("To be briefed again, since this plan gives them other pressures than they were told: {people}.",
		readiness.ToBriefAgain(all))
	for _, o := range all {
		f.Subjects = append(f.Subjects, o.Subjects()...)
	}
	f.Found = finding.Count(len(all), "people")
	f.Cures = []finding.Cure{{Code: "brief_again",
		Message: "Brief them again with the pressures of this plan, and have it acknowledged."}}
	return finding.List{f}
}
