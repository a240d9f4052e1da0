package readiness

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gas"
)

// TooDeepNow is found of a diver whose birth date was corrected after a plan was
// confirmed or a briefing recorded, whose dive is too deep by the age that they have.
var TooDeepNow = finding.Rule{ID: "planning.too_deep_since_correction", Severity: finding.Forbidden,
	Title: "The depth of a dive is judged again when a birth date is corrected",
	Text: "Where the birth date of a diver is corrected after a gas plan was confirmed, or after a briefing named a depth and told " +
		"them pressures for it, that depth is judged again by the limits of the age that the diver now has on the day of the " +
		"session. While it is too deep for them, the plan or the briefing tells them no low-gas pressure. Sessions that are " +
		"over keep what they were judged by.",
	Source: "our choice"}

// sinceCorrected is the part that the messages of TooDeepNow have in common.
const sinceCorrected = "Since the birth date of {person} was corrected, their limit is {limit} ({because})."

// TooDeepFor returns what forbids confirmed plans and newest briefings to a person who
// is to dive since their birth date was corrected.
func TooDeepFor(v dayview.View, who uuid.UUID) (out finding.List) {
	p, there := v.PartOf(who)
	if !there || !p.Dives() {
		return nil
	}
	for _, d := range v.Dives {
		if plan := planOf(v, p, d, nil); plan != nil {
			out = append(out, planForbidden(v, p, &plan.PlanID, nil)...)
		}
		if told, briefed := toldIn(v, p, d, nil); briefed {
			out = append(out, toldForbidden(v, p, told, nil).Of(TooDeepNow)...)
		}
	}
	return out
}

// planForbidden returns what forbids a plan to a participant since their birth date was
// corrected, as of an instant, nil for now.
func planForbidden(v dayview.View, p dayview.Participant, plan *uuid.UUID, at *time.Time) finding.List {
	if plan == nil {
		return nil
	}
	a, aged := agedOf(v, dayview.AgedPlan, *plan, p.ID, at)
	if !aged {
		return nil
	}
	return tooDeepNow(v, p, a, "The confirmed plan goes to {depth}. "+sinceCorrected,
		finding.Cure{Code: "replan", Message: "Plan a shallower dive from this plan, and confirm it."})
}

// toldForbidden returns what forbids the pressures that a briefing told a participant.
// What was found of the depth by the age that they had before their birth date was
// corrected is found again by the age that they have.
func toldForbidden(v dayview.View, p dayview.Participant, told dayview.Briefing, at *time.Time) finding.List {
	found := told.Told.Only(finding.Forbidden)
	a, aged := agedOf(v, dayview.AgedBriefing, told.BriefingID, p.ID, at)
	if !aged || !slices.ContainsFunc(told.Figures, ownFigures) {
		return found
	}
	found = slices.DeleteFunc(found, func(f finding.Finding) bool { return f.Rule == gas.DepthOverPerson.ID })
	return append(found, tooDeepNow(v, p, a, "The briefing told pressures for {depth}. "+sinceCorrected,
		finding.Cure{Code: "reduce_depth", Message: "Brief a shallower dive."})...)
}

// ownFigures reports whether figures are the briefing's own: what it told beside a plan
// was not judged by a depth that it named.
func ownFigures(f dayview.Figures) bool {
	return f.PlanID == nil && (f.Start != nil || f.Turn != nil || f.Low != nil)
}

// agedOf returns the dive that a participant was judged for by a plan or a briefing
// before their birth date was corrected, and whether it had been corrected by then.
func agedOf(v dayview.View, kind string, id, participant uuid.UUID, at *time.Time) (dayview.Aged, bool) {
	i := slices.IndexFunc(v.Aged, func(a dayview.Aged) bool {
		return a.Kind == kind && a.ID == id && a.ParticipantID == participant && !later(a.CorrectedAt, at)
	})
	if i < 0 {
		return dayview.Aged{}, false
	}
	return v.Aged[i], true
}

// tooDeepNow returns what forbids the depth of a dive to a participant, by the
// strictest of the limits that they have now.
func tooDeepNow(
	v dayview.View, p dayview.Participant, a dayview.Aged, template string, cure finding.Cure,
) finding.List {
	books, err := v.Centre.Books()
	if err != nil {
		books = nil // whoever judges the groups of the session fails on it
	}
	limits := DepthLimits(v, books, Diver{Role: p.Role, Age: v.People[p.PersonID].Age, Syllabus: a.Syllabus},
		a.DiveID)
	if len(limits) == 0 {
		return nil
	}
	least := slices.MinFunc(limits, func(a, b DepthLimit) int { return a.Depth.Compare(b.Depth) })
	if least.Depth.Compare(a.Depth) >= 0 {
		return nil
	}
	f := TooDeepNow.Say(template, a.Depth, named(p), least.Depth, least.Because).
		About(participant(p.ID), person(p.PersonID), finding.Subject{Type: a.Kind, ID: a.ID.String()})
	f.Limit, f.Found = finding.Quantity(least.Depth), finding.Quantity(a.Depth)
	if least.Source != "" {
		f.Source = least.Source
	}
	f.Cures = []finding.Cure{cure, {Code: "sit_out", Message: "Let the person sit out."}}
	return finding.List{f}
}
