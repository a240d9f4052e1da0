package planning

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/units"
)

// The rules about a plan and the session that it is for.
var (
	NotThere = finding.Rule{ID: "planning.not_there", Severity: finding.Forbidden, Source: ours,
		Title: "A person of the plan does not take part", Text: "Each person of a plan takes part in the session: nobody counts on the gas of a person who sits out or is away."}
	LeftOut = finding.Rule{ID: "planning.left_out", Severity: finding.Caution, Source: ours,
		Title: "A person of the group is not in the plan", Text: "The plan of a group is for everybody of the group who takes part, crew included; where they are a plan of their own says."}
	Bolder = finding.Rule{ID: "planning.bolder_than_centre", Severity: finding.Caution,
		Source: "the centre's settings for gas",
		Title:  "Planned with less than the centre does", Text: "A plan keeps as much gas and takes as little risk as the centre's settings do; an instructor who plans with less says why. The centre's floor always counts."}
	Overtaken = finding.Rule{ID: "planning.overtaken", Severity: finding.Forbidden, Source: ours,
		Title: "The plan has been overtaken", Text: "What is known when a plan is confirmed asks for no higher low-gas or turn pressure of anybody than the plan says."}
)

// planRules lists the rules of gas plans themselves.
func planRules() []finding.Rule {
	return []finding.Rule{NotThere, LeftOut, Bolder, Overtaken}
}

func participant(id uuid.UUID) finding.Subject {
	return finding.Subject{Type: "participant", ID: id.String()}
}

// judge returns who is planned with and not there, and who is there and not
// planned with.
func (st planStage) judge(a gasplan.PlanRequest) finding.List {
	var out finding.List
	in := map[uuid.UUID]bool{}
	for _, v := range a.Divers {
		p := st.parts[*v.ParticipantID]
		in[p.ID] = true
		if !p.Counted || a.GroupID != nil && (p.GroupID == nil || *p.GroupID != *a.GroupID) {
			f := NotThere.Say("{person} does not take part in what the plan is for.",
				p.named()).About(participant(p.ID))
			f.Cures = []finding.Cure{{Code: "replan", Message: "Plan again and leave the person out."}}
			out = append(out, f)
		}
	}
	var missing []planPart
	for _, p := range st.parts {
		if !in[p.ID] && p.Counted && p.GroupID != nil && (a.GroupID == nil || *p.GroupID == *a.GroupID) {
			missing = append(missing, p)
		}
	}
	slices.SortFunc(missing,
		func(a, b planPart) int { return cmpText(a.Name+a.ID.String(), b.Name+b.ID.String()) })
	for _, p := range missing {
		f := LeftOut.Say("{person} takes part and is not in the plan.", p.named()).About(participant(p.ID))
		f.Cures = []finding.Cure{{Code: "replan",
			Message: "Plan with the person, or say why there is another plan."}}
		out = append(out, f)
	}
	return append(out, judgeSettings(a.Settings, st.settings)...)
}

// judgeSettings returns where a plan asks for less than the centre does.
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

func cmpText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// overtaken compares what was planned with what would be planned now.
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
				f.Subjects = []finding.Subject{participant(*p.ParticipantID)}
			}
			f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(found)
			f.Cures = []finding.Cure{{Code: "replan",
				Message: "Plan again, with nothing changed if nothing has."}}
			out = append(out, f)
		}
	}
	return out
}
