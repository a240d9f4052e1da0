package readiness

import (
	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
)

// PartnerAway is found of a participant who is to dive by a plan that rests on
// somebody who does not.
var PartnerAway = finding.Rule{ID: "planning.partner_away", Severity: finding.Caution,
	Title: "The planned gas partner is present",
	Text: "The low-gas pressure of a plan is worked out for two: a diver and the partner who shares the gas on the way up. Where the " +
		"confirmed plan rests on a partner who is absent, left early, sits out, is marked as not fit or does not dive, it is pointed out " +
		"at roll call, at the opening and in the gas watch, until there is a new plan.",
	Source: "gas for two divers to the surface: common practice; that it is a caution is our choice"}

// byPlan returns the findings about partners of the plans of record.
func byPlan(v dayview.View) map[uuid.UUID]finding.List {
	var pairs []pair
	for _, plan := range v.Record() {
		who, there := v.Participant(plan.ParticipantID)
		if !there || !who.Dives() {
			continue
		}
		for _, s := range v.Sharing {
			if s.PlanID != plan.PlanID || s.ParticipantID != who.ID {
				continue
			}
			if on, there := v.Participant(s.PartnerID); there {
				pairs = add(pairs, pair{who, on})
			}
		}
	}
	out := map[uuid.UUID]finding.List{}
	for _, p := range sorted(pairs) {
		if why := away(v, p.on); why != "" {
			out[p.who.ID] = append(out[p.who.ID], partnerAway(p, why))
		}
	}
	return out
}

func partnerAway(p pair, why string) finding.Finding {
	f := PartnerAway.Say("{partner} {why}, and the plan has {person} share gas with them. It still rests on that.", named(p.on), why, named(p.who)).
		About(participant(p.who.ID), participant(p.on.ID))
	f.Cures = []finding.Cure{{Code: "replan", Message: "Give " + p.who.PersonName +
		" another partner: plan again and confirm it."},
		{Code: "sit_out", Message: "Or let " + p.who.PersonName + " sit out."}}
	return f
}
