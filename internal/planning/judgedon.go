package planning

import (
	"slices"

	"tankside/internal/decision"
)

// judgedOn returns what the confirmation of a plan was judged on: what was known then,
// without names.
func judgedOn(p GasPlan, st planStage, now enriched) decision.GasPlan {
	in := now.Input
	in.Divers = slices.Clone(in.Divers)
	for i := range in.Divers {
		in.Divers[i].Name = ""
	}
	out := decision.GasPlan{PlanID: p.ID, GroupID: p.GroupID, Input: in, Present: []decision.GasPlanPart{},
		RuleBooks: now.Result.RuleBooks}
	for _, x := range st.Participants {
		part := st.parts[x.ID]
		out.Present = append(out.Present, decision.GasPlanPart{ParticipantID: part.ID, PersonID: part.PersonID,
			GroupID: part.GroupID, Dives: part.Counted})
	}
	return out
}
