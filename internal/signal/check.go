package signal

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Check is one gas check of a diver: what the gauge showed and what the diver signalled, as far as
// either was seen. Readings are gauge pressures in bar or psi; another unit is a bug of the caller
// and panics.
type Check struct {
	// Gauge is the unit of the diver's own gauge. Where it is empty, the unit of the reading is
	// used.
	Gauge units.Unit
	// Reading is the pressure on the gauge; nil when it was not seen.
	Reading *units.Reading
	// ReadAfterSignal is set when the gauge was read after the diver had signalled, so that some
	// gas was breathed in between.
	ReadAfterSignal bool
	// Signalled is the pressure that the diver reported; nil when no report was seen.
	Signalled *units.Reading
	// NoAnswer is set when the diver was asked and reported nothing. It is ignored where Signalled
	// is set.
	NoAnswer bool
}

// Verdict is the result of a gas check.
type Verdict string

// The verdicts on a gas check.
const (
	// Right: at most the reading, and at least the reading rounded down to the step.
	Right Verdict = "right"
	// MisreadLow: lower than Right allows, a misreading on the safe side.
	MisreadLow Verdict = "misread_low"
	// OverReported: more than the reading.
	OverReported Verdict = "over_reported"
	// Undetermined: at most one step more than a reading taken after the signal; the report may
	// have been right when the diver signalled.
	Undetermined Verdict = "undetermined"
	// Unverified: only the gauge or only the signal was seen.
	Unverified Verdict = "unverified"
	// NoAnswer: the diver was asked and reported nothing.
	NoAnswer Verdict = "no_answer"
)

// StepOf returns the step to which a reading in that unit is rounded down before it is signalled:
// 100 psi or 10 bar (common practice). It returns the zero Reading for any other unit.
func StepOf(u units.Unit) units.Reading {
	switch u {
	case units.UnitPSI:
		return units.Read(100, u)
	case units.UnitBar:
		return units.Read(10, u)
	}
	return units.Reading{}
}

// JudgeCheck returns whether a report agrees with the gauge, with findings on why not. It compares
// by the unit and step of the diver's own gauge. A report in another unit is also rounded down to
// that unit's step, which a finding explains. A verdict judges a signal, never whether the diver
// has enough gas.
func JudgeCheck(c Check) (Verdict, finding.List) {
	switch {
	case c.Signalled == nil && c.NoAnswer:
		return NoAnswer, finding.List{noAnswer(c)}
	case c.Signalled == nil || c.Reading == nil: // one of the two is missing, and silence was not recorded
		return Unverified, finding.List{unverified(c)}
	}
	if c.Gauge == "" {
		c.Gauge = c.Reading.Unit
	}
	v := c.compare()
	var found finding.List
	if rule, wrong := verdictRules[v]; wrong {
		found = append(found, c.explain(rule))
	}
	return v, append(found, c.otherUnits()...)
}

// epsilon is the difference of two pressures that counts as none: less than the second decimal of a
// reading in psi (0.0007 bar), more than a conversion between bar and psi can lose.
const epsilon units.Pressure = 1e-6

func (c Check) compare() Verdict {
	read, said := c.Reading.Pressure(), c.Signalled.Pressure()
	step := StepOf(c.Gauge).Pressure()
	switch {
	case said < c.rounded().Pressure()-epsilon:
		return MisreadLow
	case said <= read+epsilon:
		return Right
	case c.ReadAfterSignal && said <= read+step+epsilon:
		return Undetermined
	}
	return OverReported
}

// rounded returns the lowest report that is still right, in the unit signalled.
func (c Check) rounded() units.Reading {
	p := c.Reading.Pressure().RoundDown(c.Gauge, StepOf(c.Gauge).Value.Float())
	if u := c.Signalled.Unit; u != c.Gauge {
		p = p.Pressure().RoundDown(u, StepOf(u).Value.Float())
	}
	return p
}

func (c Check) explain(r finding.Rule) finding.Finding {
	low := c.rounded()
	f := r.Say("{signalled} was signalled and the gauge showed {reading}; a right report is {rounded}.{also}",
		*c.Signalled, *c.Reading, low, c.whatElse(r)).With("read_after_signal", c.ReadAfterSignal)
	f.Limit, f.Found = finding.Quantity(low), finding.Quantity(*c.Signalled)
	f.Cures = []finding.Cure{{Code: "look_together",
		Message: "Look at the gauge together and ask for the report again."}}
	return f
}

func (c Check) whatElse(r finding.Rule) string {
	switch r.ID {
	case RuleMisreadLow.ID:
		if !c.ReadAfterSignal {
			return " The report is on the safe side, and gas breathed between the look and the signal may " +
				"explain it."
		}
		return " The report is on the safe side."
	case RuleUndetermined.ID:
		return " The gauge was read after the signal, so gas breathed in between may explain it."
	}
	return " The diver believes there is more gas than there is."
}

func (c Check) otherUnits() finding.List {
	var l finding.List
	for _, x := range []struct {
		what string
		r    *units.Reading
	}{{"The report", c.Signalled}, {"The reading", c.Reading}} {
		if x.r.Unit == c.Gauge {
			continue
		}
		f := RuleOtherUnit.Say(
			"{what} was given as {given}, and the diver's own gauge shows {gauge_unit}: it was compared as {compared}.",
			x.what, *x.r, string(c.Gauge), units.Read(x.r.Pressure().In(c.Gauge), c.Gauge))
		f.Limit, f.Found = finding.Words(string(c.Gauge)), finding.Quantity(*x.r)
		f.Cures = []finding.Cure{{Code: "agree_unit",
			Message: "Agree before the dive that each diver reports in the unit of their own gauge."}}
		l = append(l, f)
	}
	return l
}

func noAnswer(c Check) finding.Finding {
	f := RuleNoAnswer.Of("The diver was asked for their gas and no report was seen.")
	if c.Reading != nil {
		f = RuleNoAnswer.Say("The diver was asked for their gas and no report was seen. The gauge showed {reading}.",
			*c.Reading)
		f.Found = finding.Quantity(*c.Reading)
	}
	f.Cures = []finding.Cure{{Code: "ask_again", Message: "Ask again, and look at the gauge together."}}
	return f
}

func unverified(c Check) finding.Finding {
	if c.Signalled == nil && c.Reading == nil {
		f := RuleUnverified.Of("Neither a signal nor the gauge was seen, so there is nothing to compare.")
		f.Cures = []finding.Cure{{Code: "look_together",
			Message: "Look at the gauge together and ask for the report again."}}
		return f
	}
	seen, missing, r := "signal", "gauge", c.Signalled
	if r == nil {
		seen, missing, r = "gauge", "signal", c.Reading
	}
	f := RuleUnverified.Say("Only the {seen} was seen ({reading}), so the report cannot be compared.",
		seen, *r).With("missing", missing)
	f.Found = finding.Quantity(*r)
	f.Cures = []finding.Cure{{Code: "see_" + missing,
		Message: fmt.Sprintf("See the %s too at the next check.", missing)}}
	return f
}
