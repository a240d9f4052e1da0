package readiness

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/units"
)

// BriefingOutdated is found of a participant whom a plan confirmed since gives other
// pressures than the newest briefing told them.
var BriefingOutdated = finding.Rule{ID: "planning.briefing_outdated", Severity: finding.Forbidden,
	Title: "A briefing tells the pressures that count",
	Text: "A person who was told another start, turn or low-gas pressure than the plan confirmed since gives them, as hands show both, is briefed " +
		"again: before the session is opened, and, in the water, as the instructor in charge decides. A session under way is not stopped by " +
		"it, and a time in is never refused. Where what is shown stayed the same, nothing is asked.",
	Source: "our choice"}

// BriefAgain is found of participants whom a plan that is confirmed gives other pressures
// than the newest briefing told them.
var BriefAgain = finding.Rule{ID: "planning.brief_again", Severity: finding.Note,
	Title: "A plan tells people other pressures than their briefing",
	Text: "Confirming a plan names everybody who was briefed with other pressures, as hands show both. They are " +
		"not cleared for the water until they are briefed again.",
	Source: "our choice"}

// ToldOtherwise is a participant whom the newest briefing that names them told other
// pressures than those that a plan confirmed since gives them. A new briefing cures
// it; acknowledging the old one again does not, since it says what was said.
type ToldOtherwise struct {
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	BriefingID    uuid.UUID
	Changes       []Change
}

// Change is a pressure as it was told and as it counts now, both as hands show them:
// whatever stays within the step of 10 bar or 100 psi is no change.
type Change struct {
	Figure string         // "start", "turn" or "low-gas"
	Told   *units.Reading // nil: none was told
	Now    units.Reading
	PlanID uuid.UUID
	Since  time.Time   // when the plan was confirmed
	Dive   *int        // number of the dive that the plan is for, nil for every dive without a plan of its own
	dives  []uuid.UUID // of the session, to which the plan applies
}

// Outdated returns everybody who takes part in a session and is to be briefed again,
// by name.
func Outdated(v dayview.View) []ToldOtherwise { return outdated(v, v.Record()) }

// OutdatedBy returns those whom confirming a plan would give other pressures than they
// were told; plan is what it has for each participant.
func OutdatedBy(v dayview.View, plan []dayview.Plan) []ToldOtherwise {
	if len(plan) == 0 {
		return nil
	}
	record := v.Record()
	for _, p := range plan {
		record = append(slices.DeleteFunc(record, func(o dayview.Plan) bool {
			return o.ParticipantID == p.ParticipantID && diveOf(o) == diveOf(p)
		}), p)
	}
	return slices.DeleteFunc(outdated(v, record), func(o ToldOtherwise) bool {
		return !slices.ContainsFunc(o.Changes, func(c Change) bool { return c.PlanID == plan[0].PlanID })
	})
}

// BriefAgainBy returns the finding, for the person who confirms a plan, about those whom
// it would give other pressures than they were told; plan is what it has for each
// participant.
func BriefAgainBy(v dayview.View, plan []dayview.Plan) finding.List {
	all := OutdatedBy(v, plan)
	if len(all) == 0 {
		return nil
	}
	f := BriefAgain.Say("To be briefed again, since this plan gives them other pressures than they were told: {people}.",
		ToBriefAgain(all))
	for _, o := range all {
		f.Subjects = append(f.Subjects, o.Subjects()...)
	}
	f.Found = finding.Count(len(all), "people")
	f.Cures = []finding.Cure{{Code: "brief_again",
		Message: "Brief them again with the pressures of this plan, and have it acknowledged."}}
	return finding.List{f}
}

// diveOf returns the dive of a plan, the zero id for every dive.
func diveOf(p dayview.Plan) uuid.UUID {
	if p.DiveID == nil {
		return uuid.Nil
	}
	return *p.DiveID
}

func outdated(v dayview.View, record []dayview.Plan) (out []ToldOtherwise) {
	for _, p := range v.Participants {
		told, briefed := v.Newest(p.PersonID)
		if !p.Counted || !briefed {
			continue
		}
		o := ToldOtherwise{ParticipantID: p.ID, PersonID: p.PersonID, Name: p.PersonName,
			BriefingID: told.BriefingID}
		for _, plan := range record {
			if plan.ParticipantID != p.ID {
				continue
			}
			number, dives, counts := appliesTo(v, record, plan)
			if !counts {
				continue
			}
			for _, c := range against(told, plan) {
				c.Dive, c.dives = number, dives
				o.Changes = append(o.Changes, c)
			}
		}
		if len(o.Changes) > 0 {
			out = append(out, o)
		}
	}
	slices.SortFunc(out, func(a, b ToldOtherwise) int {
		return strings.Compare(a.Name+a.PersonID.String(), b.Name+b.PersonID.String())
	})
	return out
}

// appliesTo returns the dives to which a participant's plan applies: its own, or every
// dive of the session without one. It counts for nothing where each has its own.
func appliesTo(v dayview.View, record []dayview.Plan, p dayview.Plan) (number *int, dives []uuid.UUID,
	counts bool) {
	for i, d := range v.Dives {
		switch {
		case p.DiveID == nil && !hasOwn(record, p.ParticipantID, d.ID):
			dives = append(dives, d.ID)
		case is(p.DiveID, d.ID):
			return &v.Dives[i].Number, []uuid.UUID{d.ID}, true
		}
	}
	return nil, dives, p.DiveID == nil && (len(dives) > 0 || len(v.Dives) == 0)
}

func hasOwn(record []dayview.Plan, participant, dive uuid.UUID) bool {
	return slices.ContainsFunc(record,
		func(p dayview.Plan) bool { return p.ParticipantID == participant && is(p.DiveID, dive) })
}

// against compares what was told with a plan, as the person's gauge and hands show
// both. Of the same plan the briefing may have said something else, which is agreed
// and was pointed out then.
func against(told dayview.Briefing, p dayview.Plan) (out []Change) {
	f := told.FiguresFor(p.DiveID)
	if is(f.PlanID, p.PlanID) {
		return nil
	}
	said, now := f.Pressures().OnHand(told.GaugeUnit), p.Pressures().OnHand(told.GaugeUnit)
	for _, x := range []struct {
		name      string
		told, now *units.Reading
	}{{"start", said.Start, now.Start}, {"turn", said.Turn, now.Turn}, {"low-gas", said.Low, now.Low}} {
		if x.now != nil && (x.told == nil || *x.told != *x.now) {
			out = append(out, Change{Figure: x.name, Told: x.told, Now: *x.now, PlanID: p.PlanID,
				Since: p.ConfirmedAt})
		}
	}
	return out
}

// OutdatedAt returns what speaks against a participant's time in on a dive: that they
// had been told other pressures than those that counted by then.
func OutdatedAt(v dayview.View, participant, dive uuid.UUID, at time.Time) finding.List {
	for _, o := range Outdated(v) {
		if o = o.At(dive, at); o.ParticipantID == participant && len(o.Changes) > 0 {
			return finding.List{o.Finding()}
		}
	}
	return nil
}

// At leaves what counted on a dive at a moment; no change is left where the person
// went in as briefed.
func (o ToldOtherwise) At(dive uuid.UUID, at time.Time) ToldOtherwise {
	o.Changes = slices.DeleteFunc(slices.Clone(o.Changes),
		func(c Change) bool { return c.Since.After(at) || !slices.Contains(c.dives, dive) })
	return o
}

// Finding returns what the person was told and what counts now.
func (o ToldOtherwise) Finding() finding.Finding {
	told, now := o.Words()
	f := BriefingOutdated.Say("{person} was told {told}; the plan confirmed since says {now}.",
		finding.Person(o.PersonID,
			o.Name), told, now).About(o.Subjects()...).With("changes", changes(o.Changes))
	f.Limit, f.Found = finding.Words(now), finding.Words(told)
	f.Cures = []finding.Cure{
		{Code: "brief_again", Message: "Brief the person again with the pressures that count now, and have it acknowledged."},
		{Code: "sit_out", Message: "Let the person sit out."},
	}
	return f
}

// Subjects returns the participant and the person.
func (o ToldOtherwise) Subjects() []finding.Subject {
	return []finding.Subject{participant(o.ParticipantID), person(o.PersonID)}
}

// ToBriefAgain is people who were told other pressures than those that count, as a part of a message.
type ToBriefAgain []ToldOtherwise

// String returns each person with what they were told and what counts now, in words.
func (l ToBriefAgain) String() string {
	var who []string
	for _, o := range l {
		told, now := o.Words()
		who = append(who, fmt.Sprintf("%s (told %s; now %s)", o.Name, told, now))
	}
	return strings.Join(who, ", ")
}

// Param returns a list of {person, changes}; see changes.
func (l ToBriefAgain) Param() any {
	out := []any{}
	for _, o := range l {
		out = append(out, map[string]any{"person": finding.Person(o.PersonID, o.Name).Param(),
			"changes": changes(o.Changes).Param()})
	}
	return out
}

// changes are pressures as they were told and as they count now, as a parameter of a message.
type changes []Change

// Param returns a list of {figure, told, now, dive}: quantities, and null for a pressure that was not told and
// for a plan of every dive.
func (l changes) Param() any {
	out := []any{}
	for _, c := range l {
		one := map[string]any{"figure": c.Figure, "told": nil, "now": finding.Param(c.Now), "dive": nil}
		if c.Told != nil {
			one["told"] = finding.Param(*c.Told)
		}
		if c.Dive != nil {
			one["dive"] = finding.Param(*c.Dive)
		}
		out = append(out, one)
	}
	return out
}

// Words returns what was told and what counts now, each as a list in words.
func (o ToldOtherwise) Words() (told, now string) {
	var before, after []string
	for i, c := range o.Changes {
		what, dive := c.Figure, ""
		last := i+1 == len(o.Changes) || o.Changes[i+1].PlanID != c.PlanID
		if c.Dive != nil && last {
			dive = fmt.Sprintf(" on dive %d", *c.Dive)
		}
		if c.Told == nil {
			before = append(before, "no "+what+" pressure"+dive)
		} else {
			before = append(before, what+" "+c.Told.String()+dive)
		}
		after = append(after, what+" "+c.Now.String()+dive)
	}
	return strings.Join(before, ", "), strings.Join(after, ", ")
}
