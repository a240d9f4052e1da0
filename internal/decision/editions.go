package decision

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"
)

// rulesText has a line for each rule: the edition of the rules that it came with, and
// its id. A rule that is added later comes with a higher edition, so that a decision
// that is judged again can be told apart from one that overlooked a rule of its day.
//
//go:embed rules.txt
var rulesText string

var rulesSince = sync.OnceValue(func() map[string]int {
	out := map[string]int{}
	for line := range strings.Lines(rulesText) {
		var edition int
		var id string
		if n, _ := fmt.Sscan(line, &edition, &id); n == 2 {
			out[id] = edition
		}
	}
	return out
})

// RuleSince returns the edition of the rules with which a rule came, 0 for a rule that
// is not listed.
func RuleSince(id string) int { return rulesSince()[id] }

// RulesEdition returns the present edition of the rules.
func RulesEdition() int {
	last := 0
	for _, edition := range rulesSince() {
		last = max(last, edition)
	}
	return last
}
