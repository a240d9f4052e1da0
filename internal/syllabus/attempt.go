package syllabus

import (
	"fmt"
	"slices"
	"time"

	"tankside/internal/finding"
)

// Attempt is one attempt at a skill, as the crew recorded it.
type Attempt struct {
	ID          string
	Skill       string
	Role        Role // "" where the skill has none
	Measured    map[string]Quantity
	Met         bool   // the witness's word on it
	Reason      string // why not yet
	WitnessedBy string
	On          Day
	At          time.Time // when it was witnessed; attempts are in this order
	Session     string    // the session in which it was made
	Setting     Setting   // of the session
	Dive        int       // the training dive it was on, 0 for none or unknown
	Voided      bool
}

// JudgeAttempt judges an attempt by the criterion of its skill. It is met when the witness has it
// as met and no measured value fails: a witness may record "not yet" for good figures, never "met"
// for failing ones. The attempt is recorded either way; a forbidden finding keeps it from counting
// as evidence.
func JudgeAttempt(k Skill, a Attempt) (met bool, found finding.List) {
	found = slices.Concat(judgeRole(k, a), judgeNames(k, a), judgeMeasures(k, a))
	return a.Met && !found.Forbids(), found
}

func judgeRole(k Skill, a Attempt) finding.List {
	if len(k.Roles) == 0 || slices.Contains(k.Roles, a.Role) {
		return nil
	}
	f := AttemptRole.Say(`{skill} is done as {roles}; the attempt has the role "{role}".`, k.name(),
		list(k.Roles, "or"), a.Role).About(a.subjects()...)
	f.Cures = []finding.Cure{{Code: "record_role",
		Message: "Void the attempt and record it with the role that the student had."}}
	return finding.List{f}
}

// judgeNames returns notes on the measured values that the criterion has no use for.
func judgeNames(k Skill, a Attempt) finding.List {
	var out finding.List
	all := k.Criterion.measures()
	for _, name := range sortedKeys(a.Measured) {
		i := slices.IndexFunc(all, func(m Measure) bool { return m.Name == name })
		if i < 0 {
			out = append(out, AttemptUnknownMeasure.Say(
				`The criterion of {skill} has no measure "{measure}"; it is kept and counts for nothing.`,
				k.name(), name).About(a.subjects()...))
			continue
		}
		if v := a.Measured[name]; !v.sameKind(all[i].limit()) {
			f := AttemptWrongUnit.Say(
				`"{measure}" of {skill} is given as {value}, which cannot be held against {wanted}.`, name,
				k.name(), v, all[i].words()).About(a.subjects()...)
			f.Limit, f.Found = finding.Words(all[i].words()), v.amount()
			out = append(out, f)
		}
	}
	return out
}

func judgeMeasures(k Skill, a Attempt) finding.List {
	out := judgeAll(k, a, k.Criterion.Measures)
	ways := k.Criterion.EitherOf
	if len(ways) == 0 {
		return out
	}
	var fails, unknown finding.List
	for _, w := range ways {
		l := judgeAll(k, a, w.Measures)
		switch {
		case len(l) == 0:
			return out
		case len(l.Of(AttemptBelowCriterion)) > 0:
			fails = append(fails, l.Of(AttemptBelowCriterion)...)
		case len(unknown) == 0:
			unknown = l
		}
	}
	if len(fails) > 0 {
		return append(out, fails...)
	}
	return append(out, unknown...)
}

// judgeAll judges the attempt by each measure. No finding means that all were recorded and hold.
func judgeAll(k Skill, a Attempt, measures []Measure) finding.List {
	var out finding.List
	for _, m := range measures {
		v, ok := a.Measured[m.Name]
		switch {
		case !ok:
			out = append(out, notMeasured(k, a, m))
		case v.sameKind(m.limit()) && !m.holds(v):
			out = append(out, belowCriterion(k, a, m, v))
		}
	}
	return out
}

func notMeasured(k Skill, a Attempt, m Measure) finding.Finding {
	f := AttemptNotMeasured.Say(`"{measure}" of {skill} was not recorded: the criterion asks for {wanted}.`,
		m.Name, k.name(), m.words()).About(a.subjects()...)
	f.Limit = finding.Words(m.words())
	if k.Proof == Measured && a.Met {
		f.Severity = finding.Forbidden
		f.Cures = []finding.Cure{{Code: "record_measure",
			Message: "Record the attempt with the measured value."}}
	}
	return f
}

func belowCriterion(k Skill, a Attempt, m Measure, v Quantity) finding.Finding {
	f := AttemptBelowCriterion.Say(`"{measure}" of {skill} was {value}: the criterion asks for {wanted}.`,
		m.Name, k.name(), v, m.words()).About(a.subjects()...)
	f.Limit, f.Found = finding.Words(m.words()), v.amount()
	if m.Source != "" {
		f.Source = m.Source
	}
	if !a.Met {
		f.Severity = finding.Note
		return f
	}
	f.Cures = []finding.Cure{{Code: "try_again",
		Message: "Let the student try again, and record the new attempt."}}
	return f
}

// limit returns one of the measure's limits, which shows its kind of quantity.
func (m Measure) limit() Quantity {
	if m.AtLeast != nil {
		return *m.AtLeast
	}
	if m.AtMost != nil {
		return *m.AtMost
	}
	return Quantity{}
}

func (m Measure) holds(v Quantity) bool {
	return (m.AtLeast == nil || v.compare(*m.AtLeast) >= 0) && (m.AtMost == nil || v.compare(*m.AtMost) <= 0)
}

// words returns the limits of the measure in words: "at least 60 s".
func (m Measure) words() string {
	switch {
	case m.AtLeast != nil && m.AtMost != nil:
		return fmt.Sprintf("%s to %s", m.AtLeast, m.AtMost)
	case m.AtLeast != nil:
		return fmt.Sprintf("at least %s", m.AtLeast)
	case m.AtMost != nil:
		return fmt.Sprintf("at most %s", m.AtMost)
	}
	return "no limit"
}

func (a Attempt) subjects() []finding.Subject {
	return []finding.Subject{{Type: "attempt", ID: a.ID}, {Type: "skill", ID: a.Skill}}
}
