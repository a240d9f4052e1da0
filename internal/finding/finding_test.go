package finding_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/units"
)

func TestListTellsWhatForbids(t *testing.T) {
	r := finding.Rule{ID: "x.y", Severity: finding.Caution, Source: "our choice"}
	f := r.Of("a caution", finding.Subject{Type: "group", ID: "1"})
	require.Equal(t, "our choice", f.Source)
	l := finding.List{f}
	require.False(t, l.Forbids())
	require.True(t, l.Has(finding.Caution))
	f.Severity = finding.Forbidden
	l = append(l, f)
	require.True(t, l.Forbids())
	require.Len(t, l.Only(finding.Forbidden), 1)
	require.Len(t, l.Of(r), 2)
}

func TestAmountsSayThemselvesInWords(t *testing.T) {
	require.Equal(t, "9 students", finding.Count(9, "students").Text)
	require.Equal(t, []string{"1 student", "students"},
		[]string{finding.Count(1, "students").Text, finding.Count(1, "students").Unit})
	require.Equal(t, "1 person", finding.Count(1, "people").Text)
	require.Equal(t, "1 s", finding.Count(1, "s").Text)
	q := finding.Quantity(units.Read(187.5, units.UnitBar))
	require.Equal(t, "187.5 bar", q.Text)
	require.InDelta(t, 187.5, *q.Value, 0)
	require.Equal(t, "2026-06-06", finding.Day("2026-06-06").On)
}

func TestWhatIsSaidKeepsItsParts(t *testing.T) {
	r := finding.Rule{ID: "x.y", Severity: finding.Caution, Source: "our choice"}
	f := r.Say("{person} was at {depth} on {dives} dives.", "Nuno {x}", units.Read(18, units.UnitMetre),
		2).About(finding.Subject{Type: "person", ID: "1"})
	require.Equal(t, "Nuno {x} was at 18 m on 2 dives.", f.Message)
	require.Equal(t, map[string]any{"person": "Nuno {x}", "dives": 2.0,
		"depth": map[string]any{"value": 18.0, "unit": "m"}}, f.Params)
	require.Len(t, f.Subjects, 1)
}

// Every template in the program names each of its parts, once.
func TestEveryTemplateNamesItsParts(t *testing.T) {
	template := map[string]int{"Say": 0, "add": 2, "flag": 2} // which argument is the template
	name := regexp.MustCompile(`\{([a-z_]+)\}`)
	files, err := filepath.Glob("../*/*.go")
	require.NoError(t, err)
	seen := 0
	for _, path := range files {
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			called := ""
			switch f := call.Fun.(type) {
			case *ast.Ident:
				called = f.Name
			case *ast.SelectorExpr:
				called = f.Sel.Name
			}
			at, ok := template[called]
			if !ok || len(call.Args) <= at || called != "Say" && filepath.Dir(path) != "../syllabus" {
				return true
			}
			text, ok := literal(call.Args[at])
			if !ok {
				return true
			}
			seen++
			var names []string
			for _, m := range name.FindAllStringSubmatch(text, -1) {
				names = append(names, m[1])
			}
			require.Len(t, names, len(call.Args)-at-1, "%s: %s", path, text)
			slices.Sort(names)
			require.Len(t, slices.Compact(names), len(call.Args)-at-1, "%s: a name twice: %s", path, text)
			require.NotContains(t, text, "%", "%s: %s", path, text)
			return true
		})
	}
	require.Greater(t, seen, 100)
}

// literal returns a text that is written as one literal, or as several that are added up.
func literal(e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		return text, err == nil && e.Kind == token.STRING
	case *ast.BinaryExpr:
		left, ok := literal(e.X)
		right, also := literal(e.Y)
		return left + right, ok && also && e.Op == token.ADD
	}
	return "", false
}

// What a part of a message is, is kept with it: a client words the message in another language from these
// alone, and in the units and by the clock of its own reader.
func TestEachPartOfAMessageKeepsItsType(t *testing.T) {
	ada := finding.Named{Type: "person", ID: "1", Name: "Ada"}
	bob := finding.Named{Type: "person", ID: "2", Name: "Bob"}
	person := func(id, name string) map[string]any {
		return map[string]any{"type": "person", "id": id, "name": name}
	}
	quantity := func(value float64, unit string) map[string]any {
		return map[string]any{"value": value, "unit": unit}
	}
	for _, c := range []struct {
		part  any
		words string
		param any
	}{
		{ada, "Ada", person("1", "Ada")},
		{finding.Several{ada, bob}, "Ada and Bob", []any{person("1", "Ada"), person("2", "Bob")}},
		{units.Read(50, units.UnitBar), "50 bar", quantity(50, "bar")},
		{finding.Span(200 * time.Minute), "3 h 20 min", quantity(12000, "s")},
		{*finding.Count(1, "students"), "1 student", quantity(1, "students")},
		{finding.Clock(time.Date(2026, 6, 6, 18, 5, 0, 0, time.UTC), time.FixedZone("", 3600)), "19:05",
			"2026-06-06T18:05:00Z"},
		{3, "3", 3.0},
		{"calm", "calm", "calm"},
	} {
		f := finding.Rule{ID: "x.y"}.Say("{part}.", c.part)
		require.Equal(t, c.words+".", f.Message)
		require.Equal(t, c.param, f.Params["part"])
		raw, err := json.Marshal(f.Params)
		require.NoError(t, err)
		var back map[string]any
		require.NoError(t, json.Unmarshal(raw, &back))
		require.Equal(t, f.Params, back, "the form in which the database brings it back")
	}
}
