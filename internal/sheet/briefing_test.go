package sheet_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/sheet"
)

var briefing = sheet.Briefing{
	People: []sheet.BriefingPerson{
		{Name: "Nuno <b>", Heard: "said so 08:50", Figures: [3]sheet.BriefingFigure{{Label: "Start"}, {Label: "Turn", Text: "120 bar", Hands: "one, then two", Strip: "<svg>120</svg>"},
			{Label: "Low on gas", Text: "60 bar", Hands: "six", Strip: "<svg>60</svg>"}}},
		{Name: "Quinn", Figures: [3]sheet.BriefingFigure{{Label: "Start"}, {Label: "Turn", Text: "120 bar", Hands: "one, then two", Strip: "<svg>120</svg>"}, {Label: "Low on gas"}},
			Differences: []sheet.BriefingDiffers{{Who: "Quinn", What: "tee", Here: "100 bar", There: "decompression"}}},
	},
	Signs:   []sheet.BriefingSign{{Meaning: "low on gas", Gesture: "Fist to the chest", Picture: "<svg>fist</svg>"}},
	WhenLow: "Signal.", WhenOut: "Share.", WhenSeparated: "Look for one minute.",
	Roles: []sheet.Fact{{Label: "Oxygen", Value: "in the van"}}, Emergency: "Call channel 12.", Note: "New fins.", Findings: over,
}

// Both forms of a briefing say the same, and each pressure is drawn once.
func TestABriefingSaysTheSameOnPaperAndAsText(t *testing.T) {
	var page, text bytes.Buffer
	require.NoError(t, briefing.HTML(&page, head))
	require.NoError(t, briefing.Text(&text, head))
	for _, said := range []string{"120 bar", "60 bar", "said so 08:50", "decompression", "Fist to the chest", "Look for one minute.", "in the van", "Call channel 12.", "New fins.", "Too deep."} {
		require.Contains(t, page.String(), said)
		require.Contains(t, text.String(), said)
	}
	require.Equal(t, 1, strings.Count(page.String(), "<svg>120</svg>"))
	require.Contains(t, page.String(), "Nuno &lt;b&gt;")
	require.Contains(t, page.String(), "not acknowledged")
	require.Contains(t, text.String(), "[ ]")
}
