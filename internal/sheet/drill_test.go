package sheet_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/sheet"
)

// Both forms of a drill say the same, and what a surprise asks for is said once.
func TestADrillSaysTheSameOnPaperAndAsText(t *testing.T) {
	drill := sheet.Drill{Cards: []sheet.DrillCard{{Number: 1, Name: "Nuno <b>", Gauge: "187 bar",
		Report: "180 bar", Hands: "one, then three sideways"},
		{Number: 2, Name: "Quinn", Gauge: "1750 psi", Report: "1700 psi", Hands: "one, then two sideways",
			Then: "The partner is silent"}},
		Expected: []sheet.Fact{{Label: "The partner is silent",
			Value: "go to them"}}, LeftOut: "half a tank (Quinn)", Findings: over}
	var page, text bytes.Buffer
	require.NoError(t, drill.HTML(&page, head))
	require.NoError(t, drill.Text(&text, head))
	for _, said := range []string{"187 bar", "180 bar", "three sideways", "1750 psi", "1700 psi",
		"The partner is silent", "go to them", "half a tank (Quinn)", "Too deep.", "A plan is advice."} {
		require.Contains(t, page.String(), said)
		require.Contains(t, text.String(), said)
	}
	require.Equal(t, 1, strings.Count(page.String(), "go to them"))
	require.Contains(t, page.String(), "Nuno &lt;b&gt;")
	require.NotContains(t, page.String(), "many\"")
	drill.Cards = make([]sheet.DrillCard, 25)
	require.Equal(t, "many", drill.Size())
}
