package finding_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

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
	require.Equal(t, []string{"1 student", "students"}, []string{finding.Count(1, "students").Text, finding.Count(1, "students").Unit})
	require.Equal(t, "1 person", finding.Count(1, "people").Text)
	require.Equal(t, "1 s", finding.Count(1, "s").Text)
	q := finding.Quantity(units.Read(187.5, units.UnitBar))
	require.Equal(t, "187.5 bar", q.Text)
	require.InDelta(t, 187.5, *q.Value, 0)
	require.Equal(t, "2026-06-06", finding.Day("2026-06-06").On)
}

func TestWhatIsSaidKeepsItsParts(t *testing.T) {
	r := finding.Rule{ID: "x.y", Severity: finding.Caution, Source: "our choice"}
	f := r.Say("{person} was at {depth} on {dives} dives.", "Nuno {x}", units.Read(18, units.UnitMetre), 2).About(finding.Subject{Type: "person", ID: "1"})
	require.Equal(t, "Nuno {x} was at 18 m on 2 dives.", f.Message)
	require.Equal(t, map[string]any{"person": "Nuno {x}", "depth": "18 m", "dives": 2.0}, f.Params)
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
			text, ok := call.Args[at].(*ast.BasicLit)
			if !ok || text.Kind != token.STRING {
				return true
			}
			seen++
			var names []string
			for _, m := range name.FindAllStringSubmatch(text.Value, -1) {
				names = append(names, m[1])
			}
			require.Len(t, names, len(call.Args)-at-1, "%s: %s", path, text.Value)
			slices.Sort(names)
			require.Len(t, slices.Compact(names), len(call.Args)-at-1, "%s: a name twice: %s", path, text.Value)
			require.NotContains(t, text.Value, "%", "%s: %s", path, text.Value)
			return true
		})
	}
	require.Greater(t, seen, 100)
}
