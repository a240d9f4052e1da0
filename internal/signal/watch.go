package signal

import (
	"cmp"
	"slices"
	"time"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Mark is a pressure of a dive's plan that asks for a response.
type Mark string

// The marks of a plan, in the order in which a dive reaches them.
const (
	Turn   Mark = "turn"
	LowGas Mark = "low_gas"
)

// Response is an action in the water about gas.
type Response string

// The responses, each going further than the one before.
const (
	Turned       Response = "turned"        // the group turned back
	SignalledLow Response = "signalled_low" // the diver gave the low-on-gas sign
	AscentBegun  Response = "ascent_begun"  // the ascent began
)

// Known reports whether r is one of the responses.
func (r Response) Known() bool {
	return r == Turned || r == SignalledLow || r == AscentBegun
}

// Expects returns the responses that reaching a mark asks for, in order: at the turn pressure the
// group turns; at the low-gas pressure the diver signals it, then the ascent begins (common
// practice).
func (m Mark) Expects() []Response {
	if m == LowGas {
		return []Response{SignalledLow, AscentBegun}
	}
	return []Response{Turned}
}

// SeenCheck is a gas check as it counts towards the marks: when it was, and what was seen.
type SeenCheck struct {
	ID                 string // breaks ties of time, so that the order of arrival does not matter
	At                 time.Time
	Reading, Signalled *units.Reading // gauge pressures; nil when not seen
	// in a drill, of an invented pressure: it is no evidence of the gas
	Simulated bool
}

// gas returns the pressure by a check: the reading, or the report where the gauge was not seen. It
// is nil when neither was seen or the pressure was invented.
func (l SeenCheck) gas() (p *units.Reading, reported bool) {
	if l.Simulated {
		return nil, false
	}
	if l.Reading != nil {
		return l.Reading, false
	}
	return l.Signalled, true
}

// SetBy is the source of a pressure by which a diver is judged.
type SetBy string

// The sources of pressures.
const (
	ByPlan     SetBy = "plan"     // a confirmed plan
	ByBriefing SetBy = "briefing" // the pressure that the person was told in a briefing
	ByFloor    SetBy = "floor"    // the centre's floor for that kind of water
)

// Marks are the pressures by which one diver is judged, nil for none, with the source of each.
type Marks struct {
	Turn, LowGas     *units.Reading
	TurnBy, LowGasBy SetBy
}

// Agreed is the pressures agreed for one diver on one dive, in the unit of the gauge.
type Agreed struct {
	Plan, Briefing Marks
	Floor          units.Reading // the centre's floor for that kind of water
}

// Marks returns the pressures by which the diver is judged: the greatest of each; of equal ones
// that of the plan before that of the briefing before the floor. The floor is a low-gas pressure,
// and counts with or without a plan.
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
		if x.p != nil && !x.p.IsZero() && (most == nil || x.p.Pressure() > most.Pressure()+epsilon) {
			most, by = x.p, x.by
		}
	}
	return most, by
}

// by returns the source of a mark's pressure.
func (m Marks) by(k Mark) SetBy {
	if k == LowGas {
		return m.LowGasBy
	}
	return m.TurnBy
}

// at returns the pressure of a mark.
func (m Marks) at(k Mark) *units.Reading {
	if k == LowGas {
		return m.LowGas
	}
	return m.Turn
}

// reachedBy reports whether a pressure is at or below a mark. A report equal to the mark has
// reached it: reports are rounded down, and the safe side is down.
func reachedBy(p, mark *units.Reading) bool {
	return p != nil && mark != nil && p.Pressure() <= mark.Pressure()+epsilon
}

// JudgeMarks judges one gas check by the plan: it returns a finding of the gravest mark that the
// check is at or below. It returns none where the check is above both, where nothing was seen, and
// where there is no plan. It does not know whether the check was the first.
func JudgeMarks(m Marks, l SeenCheck) finding.List {
	for _, k := range []Mark{LowGas, Turn} {
		if p, reported := l.gas(); reachedBy(p, m.at(k)) {
			return finding.List{m.reached(k, *p, reported)}
		}
	}
	return nil
}

// JudgeStart judges a start pressure by the diver's marks: it returns a finding of the gravest mark
// that it is at or below. It returns none where it is above both, where it is nil, and where
// nothing is agreed.
func JudgeStart(m Marks, start *units.Reading) finding.List {
	for _, k := range []Mark{LowGas, Turn} {
		if !reachedBy(start, m.at(k)) {
			continue
		}
		limit := *m.at(k)
		f := RuleStartedLow.Say("The start pressure was {found}, at or below {agreed}. There is no gas to dive on.",
			*start, m.ofMark(k)).With("mark", string(k)).With("limit", limit).With("set_by", string(m.by(k)))
		f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(*start)
		f.Cures = []finding.Cure{
			{Code: "end_dive",
				Message: "End the dive, and go in again with a full cylinder and a plan for it."},
			{Code: "void_wrong",
				Message: "Void the time in and record it again, if the pressure or its unit is wrong."},
		}
		return finding.List{f}
	}
	return nil
}

// SeenResponse is a response that was seen: of the diver or, for Turned, of the group.
type SeenResponse struct {
	ID   string
	At   time.Time
	What Response
}

// DiveWatch is the records of one diver's gas on one dive, in any order.
type DiveWatch struct {
	Marks Marks
	Looks []SeenCheck
	Deeds []SeenResponse
	Out   *SeenResponse // the end of the dive, nil where none is recorded; What is ignored
	Now   time.Time     // the time to which a pending response is counted
}

// State is the state of an expected response.
type State string

// The states of an expected response.
const (
	Pending State = "pending"
	// recorded, also before the check: a group may turn before the gauge is seen
	Done      State = "done"
	Overtaken State = "overtaken"  // a response that goes further was recorded
	DiveEnded State = "dive_ended" // nothing was recorded until the dive ended
)

// Expected is a response that a mark asks for.
type Expected struct {
	What  Response
	State State
	Ended *SeenResponse // what ended it, nil while it is pending
	After time.Duration // from the check to what ended it, or to now; never negative
}

// Reached is a mark that was reached, at the first check at or below it.
type Reached struct {
	Mark     Mark
	Limit    units.Reading // as planned, told or set
	SetBy    SetBy         // the source of the limit
	Look     SeenCheck
	Found    units.Reading // as read, or as reported
	Reported bool          // Found is a report: the gauge was not seen
	Expected []Expected
	Findings finding.List
}

// Watch returns the marks that a diver reached on a dive, the turn before the low gas, with the
// expected responses and whether each happened. It depends on what was witnessed and when, never on
// the order in which it was recorded.
func Watch(w DiveWatch) (out []Reached) {
	w.Looks = slices.Clone(w.Looks)
	slices.SortFunc(w.Looks,
		func(a, b SeenCheck) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	w.Deeds = slices.Clone(w.Deeds)
	slices.SortFunc(w.Deeds,
		func(a, b SeenResponse) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	for _, k := range []Mark{Turn, LowGas} {
		mark := w.Marks.at(k)
		i := slices.IndexFunc(w.Looks, func(l SeenCheck) bool { p, _ := l.gas(); return reachedBy(p, mark) })
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

// expect returns the state of a response that is expected since a check.
func (w DiveWatch) expect(what Response, since time.Time) Expected {
	e := Expected{What: what, State: Pending, After: w.Now.Sub(since)}
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

// PendingResponse returns the gravest response that is still expected, the first of its mark, "" for
// none.
func PendingResponse(reached []Reached) Response {
	for _, r := range slices.Backward(reached) {
		for _, e := range r.Expected {
			if e.State == Pending {
				return e.What
			}
		}
	}
	return ""
}

// ofMark returns the pressure of a mark in the words of a message, by its source.
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
		rule, do = RuleLowGasReached,
			"The diver signals low on gas, the buddy closes up, and the ascent begins."
		cure = finding.Cure{Code: "ascend", Message: "Begin the ascent together, and record it."}
	}
	f := rule.Say("{found} was {from}, at or below {agreed}. {do}", p, seen, m.ofMark(k), do).
		With("mark", string(k)).With("limit", limit).With("set_by", string(m.by(k)))
	f.Limit, f.Found, f.Cures = finding.Quantity(limit), finding.Quantity(p), []finding.Cure{cure}
	return f
}

// responseWords has the responses in the words of a sentence.
var responseWords = map[Response]string{Turned: "the group turned",
	SignalledLow: "the diver signalled low on gas", AscentBegun: "the ascent began"}

func notSeen(k Mark, what Response, limit units.Reading) finding.Finding {
	f := RuleResponseNotSeen.Say("{limit} was reached, and nobody recorded that {happened} before the dive ended.",
		limit, responseWords[what]).With("mark", string(k)).With("response", string(what))
	f.Limit = finding.Quantity(limit)
	f.Cures = []finding.Cure{{Code: "record_response",
		Message: "Record it with its own time if it was seen; otherwise talk it over with the diver."}}
	return f
}
