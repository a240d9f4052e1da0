package decision_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/decision"
	"tankside/internal/finding"
	"tankside/internal/syllabus"
)

func found(rule string, n int, subjects ...finding.Subject) finding.Finding {
	f := finding.Rule{ID: rule, Severity: finding.Note}.Of("A message.", subjects...)
	f.Found = finding.Count(n, "students")
	return f
}

func TestWhatIsComparedIsRuleSeveritySubjectsAndFigures(t *testing.T) {
	a, b := finding.Subject{Type: "person", ID: "a"}, finding.Subject{Type: "session", ID: "b"}
	then := found("ratio.too_many_students", 9, a, b)
	reworded := found("ratio.too_many_students", 9, b, a)
	reworded.Message = "Another wording, and a name that was corrected."
	graver := then
	graver.Severity = finding.Caution
	for name, c := range map[string]struct {
		then, now finding.List
		same      bool
	}{
		"nothing then and now":               {nil, nil, true},
		"other words, subjects in any order": {finding.List{then}, finding.List{reworded}, true},
		"found no more":                      {finding.List{then}, nil, false},
		"found only now":                     {nil, finding.List{then}, false},
		"another severity":                   {finding.List{then}, finding.List{graver}, false},
		"another figure": {finding.List{then},
			finding.List{found("ratio.too_many_students", 10, a, b)}, false},
		"about somebody else":  {finding.List{then}, finding.List{found("ratio.too_many_students", 9, b)}, false},
		"twice then, once now": {finding.List{then, then}, finding.List{then}, false},
	} {
		require.Equal(t, c.same, decision.Compare(c.then, decision.Again{Findings: c.now}, 1).Same(), name)
	}
}

func TestADifferenceSaysWhy(t *testing.T) {
	f := found("ratio.too_many_students", 9)
	why := func(then finding.List, again decision.Again, edition int) string {
		c := decision.Compare(then, again, edition)
		require.Len(t, c.Differences, 1)
		return c.Differences[0].Why
	}
	now := decision.Again{Findings: finding.List{f}}
	require.Contains(t, why(nil, now, 0), "came with edition 1 of the rules")
	require.Contains(t, why(nil, now, 1), "Nothing on record explains it")
	now.Differs = []string{"Rule book own is not kept in edition 7."}
	require.Equal(t, now.Differs[0], why(nil, now, 1))
	require.Contains(t, why(finding.List{found("ratio.gone", 1)}, decision.Again{}, 1), "no longer part")
	left := decision.Compare(finding.List{f}, decision.Again{Judges: func(string) bool { return false }}, 1)
	require.True(t, left.Same())
	require.Equal(t, finding.List{f}, left.LeftOut)
}

// What came to be known after a decision is no part of it: an attempt added, a dive that
// ended, a sign-off voided.
func TestAStandingIsTakenBackToWhatWasKnown(t *testing.T) {
	then := syllabus.Standing{Enrolment: "e", Student: "s", State: syllabus.Active,
		SignOffs: []syllabus.SignOff{{ID: "o1", Skill: "hover"}, {ID: "o2", Voided: true}},
		Attempts: []syllabus.Attempt{{ID: "a1"}}, Dives: []syllabus.DiveDone{{ID: "d1", Age: 13}}}
	now := then
	now.State = syllabus.Completed
	now.SignOffs = []syllabus.SignOff{{ID: "o1", Skill: "hover", Voided: true}, {ID: "o2", Voided: true}, {ID: "o3"}}
	now.Attempts = []syllabus.Attempt{{ID: "a0"}, {ID: "a1", Voided: true}}
	now.Dives = []syllabus.DiveDone{{ID: "d1", Age: 14, Duration: syllabus.QuantityOf(31, "min")}}
	got, missing := decision.StandingOf(then).Of(now)
	require.Empty(t, missing)
	require.Equal(t, then, got)
	now.Attempts = nil
	_, missing = decision.StandingOf(then).Of(now)
	require.Equal(t, []string{"a1"}, missing)
}
