package readiness

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
)

// Untold returns what keeps participants out of the water who are to dive and were told
// no low-gas pressure: for the first dive of the session, or, once somebody has gone in
// on that one, for any. One finding names all who lack one for the same dive and reason.
func Untold(v dayview.View, parts []dayview.Participant) (out finding.List) {
	type key struct {
		dive    uuid.UUID
		because string
	}
	var order []key
	dives, who, refused := map[key]dayview.Dive{}, map[key][]dayview.Participant{}, finding.List{}
	for _, p := range parts {
		d, l := asked(v, p)
		if l == nil || !p.Dives() {
			continue
		}
		k := key{d.ID, l.because}
		if dives[k] = d; who[k] == nil {
			order = append(order, k)
		}
		who[k], refused = append(who[k], p), append(refused, l.refused...)
	}
	for _, k := range order {
		out = append(out, untold(dives[k], k.because, who[k]...))
	}
	return append(out, refused...)
}

// lack is why a participant lacks a low-gas pressure for a dive.
type lack struct {
	because string       // "" where there is no more to say
	refused finding.List // what forbids what they were told
}

// found returns the findings about a participant who lacks a low-gas pressure, none
// for nil.
func (l *lack) found(d dayview.Dive, p dayview.Participant) finding.List {
	if l == nil {
		return nil
	}
	return append(finding.List{untold(d, l.because, p)}, l.refused...)
}

// asked returns the dive for which a participant is asked for a low-gas pressure, and
// what they lack of it, nil for nothing.
func asked(v dayview.View, p dayview.Participant) (first dayview.Dive, lacking *lack) {
	for i, d := range v.Dives {
		now := lacks(v, p, d, nil)
		if i == 0 {
			first, lacking = d, now
		}
		if now == nil || i == 0 && !begun(v, d.ID) {
			return d, now
		}
	}
	return first, lacking
}

// begun reports whether somebody has gone in on a dive.
func begun(v dayview.View, dive uuid.UUID) bool {
	return slices.ContainsFunc(v.Log, func(t dayview.TimeIn) bool { return t.DiveID == dive })
}

// ToldBy is what told a participant a low-gas pressure for a dive: a confirmed plan, a
// briefing, or both, by their ids. The json tags are the form in which decisions keep
// it.
type ToldBy struct {
	Dive     uuid.UUID  `json:"dive"`
	Plan     *uuid.UUID `json:"plan,omitempty"`
	Briefing *uuid.UUID `json:"briefing,omitempty"`
}

// Told returns, by participant, what told everybody their low-gas pressure who is to
// dive and lacks none.
func Told(v dayview.View) map[uuid.UUID]ToldBy {
	out := map[uuid.UUID]ToldBy{}
	for _, p := range v.Participants {
		d, lacking := asked(v, p)
		if !p.Dives() || d.ID == uuid.Nil || lacking != nil {
			continue
		}
		by := ToldBy{Dive: d.ID}
		if plan, _ := countingPlan(v, p, d, nil); plan != nil {
			by.Plan = &plan.PlanID
		}
		if told, briefed := toldIn(v, p, d, nil); briefed && told.FiguresFor(&d.ID).Low != nil {
			by.Briefing = &told.BriefingID
		}
		out[p.ID] = by
	}
	return out
}

// UntoldAt returns what speaks against a participant's time in on a dive: that they
// had been told no low-gas pressure for it by then.
func UntoldAt(v dayview.View, participant, dive uuid.UUID, at time.Time) finding.List {
	p, there := v.Participant(participant)
	i := slices.IndexFunc(v.Dives, func(d dayview.Dive) bool { return d.ID == dive })
	if !there || i < 0 {
		return nil
	}
	return lacks(v, p, v.Dives[i], &at).found(v.Dives[i], p)
}

// LeftOpen returns the cautions about plans of the session that were left open.
func LeftOpen(v dayview.View) (out finding.List) {
	for _, p := range v.OpenPlans {
		out = append(out, leftOpen(v, p))
	}
	return out
}

// lacks returns what a participant lacks of a low-gas pressure for a dive, nil for
// nothing, as of an instant, nil for now. What a briefing told is refused where something forbids it, even
// beside a confirmed plan: the person would go by it.
func lacks(v dayview.View, p dayview.Participant, d dayview.Dive, at *time.Time) *lack {
	told, briefed := toldIn(v, p, d, at)
	if refused := toldForbidden(v, p, told, at); len(refused) > 0 {
		return &lack{"What the briefing told them is refused.", refused}
	}
	f := told.FiguresFor(&d.ID)
	gone := f.PlanID != nil && withdrawn(v, *f.PlanID, at)
	plan, refused := countingPlan(v, p, d, at)
	if plan == nil && len(refused) == 0 && !gone {
		refused = planForbidden(v, p, f.PlanID, at) // the plan that the briefing's figures come from
	}
	switch {
	case plan != nil:
		return nil
	case len(refused) > 0 && (f.Low == nil || f.PlanID != nil):
		return &lack{"The plan that told them one is refused.", refused}
	case !briefed || f.Low == nil || gone:
		return &lack{}
	case !told.InCharge:
		return &lack{because: "Who briefed them is in charge of no group here."}
	}
	return nil
}

// countingPlan returns the confirmed plan that tells a participant their pressures for
// a dive, nil for none, and what forbids the one that would.
func countingPlan(v dayview.View, p dayview.Participant, d dayview.Dive, at *time.Time) (*dayview.Plan,
	finding.List) {
	plan := planOf(v, p, d, at)
	if plan == nil {
		return nil, nil
	}
	if refused := planForbidden(v, p, &plan.PlanID, at); len(refused) > 0 {
		return nil, refused
	}
	return plan, nil
}

// toldIn returns the newest briefing that names a participant and is about a dive, as
// of an instant.
func toldIn(v dayview.View, p dayview.Participant, d dayview.Dive, at *time.Time) (dayview.Briefing, bool) {
	for _, b := range v.Briefings {
		if b.PersonID == p.PersonID && (b.DiveID == nil || *b.DiveID == d.ID) && !later(b.GivenAt, at) {
			return b, true
		}
	}
	return dayview.Briefing{}, false
}

// planOf returns the confirmed plan that tells a participant their pressures for a
// dive, nil for none: the last one of that dive, or else of every dive. A plan of one
// group tells nobody who is in another one now; what it was when they went in is not
// asked again.
func planOf(v dayview.View, p dayview.Participant, d dayview.Dive, at *time.Time) *dayview.Plan {
	var own, every *dayview.Plan
	for i, x := range v.Plans { // by turn
		if x.ParticipantID != p.ID || later(x.ConfirmedAt, at) {
			continue
		}
		switch {
		case x.DiveID == nil:
			every = &v.Plans[i]
		case *x.DiveID == d.ID:
			own = &v.Plans[i]
		}
	}
	switch {
	case tells(own, p, at):
		return own
	case tells(every, p, at):
		return every
	}
	return nil
}

func tells(x *dayview.Plan, p dayview.Participant, at *time.Time) bool {
	if x == nil || x.WithdrawnAt != nil && !later(*x.WithdrawnAt, at) {
		return false
	}
	return at != nil || x.GroupID == nil || is(p.GroupID, *x.GroupID)
}

// withdrawn reports whether a plan had been withdrawn.
func withdrawn(v dayview.View, plan uuid.UUID, at *time.Time) bool {
	return slices.ContainsFunc(v.Plans, func(x dayview.Plan) bool {
		return x.PlanID == plan && x.WithdrawnAt != nil && !later(*x.WithdrawnAt, at)
	})
}
