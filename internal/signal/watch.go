package signal

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Mark is a pressure of a dive's plan at which something is to be done.
type Mark string

// The marks of a plan, in the order in which a dive reaches them.
const (
	Turn   Mark = "turn"
	LowGas Mark = "low_gas"
)

// Response is something that is done in the water about gas.
type Response string

// The responses, each going further than the one before.
const (
	Turned       Response = "turned"        // the group turned back
	SignalledLow Response = "signalled_low" // the diver gave the low-on-gas sign
	AscentBegun  Response = "ascent_begun"  // the ascent began
)

// Known tells whether it is one of the responses.
func (r Response) Known() bool {
	return r == Turned || r == SignalledLow || r == AscentBegun
}

// Expects gives what is to be done when a mark is reached, in its order: at the
// turn pressure the group turns; at the low-gas pressure the diver signals it,
// then the ascent begins (common practice).
func (m Mark) Expects() []Response {
	if m == LowGas {
		return []Response{SignalledLow, AscentBegun}
	}
	return []Response{Turned}
}

// Look is one gas check as it counts towards the marks: when, and what was seen.
type Look struct {
	ID                 string // breaks ties of time, so that every order of arrival gives the same
	At                 time.Time
	Reading, Signalled *units.Reading // gauge pressures; nil when not seen
	Simulated          bool           // in a drill, of a pressure that was made up: it says nothing of the gas
}

// gas gives what a look says of the gas: the reading, the report where nobody
// saw the gauge, nil when neither was seen or both were made up.
func (l Look) gas() (p *units.Reading, reported bool) {
	if l.Simulated {
		return nil, false
	}
	if l.Reading != nil {
		return l.Reading, false
	}
	return l.Signalled, true
}

// SetBy says who set a pressure that a diver is held against.
type SetBy string

// Who sets pressures.
const (
	ByPlan     SetBy = "plan"     // a confirmed plan
	ByBriefing SetBy = "briefing" // what the person was told in a briefing
	ByFloor    SetBy = "floor"    // the centre, for everybody in that kind of water
)

// Marks are the pressures that one diver is held against, nil for none, and who
// set each.
type Marks struct {
	Turn, LowGas     *units.Reading
	TurnBy, LowGasBy SetBy
}

// Agreed is what was agreed for one diver on one dive, in the unit of the gauge.
type Agreed struct {
	Plan, Briefing Marks
	Floor          units.Reading // of the centre for that kind of water
}

// Marks returns what the diver is held against: of each pressure the greatest, of
// equal ones that of the plan before that of the briefing before the floor. The
// floor is a low-gas pressure, planned or not.
func (a Agreed) Marks() (m Marks) {
	m.Turn, m.TurnBy = greatest(a.Plan.Turn, a.Briefing.Turn, nil)
	m.LowGas, m.LowGasBy = greatest(a.Plan.LowGas, a.Briefing.LowGas, &a.Floor)
	return m
}

func greatest(plan, briefing, floor *units.Reading) (most *units.Reading, by SetBy) {
	for _, x := range []struct {
		p  *units.Reading
		by SetBy
	}{{plan, ByPlan}, {briefing, ByBriefing}, {floor, ByFloor}} {
		if x.p != nil && !x.p.IsZero() && (most == nil || x.p.Pressure() > most.Pressure()+hair) {
			most, by = x.p, x.by
		}
	}
	return most, by
}

// by returns who set the pressure of a mark.
func (m Marks) by(k Mark) SetBy {
	if k == LowGas {
		return m.LowGasBy
	}
	return m.TurnBy
}

// at gives the pressure of a mark.
func (m Marks) at(k Mark) *units.Reading {
	if k == LowGas {
		return m.LowGas
	}
	return m.Turn
}

// reachedBy tells whether a pressure is at or below a mark. A report of a mark
// itself has reached it: reports are rounded down, and the safe side is down.
func reachedBy(p, mark *units.Reading) bool {
	return p != nil && mark != nil && p.Pressure() <= mark.Pressure()+hair
}

// JudgeMarks says what one gas check means for the plan, by itself: a finding
// of the gravest mark that it is at or below, none where it is above, where
// nothing was seen or where there is no plan. It does not tell which check was
// the first.
func JudgeMarks(m Marks, l Look) finding.List {
	for _, k := range []Mark{LowGas, Turn} {
		if p, reported := l.gas(); reachedBy(p, m.at(k)) {
			return finding.List{m.reached(k, *p, reported)}
		}
	}
	return nil
}

// JudgeStart returns what a start pressure means for what the diver is held against: a
// finding of the gravest mark that it is at or below, none where it is above, where it
// is nil or where nothing is agreed.
func JudgeStart(m Marks, start *units.Reading) finding.List {
	for _, k := range []Mark{LowGas, Turn} {
		if !reachedBy(start, m.at(k)) {
			continue
		}
		limit := *m.at(k)
		f := RuleStartedLow.Of(fmt.Sprintf("The start pressure was %s, at or below %s. There is no gas to dive on.", start, m.ofMark(k)))
		f.Params = map[string]any{"mark": string(k), "limit": limit.String(), "found": start.String(), "set_by": string(m.by(k))}
		f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(*start)
		f.Cures = []finding.Cure{
			{Code: "end_dive", Message: "End the dive, and go in again with a full cylinder and a plan for it."},
			{Code: "void_wrong", Message: "Void the time in and record it again, if the pressure or its unit is wrong."},
		}
		return finding.List{f}
	}
	return nil
}

// Deed is a response that was seen, of the diver or, for Turned, of the group.
type Deed struct {
	ID   string
	At   time.Time
	What Response
}

// DiveWatch is one diver's gas on one dive, as far as it was recorded, in any
// order.
type DiveWatch struct {
	Marks Marks
	Looks []Look
	Deeds []Deed
	Out   *Deed     // the end of the dive, nil while it lasts or where none was recorded; What is ignored
	Now   time.Time // for how long something has been open
}

// State says how an expected response stands.
type State string

// How an expected response stands.
const (
	Open      State = "open"
	Done      State = "done"       // recorded, before the check too: a group may turn before the gauge is seen
	Overtaken State = "overtaken"  // a response that goes further was recorded
	DiveEnded State = "dive_ended" // nothing was recorded until the dive ended
)

// Expected is a response that a mark asks for.
type Expected struct {
	What  Response
	State State
	Ended *Deed         // what ended it, nil while it is open
	After time.Duration // from the check to what ended it, or to now; never negative
}

// Reached is a mark that was reached, at the first check at or below it.
type Reached struct {
	Mark     Mark
	Limit    units.Reading // as planned, told or set
	SetBy    SetBy         // who set it
	Look     Look
	Found    units.Reading // as read, or as reported
	Reported bool          // nobody saw the gauge
	Expected []Expected
	Findings finding.List
}

// Watch gives the marks that a diver reached on a dive, the turn before the low
// gas, with what is expected and whether it happened. It depends on what was
// witnessed and when, never on the order in which it was recorded.
func Watch(w DiveWatch) (out []Reached) {
	w.Looks = slices.Clone(w.Looks)
	slices.SortFunc(w.Looks, func(a, b Look) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	w.Deeds = slices.Clone(w.Deeds)
	slices.SortFunc(w.Deeds, func(a, b Deed) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	for _, k := range []Mark{Turn, LowGas} {
		mark := w.Marks.at(k)
		i := slices.IndexFunc(w.Looks, func(l Look) bool { p, _ := l.gas(); return reachedBy(p, mark) })
		if i < 0 {
			continue
		}
		p, reported := w.Looks[i].gas()
		r := Reached{Mark: k, Limit: *mark, Look: w.Looks[i], Found: *p, Reported: reported,
			SetBy: w.Marks.by(k), Findings: finding.List{w.Marks.reached(k, *p, reported)}}
		for _, what := range k.Expects() {
			e := w.expect(what, r.Look.At)
			r.Expected = append(r.Expected, e)
			if e.State == DiveEnded {
				r.Findings = append(r.Findings, notSeen(k, what, *mark))
			}
		}
		out = append(out, r)
	}
	return out
}

// expect says how a response stands that is expected since a check.
func (w DiveWatch) expect(what Response, since time.Time) Expected {
	e := Expected{What: what, State: Open, After: w.Now.Sub(since)}
	for i, d := range w.Deeds {
		if d.What == what || d.What == AscentBegun {
			e.State, e.Ended = Done, &w.Deeds[i]
			if d.What != what {
				e.State = Overtaken
			}
			break
		}
	}
	if e.Ended == nil && w.Out != nil {
		e.State, e.Ended = DiveEnded, w.Out
	}
	if e.Ended != nil {
		e.After = e.Ended.At.Sub(since)
	}
	e.After = max(0, e.After)
	return e
}

// OpenResponse gives the gravest response that is still expected, the first of
// its mark, "" for none.
func OpenResponse(reached []Reached) Response {
	for _, r := range slices.Backward(reached) {
		for _, e := range r.Expected {
			if e.State == Open {
				return e.What
			}
		}
	}
	return ""
}

// ofMark names the pressure of a mark as a message does, by who set it.
func (m Marks) ofMark(k Mark) string {
	name, limit := map[Mark]string{Turn: "turn", LowGas: "low-gas"}[k], m.at(k).String()
	switch m.by(k) {
	case ByBriefing:
		return "the " + name + " pressure of " + limit + " told at the briefing"
	case ByFloor:
		return limit + ", the centre's floor for this water"
	}
	return "the " + name + " pressure of " + limit
}

func (m Marks) reached(k Mark, p units.Reading, reported bool) finding.Finding {
	limit := *m.at(k)
	seen, rule, do := "read", RuleTurnReached, "The group turns."
	if reported {
		seen = "reported"
	}
	cure := finding.Cure{Code: "turn", Message: "Turn the group, and record that it turned."}
	if k == LowGas {
		rule, do = RuleLowGasReached, "The diver signals low on gas, the buddy closes up, and the ascent begins."
		cure = finding.Cure{Code: "ascend", Message: "Begin the ascent together, and record it."}
	}
	f := rule.Of(fmt.Sprintf("%s was %s, at or below %s. %s", p, seen, m.ofMark(k), do))
	f.Params = map[string]any{"mark": string(k), "limit": limit.String(), "found": p.String(), "from": seen, "set_by": string(m.by(k))}
	f.Limit, f.Found, f.Cures = finding.Quantity(limit), finding.Quantity(p), []finding.Cure{cure}
	return f
}

// responseWords are the responses as a sentence says them.
var responseWords = map[Response]string{Turned: "the group turned", SignalledLow: "the diver signalled low on gas", AscentBegun: "the ascent began"}

func notSeen(k Mark, what Response, limit units.Reading) finding.Finding {
	f := RuleResponseNotSeen.Of(fmt.Sprintf("%s was reached, and nobody recorded that %s before the dive ended.", limit, responseWords[what]))
	f.Params = map[string]any{"mark": string(k), "response": string(what)}
	f.Limit = finding.Quantity(limit)
	f.Cures = []finding.Cure{{Code: "record_response", Message: "Record it with its own time if it was seen; otherwise talk it over with the diver."}}
	return f
}
