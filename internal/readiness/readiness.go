// Package readiness finds what keeps the participants of a session out of its water,
// beside papers, the ratio and what was learned: no low-gas pressure, pressures that
// no longer count, and partners and team mates who do not dive.
//
// It owns the rules about that, and is pure: it judges a dayview.View, for an
// opening, a roll call, a time in, the gas watch and a person's day alike. It must
// not know where the view comes from, nor what a caller does about a finding.
package readiness

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
)

// Rules returns the rules of this package.
func Rules() []finding.Rule {
	return []finding.Rule{BriefingOutdated, BriefAgain, NoLowPressureTold, PlanLeftOpen, TooDeepNow, PartnerAway,
		TeamMateAway}
}

func participant(id uuid.UUID) finding.Subject {
	return finding.Subject{Type: "participant", ID: id.String()}
}

// named returns a participant's person as a message calls them.
func named(p dayview.Participant) finding.Named { return finding.Person(p.PersonID, p.PersonName) }

func person(id uuid.UUID) finding.Subject {
	return finding.Subject{Type: "person", ID: id.String()}
}

// is reports whether an optional id is there and is that id.
func is(id *uuid.UUID, that uuid.UUID) bool { return id != nil && *id == that }

// later reports whether something came after an instant; nothing comes after nil,
// which is now.
func later(x time.Time, at *time.Time) bool { return at != nil && x.After(*at) }

// away returns why a participant is not there to share gas, "" where they are.
func away(v dayview.View, p dayview.Participant) string {
	switch {
	case !p.Counted:
		return map[dayview.Attendance]string{dayview.Absent: "is absent", dayview.LeftEarly: "left early",
			dayview.SatOut: "sits out"}[p.Attendance]
	case v.People[p.PersonID].Unfit:
		return "is marked as not fit"
	case p.NotDiving:
		return "does not dive"
	}
	return ""
}

// PartnersAway returns, by participant, the findings about those who are to dive by a
// confirmed plan, or without one as one of a team, that rests on somebody who does
// not.
func PartnersAway(v dayview.View) map[uuid.UUID]finding.List {
	out := byPlan(v)
	for id, found := range byTeam(v) {
		out[id] = append(out[id], found...)
	}
	return out
}

// pair is a participant and whom they rest on.
type pair struct{ who, on dayview.Participant }

// add adds a pair that is not there yet.
func add(pairs []pair, p pair) []pair {
	if slices.ContainsFunc(pairs, func(o pair) bool { return o.who.ID == p.who.ID && o.on.ID == p.on.ID }) {
		return pairs
	}
	return append(pairs, p)
}

// sorted returns pairs by the names of both.
func sorted(pairs []pair) []pair {
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(strings.Compare(a.who.PersonName, b.who.PersonName),
			slices.Compare(a.who.ID[:], b.who.ID[:]),
			strings.Compare(a.on.PersonName, b.on.PersonName))
	})
	return pairs
}
