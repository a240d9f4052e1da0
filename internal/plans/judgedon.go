package plans

import (
	"slices"

	"tankside/internal/decision"
	"tankside/internal/planview"
)

// judgedOn returns what the confirmation of a plan was judged on: what was known then,
// without names.
func judgedOn(p Plan, s planview.Session, now computed) decision.GasPlan {
	in := now.Input
	in.Divers = slices.Clone(in.Divers)
	for i := range in.Divers {
		in.Divers[i].Name = ""
	}
	out := decision.GasPlan{PlanID: p.ID, GroupID: p.GroupID, Input: in, Present: []decision.GasPlanPart{},
		RuleBooks: now.Result.RuleBooks}
	for _, x := range s.Participants {
		d := s.Divers[x.ID]
		out.Present = append(out.Present, decision.GasPlanPart{ParticipantID: d.ID, PersonID: d.PersonID,
			GroupID: d.GroupID, Dives: d.Dives})
	}
	return out
}
