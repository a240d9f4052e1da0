package sheet_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/sheet"
)

var briefing = sheet.Briefing{
	People: []sheet.BriefingPerson{
		{Name: "Nuno <b>", Heard: "said so 08:50",
			Figures: [3]sheet.BriefingFigure{{Label: "Start"},
				{Label: "Turn", Text: "120 bar", Hands: "one, then two", Strip: "<svg>120</svg>"},
				{Label: "Low on gas", Text: "60 bar", Hands: "six", Strip: "<svg>60</svg>"}}},
		{Name: "Quinn", Figures: [3]sheet.BriefingFigure{{Label: "Start"},
			{Label: "Turn", Text: "120 bar", Hands: "one, then two", Strip: "<svg>120</svg>"},
			{Label: "Low on gas"}},
			Differences: []sheet.BriefingDiffers{{Who: "Quinn", What: "tee", Here: "100 bar",
				There: "decompression"}}},
	},
	Signs: []sheet.BriefingSign{{Meaning: "low on gas", Gesture: "Fist to the chest",
		Picture: "<svg>fist</svg>"}},
	WhenLow: "Signal.", WhenOut: "Share.", WhenSeparated: "Look for one minute.",
	Roles: []sheet.Fact{{Label: "Oxygen", Value: "in the van"}}, Emergency: "Call channel 12.",
	Note: "New fins.", Findings: over,
}

// Both forms of a briefing say the same, and each pressure is drawn once.
func TestABriefingSaysTheSameOnPaperAndAsText(t *testing.T) {
	var page, text bytes.Buffer
	require.NoError(t, briefing.HTML(&page, head))
	require.NoError(t, briefing.Text(&text, head))
	for _, said := range []string{"120 bar", "60 bar", "said so 08:50", "decompression", "Fist to the chest",
		"Look for one minute.", "in the van", "Call channel 12.", "New fins.", "Too deep."} {
		require.Contains(t, page.String(), said)
		require.Contains(t, text.String(), said)
	}
	require.Equal(t, 1, strings.Count(page.String(), "<svg>120</svg>"))
	require.Contains(t, page.String(), "Nuno &lt;b&gt;")
	require.Contains(t, page.String(), "not acknowledged")
	require.Contains(t, text.String(), "[ ]")
}

// What differs for several people is said once; findings likewise.
func TestWhatDiffersForSeveralIsSaidOnce(t *testing.T) {
	b := briefing
	b.People = slices.Clone(b.People)
	b.People[0].Differences = []sheet.BriefingDiffers{{Who: "Nuno", What: "tee", Here: "100 bar",
		There: "decompression"}, {Who: "Nuno", What: "tee", Here: "100 bar", There: "nothing"}}
	b.Findings = nil
	for _, name := range []string{"Nuno", "Quinn"} {
		b.Findings = append(b.Findings,
			finding.Finding{Rule: "x", Severity: finding.Caution, Message: name +
				" was trained in other signals.", Params: map[string]any{"person": name}})
	}
	var page, text bytes.Buffer
	require.NoError(t, b.HTML(&page, head))
	require.NoError(t, b.Text(&text, head))
	require.Contains(t, page.String(), "Nuno, Quinn: tee.</strong> Here: 100 bar. There: decompression.")
	require.Contains(t, page.String(), "Nuno: tee.</strong> Here: 100 bar. There: nothing.")
	for _, s := range []string{page.String(), text.String()} {
		require.Contains(t, s, "Nuno was trained in other signals. Likewise Quinn.")
	}
}
