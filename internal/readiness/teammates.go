package readiness

import (
	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
)

// TeamMateAway is found of a participant who went in with somebody who does not dive
// any more, where no plan says whom they share gas with.
var TeamMateAway = finding.Rule{ID: "training.team_mate_away", Severity: finding.Caution,
	Title: "The buddy is present",
	Text: "A diver who needs gas gets it from the buddy. Where no plan of record says with whom a person shares gas, it is whom they went in " +
		"with: those of the same team on the person's last dive of the session. Where one of them is absent, left early, sits out, is marked as " +
		"not fit or does not dive, it is pointed out at roll call, at the opening and in the gas watch, until the person goes in with others, or " +
		"is out of the water and the session is over. A time in without the name of a team tells of no pair.",
	Source: "nobody dives without a buddy: common practice; that it is a caution is our choice"}

// byTeam returns the findings about team mates of those whose last dive has no plan of
// record.
func byTeam(v dayview.View) map[uuid.UUID]finding.List {
	out, last := map[uuid.UUID]finding.List{}, map[uuid.UUID]dayview.TimeIn{}
	var pairs []pair
	for _, p := range v.Participants {
		own, went := lastIn(v, p.ID)
		if !p.Dives() || !went || own.Team == nil || planned(v, p.ID, own.DiveID) || v.EndedAt != nil &&
			own.OutAt != nil {
			continue
		}
		last[p.ID] = own
		for _, o := range v.Log {
			if o.DiveID != own.DiveID || o.Team == nil || *o.Team != *own.Team || o.ParticipantID == p.ID {
				continue
			}
			if mate, there := v.Participant(o.ParticipantID); there && away(v, mate) != "" {
				pairs = add(pairs, pair{p, mate})
			}
		}
	}
	for _, p := range sorted(pairs) {
		out[p.who.ID] = append(out[p.who.ID],
			teamMateAway(p, away(v, p.on), *last[p.who.ID].Team, numberOf(v, last[p.who.ID].DiveID)))
	}
	return out
}

// lastIn returns the last time in of a participant, of two at one time that with the
// smaller id.
func lastIn(v dayview.View, participant uuid.UUID) (last dayview.TimeIn, went bool) {
	for _, t := range v.Log { // by time and id
		if t.ParticipantID == participant && (!went || t.InAt.After(last.InAt)) {
			last, went = t, true
		}
	}
	return last, went
}

// planned reports whether a plan of record has a participant on a dive.
func planned(v dayview.View, participant, dive uuid.UUID) bool {
	for _, p := range v.Record() {
		if p.ParticipantID == participant && (p.DiveID == nil || *p.DiveID == dive) {
			return true
		}
	}
	return false
}

func numberOf(v dayview.View, dive uuid.UUID) int {
	for _, d := range v.Dives {
		if d.ID == dive {
			return d.Number
		}
	}
	return 0
}

func teamMateAway(p pair, why, team string, dive int) finding.Finding {
	f := TeamMateAway.Say(`{mate} {why}, and {person} went in with them as team "{team}" on dive {dive}.`,
		named(p.on), why, named(p.who), team, dive).
		About(participant(p.who.ID), participant(p.on.ID))
	f.Cures = []finding.Cure{{Code: "new_buddy", Message: "Give " + p.who.PersonName +
		" a buddy who dives, or confirm a plan that says whom " +
		p.who.PersonName + " shares gas with."}, {Code: "sit_out", Message: "Or let " + p.who.PersonName +
		" sit out."}}
	return f
}
