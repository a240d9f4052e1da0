package plans

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/planview"
	"tankside/internal/units"
)

// The rules about a plan and the session that it is for.
var (
	NotThere = finding.Rule{ID: "planning.not_there", Severity: finding.Forbidden, Source: "our choice",
		Title: "A person of the plan does not take part",
		Text: "Each person of a plan takes part in the session: nobody counts on the gas of a person who sits " +
			"out or is away."}
	LeftOut = finding.Rule{ID: "planning.left_out", Severity: finding.Caution, Source: "our choice",
		Title: "A person of the group is not in the plan",
		Text: "The plan of a group is for everybody of the group who takes part, crew included, unless they have " +
			"a plan of their own."}
	Bolder = finding.Rule{ID: "planning.bolder_than_centre", Severity: finding.Caution,
		Source: "the centre's settings for gas",
		Title:  "Planned with less than the centre does",
		Text: "A plan keeps as much gas and takes as little risk as the centre's settings do; an instructor who " +
			"plans with less says why. The centre's floor always counts."}
	Overtaken = finding.Rule{ID: "planning.overtaken", Severity: finding.Forbidden, Source: "our choice",
		Title: "The plan has been overtaken",
		Text: "What is known when a plan is confirmed asks for no higher low-gas or turn pressure of anybody than " +
			"the plan says."}
)

// Rules returns the rules of this package. Their ids keep the prefix under which they
// were published.
func Rules() []finding.Rule {
	return []finding.Rule{NotThere, LeftOut, Bolder, Overtaken}
}

// judge returns the findings about a requested plan and its session: who is planned with
// and does not take part, who takes part and is left out, and which settings are bolder
// than the centre's.
func judge(s planview.Session, a gasplan.PlanRequest) finding.List {
	var out finding.List
	in := map[uuid.UUID]bool{}
	for _, v := range a.Divers {
		p := s.Divers[*v.ParticipantID]
		in[p.ID] = true
		if !p.Dives || a.GroupID != nil && (p.GroupID == nil || *p.GroupID != *a.GroupID) {
			f := NotThere.Say("{person} does not take part in what the plan is for.",
				p.Named()).About(p.Subject())
			f.Cures = []finding.Cure{{Code: "replan", Message: "Plan again and leave the person out."}}
			out = append(out, f)
		}
	}
	var missing []planview.Diver
	for _, p := range s.Divers {
		if !in[p.ID] && p.Dives && p.GroupID != nil && (a.GroupID == nil || *p.GroupID == *a.GroupID) {
			missing = append(missing, p)
		}
	}
	slices.SortFunc(missing, planview.Diver.Compare)
	for _, p := range missing {
		f := LeftOut.Say("{person} takes part and is not in the plan.", p.Named()).About(p.Subject())
		f.Cures = []finding.Cure{{Code: "replan",
			Message: "Plan with the person, or say why there is another plan."}}
		out = append(out, f)
	}
	return append(out, judgeSettings(a.Settings, s.Settings)...)
}

// judgeSettings returns the finding that a plan's settings are bolder than the centre's.
func judgeSettings(asked, centre gasplan.GasSettings) finding.List {
	all := centre.Or(gasplan.DefaultGasSettings())
	bold := asked.Or(all).Bolder(all)
	if len(bold) == 0 {
		return nil
	}
	f := Bolder.Say("The plan is made with less than the centre's settings ask for: {less}.",
		strings.Join(bold, "; "))
	f.Found = finding.Words(strings.Join(bold, "; "))
	f.Cures = []finding.Cure{{Code: "centre_settings", Message: "Leave these settings to the centre."}}
	return finding.List{f}
}

// overtaken returns the findings about pressures that would be higher if the plan were
// made now.
func overtaken(was, now gasplan.Result) finding.List {
	var out finding.List
	for i, p := range was.People {
		n := now.People[i]
		for _, c := range []struct {
			what      string
			was, need gasplan.Quantity
		}{{"low-gas", p.Low, n.Low}, {"turn", p.Turn, n.Turn}} {
			limit, found := c.was.Reading(), c.need.Reading()
			if limit.Unit == found.Unit && found.Value <= limit.Value ||
				limit.Unit.Dimension() != units.Pressures {
				continue
			}
			f := Overtaken.Say("By what is known now the {which} pressure of {person} is {needed}; the plan says {planned}.",
				c.what, p.Named(), found, limit)
			if p.ParticipantID != nil {
				f.Subjects = []finding.Subject{planview.Participant(*p.ParticipantID)}
			}
			f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(found)
			f.Cures = []finding.Cure{{Code: "replan",
				Message: "Plan again, with nothing changed if nothing has."}}
			out = append(out, f)
		}
	}
	return out
}
