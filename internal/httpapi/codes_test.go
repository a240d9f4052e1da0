package httpapi

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
)

// made gives the code of every fault that the program makes, with its kind as
// it is written, out of the calls of fault.New.
func made(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) != 3 {
				return true
			}
			if name, kind, ok := newFault(call, file.Name.Name); ok {
				out[name] = kind
			}
			return true
		})
		return nil
	}))
	return out
}

// newFault reads fault.New(fault.Kind, "code", message), or New(Kind, "code",
// message) within package fault.
func newFault(call *ast.CallExpr, in string) (code, kind string, ok bool) {
	last := func(e ast.Expr) (string, bool) {
		if s, ok := e.(*ast.SelectorExpr); ok {
			pkg, ok := s.X.(*ast.Ident)
			return s.Sel.Name, ok && pkg.Name == "fault"
		}
		id, ok := e.(*ast.Ident)
		return strings.TrimSpace(nameOf(id)), ok && in == "fault"
	}
	function, ours := last(call.Fun)
	text, isText := call.Args[1].(*ast.BasicLit)
	if !ours || function != "New" || !isText {
		return "", "", false
	}
	code, err := strconv.Unquote(text.Value)
	kind, _ = last(call.Args[0])
	return code, kind, err == nil
}

func nameOf(id *ast.Ident) string {
	if id == nil {
		return ""
	}
	return id.Name
}

func TestEveryFaultHasItsPage(t *testing.T) {
	faults := made(t)
	require.Greater(t, len(faults), 20)
	for code := range faults {
		about, ok := codes[code]
		if !ok {
			t.Errorf("the code %s has no page: enter it in codes", code)
			continue
		}
		require.NotEmpty(t, about.Title, code)
		require.NotEmpty(t, about.Text, code)
		require.NotEmpty(t, about.Cure, code)
	}
}

func TestEveryPageIsOfAFault(t *testing.T) {
	faults := made(t)
	faults["too_many_requests"] = "TooMany" // the contract has it for whatever limits requests in front of the service
	for code, about := range codes {
		require.Contains(t, faults, code, "nothing in the program fails with this code")
		require.Regexp(t, regexp.MustCompile(`^[a-z]+(_[a-z]+)*$`), code)
		require.Contains(t, fault.Kinds, about.Kind, code)
	}
}

func TestEveryKindHasItsStatus(t *testing.T) {
	seen := map[int]bool{}
	for _, k := range fault.Kinds {
		require.NotZero(t, statuses[k], "kind %d", k)
		require.False(t, seen[statuses[k]], "two kinds have status %d", statuses[k])
		seen[statuses[k]] = true
	}
}
