package ratio_test

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/ratio"
	"tankside/internal/units"
)

func TestBuiltinBooksAreValidAndAttested(t *testing.T) {
	seen := map[string]bool{}
	for _, b := range ratio.Builtin() {
		require.NoError(t, ratio.Validate(b), b.ID)
		require.False(t, seen[b.ID], b.ID)
		require.NotEqual(t, ratio.Own, b.Kind)
		seen[b.ID] = true
	}
	for _, id := range ratio.GeneralPractice() {
		require.True(t, seen[id], id)
	}
}

// A verdict records ids and versions, so a book that changes must change its
// version: change it, and the line in testdata with it.
func TestABookKeepsItsContentWithinAVersion(t *testing.T) {
	f, err := os.Open("testdata/editions.txt")
	require.NoError(t, err)
	defer f.Close()
	recorded := map[string]string{}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		var id, version, sum string
		_, err := fmt.Sscan(lines.Text(), &id, &version, &sum)
		require.NoError(t, err, lines.Text())
		recorded[id+" "+version] = sum
	}
	for _, b := range ratio.Builtin() {
		content, err := json.Marshal(b)
		require.NoError(t, err)
		require.Equal(t, fmt.Sprintf("%x", sha256.Sum256(content))[:16], recorded[b.ID+" "+b.Version],
			"%s version %s", b.ID, b.Version)
	}
}

func TestBuiltinGivesItsOwnCopy(t *testing.T) {
	ratio.Builtin()[0].Lines[0].Places[0] = 99
	require.Equal(t, 8, ratio.Builtin()[0].Lines[0].Places[0])
}

func TestValidateSaysWhereAndWhat(t *testing.T) {
	line := func(change func(*ratio.Line)) func(*ratio.Book) {
		return func(b *ratio.Book) { change(&b.Lines[0]) }
	}
	condition := func(c ratio.Condition) func(*ratio.Book) {
		return line(func(l *ratio.Line) { l.Conditions = []ratio.Condition{c} })
	}
	for _, c := range []struct {
		name, pointer string
		change        func(*ratio.Book)
	}{
		{"an id with a space", "/id", func(b *ratio.Book) { b.ID = "my book" }},
		{"no title", "/title", func(b *ratio.Book) { b.Title = " " }},
		{"no source", "/source", func(b *ratio.Book) { b.Source = "" }},
		{"no version", "/version", func(b *ratio.Book) { b.Version = "" }},
		{"an unknown kind", "/kind", func(b *ratio.Book) { b.Kind = "custom" }},
		{"an unknown status", "/status", func(b *ratio.Book) { b.Status = "guessed" }},
		{"a law of nowhere", "/jurisdiction", func(b *ratio.Book) { b.Kind = ratio.Law }},
		{"no lines", "/lines", func(b *ratio.Book) { b.Lines = nil }},
		{"a ratio for theory", "/lines/0/settings",
			line(func(l *ratio.Line) { l.Settings = []ratio.Setting{ratio.Theory} })},
		{"no level", "/lines/0/levels", line(func(l *ratio.Line) { l.Levels = nil })},
		{"ages the wrong way round", "/lines/0/age_to",
			line(func(l *ratio.Line) { l.AgeFrom, l.AgeTo = 15, 10 })},
		{"no figure", "/lines/0/places", line(func(l *ratio.Line) { l.Places = nil })},
		{"a negative figure", "/lines/0/places/0", line(func(l *ratio.Line) { l.Places = []int{-1} })},
		{"an assistant who removes places", "/lines/0/places/1",
			line(func(l *ratio.Line) { l.Places = []int{8, 6} })},
		{"a figure above the cap", "/lines/0/places/0", line(func(l *ratio.Line) { l.Cap = 4 })},
		{"a negative addition", "/lines/0/per_assistant", line(func(l *ratio.Line) { l.PerAssistant = -2 })},
		{"young from no age", "/lines/0/young/below",
			line(func(l *ratio.Line) { l.Young = &ratio.Mix{PerHead: 2} })},
		{"no number for a depth", "/lines/0/max_depth",
			line(func(l *ratio.Line) { l.MaxDepth = units.Depth(math.NaN()) })},
		{"a condition without words", "/lines/0/conditions/0/text", condition(ratio.Condition{})},
		{"an unknown cause", "/lines/0/conditions/0/cause",
			condition(ratio.Condition{Text: "x", Cause: "moon"})},
		{"a figure for what is judged by eye", "/lines/0/conditions/0/fewer",
			condition(ratio.Condition{Text: "x", Fewer: 1})},
		{"visibility in degrees", "/lines/0/conditions/0/beyond",
			condition(ratio.Condition{Text: "x", Cause: ratio.Visibility,
				Beyond: units.Read(5, units.UnitCelsius)})},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := own("house", 8, 10)
			require.NoError(t, ratio.Validate(b))
			c.change(&b)
			var flaws ratio.Flaws
			require.ErrorAs(t, ratio.Validate(b), &flaws)
			require.Equal(t, c.pointer, flaws[0].Pointer)
			require.Contains(t, flaws.Error(), flaws[0].Message)
		})
	}
}

func TestSelect(t *testing.T) {
	house, broken, thief := own("house", 6), own("house"), own("france", 9)
	for _, c := range []struct {
		name string
		ids  []string
		own  []ratio.Book
		want string // part of the error, "" for none
	}{
		{"built-in and own, in the order asked for", []string{"house", "general-open"}, []ratio.Book{house},
			""},
		{"none", nil, nil, ""},
		{"an unknown id", []string{"atlantis"}, nil, `there is no rule book "atlantis"`},
		{"one named twice", []string{"france", "france"}, nil, `"france" is named twice`},
		{"an own book that is not valid", []string{"france"}, []ratio.Book{broken},
			`own rule book "house": /lines/0/places`},
		{"an own book with another's id", []string{"france"}, []ratio.Book{thief}, "another book has this id"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ratio.Select(c.ids, c.own)
			if c.want != "" {
				require.ErrorContains(t, err, c.want)
				return
			}
			require.NoError(t, err)
			require.Len(t, got, len(c.ids))
			for i, id := range c.ids {
				require.Equal(t, id, got[i].ID)
			}
		})
	}
}

func TestRulesAreReadable(t *testing.T) {
	ids := map[string]bool{}
	for _, r := range ratio.Rules() {
		require.False(t, ids[r.ID], r.ID)
		ids[r.ID] = true
		require.NotEmpty(t, r.Title, r.ID)
		require.NotEmpty(t, r.Text, r.ID)
		require.NotEmpty(t, r.Source, r.ID)
		require.NotEmpty(t, r.Severity, r.ID)
	}
}
