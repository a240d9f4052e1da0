package app_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/decision"
)

// A rule that is added comes with an edition of the rules: otherwise a decision that is
// judged again would seem to have overlooked it.
func TestEveryRuleCameWithAnEdition(t *testing.T) {
	known := map[string]bool{}
	for _, r := range app.Rules() {
		known[r.ID] = true
		require.Positive(t, decision.RuleSince(r.ID),
			"enter %s in internal/decision/rules.txt, with the next edition of the rules", r.ID)
	}
	listed, err := os.ReadFile("../decision/rules.txt")
	require.NoError(t, err)
	for line := range strings.Lines(string(listed)) {
		id := strings.Fields(line)[1]
		require.True(t, known[id], "%s is listed with an edition and is no rule", id)
	}
}
