package decision

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"tankside/internal/finding"
)

// Again is what judging a decision again came to.
type Again struct {
	Findings finding.List

	// Judges reports whether findings of a rule were judged again; nil: of every rule.
	// LeftOut says in a sentence what was not, and why.
	Judges  func(rule string) bool
	LeftOut string

	// Differs has a sentence for each thing that came out otherwise, or cannot be had,
	// beside the findings: a figure, an edition of a book, a record that is there no
	// longer. A decision with any is not the same.
	Differs []string

	// Since has a sentence for each record that was corrected since. The decision was
	// judged again as before the correction.
	Since []string
}

// Difference is a finding that was made only then, or only now, and why.
type Difference struct {
	Finding finding.Finding
	Now     bool // made only now
	Why     string
}

// Comparison holds a decision against its being judged again.
type Comparison struct {
	Then, Now   finding.List
	LeftOut     finding.List // found then by rules that were not judged again
	Differences []Difference
	Again       Again
}

// Same reports whether judging again came to the same.
func (c Comparison) Same() bool { return len(c.Differences) == 0 && len(c.Again.Differs) == 0 }

// Compare holds what was found then against what was found again; edition is that of
// the rules that judged then. Findings are the same when rule, severity, subjects,
// limit and figure are: names and wordings may have changed.
func Compare(then finding.List, again Again, edition int) Comparison {
	c := Comparison{Now: again.Findings, Again: again}
	for _, f := range then {
		if again.Judges == nil || again.Judges(f.Rule) {
			c.Then = append(c.Then, f)
		} else {
			c.LeftOut = append(c.LeftOut, f)
		}
	}
	left := slices.Clone(c.Now)
	for _, f := range c.Then {
		i := slices.IndexFunc(left, func(g finding.Finding) bool { return key(g) == key(f) })
		if i >= 0 {
			left = slices.Delete(left, i, i+1)
			continue
		}
		c.Differences = append(c.Differences, Difference{Finding: f, Why: whyLost(f, again)})
	}
	for _, f := range left {
		c.Differences = append(c.Differences, Difference{Finding: f, Now: true, Why: whyNew(f, again, edition)})
	}
	return c
}

// unexplained is why a difference is there for which nothing on record speaks.
const unexplained = "Nothing on record explains it: what was kept or found was altered, or the rule judges " +
	"otherwise in this release."

func whyLost(f finding.Finding, again Again) string {
	if RuleSince(f.Rule) == 0 {
		return "The rule is no longer part of the service."
	}
	return cmp.Or(strings.Join(again.Differs, " "), unexplained)
}

func whyNew(f finding.Finding, again Again, edition int) string {
	if since := RuleSince(f.Rule); since > edition {
		return fmt.Sprintf("The rule came with edition %d of the rules; the decision was judged by edition %d.",
			since, edition)
	}
	return cmp.Or(strings.Join(again.Differs, " "), unexplained)
}

// key returns what makes findings the same, as text.
func key(f finding.Finding) string {
	subjects := slices.Clone(f.Subjects)
	slices.SortFunc(subjects, func(a, b finding.Subject) int {
		return cmp.Or(cmp.Compare(a.Type, b.Type), cmp.Compare(a.ID, b.ID))
	})
	text, err := json.Marshal([]any{f.Rule, f.Severity, subjects, figure(f.Limit), figure(f.Found)})
	if err != nil {
		panic("decision: a finding that has no JSON: " + err.Error()) // it has been stored as JSON
	}
	return string(text)
}

// figure returns the number or day of an amount, without its words.
func figure(a *finding.Amount) any {
	if a == nil {
		return nil
	}
	return []any{a.Value, a.Unit, a.On}
}
