package readiness

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
)

// Untold returns, by participant, what keeps everybody out of the water who is to
// dive and was told no low-gas pressure: for the first dive of the session, or,
// once somebody has gone in on that one, for any.
func Untold(v dayview.View) map[uuid.UUID]finding.List {
	out := map[uuid.UUID]finding.List{}
	for _, p := range v.Participants {
		if !p.Dives() {
			continue
		}
		if _, found := asked(v, p); len(found) > 0 {
			out[p.ID] = found
		}
	}
	return out
}

// asked returns the dive for which a participant is asked for a low-gas pressure, and
// what is missing of it.
func asked(v dayview.View, p dayview.Participant) (first dayview.Dive, found finding.List) {
	for i, d := range v.Dives {
		now := lacks(v, p, d, nil)
		if i == 0 {
			first, found = d, now
		}
		if len(now) == 0 || i == 0 && !begun(v, d.ID) {
			return d, now
		}
	}
	return first, found
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
		d, found := asked(v, p)
		if !p.Dives() || d.ID == uuid.Nil || len(found) > 0 {
			continue
		}
		by := ToldBy{Dive: d.ID}
		if plan := planOf(v, p, d, nil); plan != nil {
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
	return lacks(v, p, v.Dives[i], &at)
}

// LeftOpen returns the cautions about plans of the session that were left open.
func LeftOpen(v dayview.View) (out finding.List) {
	for _, p := range v.OpenPlans {
		out = append(out, leftOpen(v, p))
	}
	return out
}

// lacks returns what is missing of a low-gas pressure for a dive, as of an instant,
// nil for now. What a briefing told is refused where something forbids it, even
// beside a confirmed plan: the person would go by it.
func lacks(v dayview.View, p dayview.Participant, d dayview.Dive, at *time.Time) finding.List {
	told, briefed := toldIn(v, p, d, at)
	if briefed && told.Told.Forbids() {
		return append(finding.List{untold(p, d, "What the briefing told them is refused.")}, told.Told.Only(finding.Forbidden)...)
	}
	f := told.FiguresFor(&d.ID)
	switch {
	case planOf(v, p, d, at) != nil:
		return nil
	case !briefed || f.Low == nil || f.PlanID != nil && withdrawn(v, *f.PlanID, at):
		return finding.List{untold(p, d, "")}
	case !told.InCharge:
		return finding.List{untold(p, d, "Who briefed them is in charge of no group here.")}
	}
	return nil
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
