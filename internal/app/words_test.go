package app_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// Every message of a finding and every cure that stands in the code begins with a
// capital, or with what it is made of, and ends with a full stop.
func TestMessagesAndCuresAreSentences(t *testing.T) {
	var bad []string
	seen := 0
	require.NoError(t, filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			text := said(n)
			if text == nil {
				return true
			}
			seen++
			if why := noSentence(text); why != "" {
				bad = append(bad, fmt.Sprintf("%s: %s", set.Position(n.Pos()), why))
			}
			return true
		})
		return nil
	}))
	require.Greater(t, seen, 200, "they are looked at")
	require.Empty(t, bad, "\n%s", strings.Join(bad, "\n"))
}

// said returns the expression of a text for people: the message of a cure or a
// finding, or the template of Rule.Say and Rule.Of.
func said(n ast.Node) ast.Expr {
	switch x := n.(type) {
	case *ast.KeyValueExpr:
		if key, is := x.Key.(*ast.Ident); is && key.Name == "Message" {
			return x.Value
		}
	case *ast.CallExpr:
		of, is := x.Fun.(*ast.SelectorExpr)
		if !is || len(x.Args) == 0 || isNamed(of.X, "permission") { // permission.Of is asked about an operation
			return nil
		}
		if of.Sel.Name == "Say" || of.Sel.Name == "Of" {
			if l := closing(x.Args[0]); l != "" {
				return x.Args[0]
			}
		}
	}
	return nil
}

func isNamed(e ast.Expr, name string) bool {
	x, is := e.(*ast.Ident)
	return is && x.Name == name
}

func noSentence(e ast.Expr) string {
	begin, end := opening(e), closing(e)
	r, _ := utf8.DecodeRuneInString(begin)
	switch {
	case begin != "" && unicode.IsLower(r):
		return fmt.Sprintf("%q begins with no capital", begin)
	case end != "" && !strings.HasSuffix(strings.TrimRight(end, `"`), ".") && !strings.HasSuffix(end, "?") &&
		!strings.HasSuffix(end, "}") && !strings.HasSuffix(end, "%s"):
		return fmt.Sprintf("%q ends with no full stop", end)
	}
	return ""
}

// opening and closing return the text with which an expression begins and ends, ""
// where that is no text in the code.
func opening(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.BasicLit:
		text, _ := strconv.Unquote(x.Value)
		return text
	case *ast.BinaryExpr:
		return opening(x.X)
	case *ast.CallExpr:
		if of, is := x.Fun.(*ast.SelectorExpr); is && of.Sel.Name == "Sprintf" {
			return opening(x.Args[0])
		}
	}
	return ""
}

func closing(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.BasicLit:
		text, _ := strconv.Unquote(x.Value)
		return text
	case *ast.BinaryExpr:
		return closing(x.Y)
	case *ast.CallExpr:
		if of, is := x.Fun.(*ast.SelectorExpr); is && of.Sel.Name == "Sprintf" {
			return closing(x.Args[0])
		}
	}
	return ""
}
