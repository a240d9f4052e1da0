package sheet_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/sheet"
)

var head = sheet.Head{Title: "Gas plan", Of: `Cove <2> & "blue"`, State: "Not confirmed",
	Facts:   []sheet.Fact{{Label: "Site", Value: "Kelp Cove"}},
	Caution: []string{"A plan is advice.", "The instructor in charge decides."}, Foot: "Made by hand."}

var over = finding.List{{Severity: finding.Forbidden, Message: "Too deep.",
	Cures: []finding.Cure{{Code: "go_shallower", Message: "Plan a shallower dive."}}},
	{Severity: finding.Caution, Message: "Cold water."}, {Severity: finding.Note, Message: "Nothing else."}}

// What people wrote is text, never markup; the page loads and runs nothing.
func TestAPageKeepsToItself(t *testing.T) {
	var page bytes.Buffer
	body := sheet.Body(`<h2>{{.Title}}</h2>{{template "findings" .Findings}}`)
	require.NoError(t, sheet.HTML(&page, head, body,
		map[string]any{"Title": "<script>alert(1)</script>", "Findings": over}))
	html := page.String()
	require.NotContains(t, html, "<script")
	require.Contains(t, html, "Cove &lt;2&gt; &amp; &#34;blue&#34;")
	for _, loads := range []string{"src=", "href=", "url(", "@import", "<link", "<iframe", " on"} {
		require.NotContains(t, strings.SplitN(html, "</style>", 2)[1], loads)
		if loads != " on" {
			require.NotContains(t, html, loads)
		}
	}
	for _, said := range []string{"✕ Forbidden.", "⚠ Caution.", "Plan a shallower dive.", "A plan is advice.",
		"The instructor in charge decides.", "Not confirmed", "Kelp Cove"} {
		require.Contains(t, html, said)
	}
}

func TestABodyThatDoesNotFitItsContentIsAnError(t *testing.T) {
	var page bytes.Buffer
	require.Error(t, sheet.HTML(&page, head, sheet.Body(`{{.Missing.Of}}`), struct{}{}))
	require.Zero(t, page.Len(), "half a page is none")
}

func TestATextSheet(t *testing.T) {
	s := sheet.NewText(head)
	s.Section("People")
	s.Table([]string{"name", "low"}, [][]string{{"Nuno", "55 bar"}, {"Quinn Vale", "800 psi"}})
	s.Item(strings.Repeat("eighty characters are what a line has ", 4))
	s.Findings(over)
	var out bytes.Buffer
	require.NoError(t, s.End(&out))
	require.True(t, strings.HasPrefix(out.String(),
		"GAS PLAN: Cove <2> & \"blue\"\n===========================\n*** Not confirmed\nSite: Kelp Cove\n\nPeople\n------\n"+
			"name        low\nNuno        55 bar\nQuinn Vale  800 psi\n- eighty"), out.String())
	require.Contains(t, out.String(), "✕ Forbidden: Too deep.\n  -> Plan a shallower dive.\n")
	require.True(t, strings.HasSuffix(out.String(),
		"\nCAUTION. A plan is advice.\nThe instructor in charge decides.\n\nMade by hand.\n"), out.String())
	for _, line := range strings.Split(out.String(), "\n") {
		require.LessOrEqual(t, utf8.RuneCountInString(line), 80)
	}
}
