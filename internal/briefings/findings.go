package briefings

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// peopleFindings collects the findings about the people of a briefing, so that one
// finding names everybody whom it is about.
type peopleFindings struct {
	noPlan     []snapshotPerson
	noLow      []snapshotPerson
	individual finding.List
}

// addUnplanned adds a person who has no confirmed plan and goes by what the briefing
// tells.
func (l *peopleFindings) addUnplanned(p snapshotPerson, told Pressures) {
	l.noPlan = append(l.noPlan, p)
	if told.Low == nil {
		l.noLow = append(l.noLow, p)
	}
}

// addBelowPlan adds a finding for each told pressure that is below the confirmed plan's.
func (l *peopleFindings) addBelowPlan(p snapshotPerson, planned, told Pressures) {
	for _, x := range []struct {
		name          string
		planned, told *units.Reading
	}{{"turn", planned.Turn, told.Turn}, {"low-gas", planned.Low, told.Low}} {
		if x.planned == nil || x.told == nil || x.told.Compare(*x.planned) >= 0 {
			continue
		}
		f := BelowPlan.Say("The briefing gives {person} a {which} pressure of {said}; the confirmed plan says {planned}.",
			p.named(), x.name, *x.told, *x.planned).About(p.subject())
		f.Limit, f.Found = finding.Quantity(*x.planned), finding.Quantity(*x.told)
		f.Cures = []finding.Cure{{Code: "brief_again",
			Message: "Brief again with the plan's pressure, or plan again and confirm it."}}
		l.individual = append(l.individual, f)
	}
}

// addTrainedElsewhere adds the finding that a person was trained in another convention,
// with the differences.
func (l *peopleFindings) addTrainedElsewhere(p snapshotPerson, here, known signal.Convention) {
	differences := here.Differences(known)
	if len(differences) == 0 {
		return
	}
	words := make([]string, len(differences))
	for i, d := range differences {
		words[i] = fmt.Sprintf("%s: here %s, there %s", strings.ReplaceAll(d.What, "_", " "), d.Here, d.There)
	}
	f := KnowsOther.Say("{person} was trained in other signals ({convention}). {differences}.",
		p.named(), known.Name, strings.Join(words, ". ")).
		About(p.subject()).With("knows", known.Code).With("agreed", here.Code)
	f.Found = finding.Count(len(differences), "differences")
	f.Cures = []finding.Cure{{Code: "show_differences",
		Message: "Show the signs that differ, both ways, and have them repeated."}}
	l.individual = append(l.individual, f)
}

// list returns the findings.
func (l *peopleFindings) list() finding.List {
	var out finding.List
	if len(l.noPlan) > 0 {
		f := NoConfirmedPlan.Say("No confirmed gas plan is on record for {people}.", namesOf(l.noPlan)).
			About(subjects(l.noPlan)...)
		f.Cures = []finding.Cure{{Code: "confirm_plan",
			Message: "Confirm a gas plan and brief again, or go by the pressures that the briefing says."}}
		out = append(out, f)
	}
	if len(l.noLow) > 0 {
		f := NoLowPressure.Say("No low-gas pressure is agreed for {people}.", namesOf(l.noLow)).
			About(subjects(l.noLow)...)
		f.Cures = []finding.Cure{{Code: "agree_pressures",
			Message: "Say at which pressure low on gas is signalled, and brief again."}}
		out = append(out, f)
	}
	return append(out, l.individual...)
}

func namesOf(l []snapshotPerson) finding.Several {
	out := make(finding.Several, len(l))
	for i, p := range l {
		out[i] = p.named()
	}
	return out
}

func subjects(l []snapshotPerson) []finding.Subject {
	out := make([]finding.Subject, len(l))
	for i, p := range l {
		out[i] = p.subject()
	}
	return out
}

// roleWords are the roles of a briefing with what the person does.
var roleWords = []struct{ role, words string }{{"lead", "leads"}, {"last", "is last"},
	{"oxygen", "has the oxygen"}, {"radio", "has the radio"}}

// missingRoles returns the finding that roles are not assigned.
func (c storedContent) missingRoles(session uuid.UUID) finding.List {
	var open []string
	for _, r := range roleWords {
		if !slices.ContainsFunc(c.Roles, func(x Role) bool { return x.Role == r.role }) {
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

// noInterval returns the finding that no interval of gas checks was agreed.
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
