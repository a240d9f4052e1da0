package layers

import (
	"fmt"
	"go/ast"
	"go/token"
	"strconv"
	"strings"
)

const ownership = "a package writes its own tables only, and reads others' through the views that " +
	"their owner keeps; query packages read the tables themselves, and write none"

// Tables returns the breaches of table ownership in every statement of the code, tests
// excepted. It finds a statement by its keywords in capitals, in any string, so that
// no statement is missed because of how it reaches the database.
func Tables(m *Module) []Breach {
	owners := Owners()
	var out []Breach
	for _, p := range m.Packages {
		consts := constants(p)
		for _, f := range p.Files {
			if f.Test || f.Generated || p.Path == "internal/layers" || strings.HasSuffix(p.Path, "test") {
				continue
			}
			for _, t := range texts(f, consts) {
				out = append(out, m.judgeText(p.Path, t, owners)...)
			}
		}
	}
	return out
}

func (m *Module) judgeText(pkg string, t text, owners map[string]string) []Breach {
	if lowercase(t.value, owners) {
		return []Breach{{"SQL keywords are in capitals, so that people and this test see them",
			m.where(t.node),
			"a statement in small letters", "write SELECT, FROM, INSERT INTO ... in capitals"}}
	}
	if !isSQL.MatchString(t.value) {
		return nil
	}
	var out []Breach
	for _, u := range uses(t.value) {
		if what, cure := judgeUse(pkg, u, owners); what != "" {
			out = append(out, Breach{ownership, m.where(t.node), pkg + " " + what, cure})
		}
	}
	return out
}

// queries reports whether a package is in the query room.
func queries(pkg string) bool {
	_, room, _ := place(pkg)
	return room == Query
}

func judgeUse(pkg string, u use, owners map[string]string) (what, cure string) {
	does := "reads"
	if u.writes {
		does = "writes"
	}
	owner, table := owners[u.name]
	keeper, view := ViewOwner(u.name)
	switch {
	case u.dynamic && strings.HasPrefix(pkg, "internal/pg"):
		return "", "" // reads the catalogue, and no table by name
	case u.dynamic:
		return does + " a table whose name is put together at run time", "write the name in the statement"
	case table && (owner == pkg || strings.HasPrefix(pkg, owner+"/")):
		return "", ""
	case table && !u.writes && queries(pkg):
		return "", ""
	case table && u.writes:
		return fmt.Sprintf("writes %s, which %s owns", u.name, owner), "ask " + owner +
			" to do it, or compose both in internal/desk"
	case table:
		return fmt.Sprintf("reads %s, which %s owns", u.name, owner),
			fmt.Sprintf("read a view that %s keeps, named %s_..., in migrations/", owner, lastOf(owner))
	case view && u.writes && keeper != pkg:
		return fmt.Sprintf("writes through %s, which %s keeps", u.name, keeper), "ask " + keeper +
			" to do it, or compose both in internal/desk"
	case view:
		return "", ""
	}
	return fmt.Sprintf("%s %s, which nobody owns", does, u.name),
		"enter it in tables in internal/layers/house.go, or name the view after its owner"
}

// text is a string in the source, composed of its constant parts.
type text struct {
	node  ast.Node
	value string
}

// texts returns every string expression of a file, the outermost only.
func texts(f *File, consts map[string]ast.Expr) []text {
	var out []text
	ast.Inspect(f.AST, func(n ast.Node) bool {
		e, ok := n.(ast.Expr)
		if !ok {
			return true
		}
		switch e := e.(type) {
		case *ast.BasicLit:
			if e.Kind == token.STRING {
				out = append(out, text{n, fold(e, consts, 0)})
			}
		case *ast.BinaryExpr:
			if e.Op == token.ADD {
				out = append(out, text{n, fold(e, consts, 0)})
				return false
			}
		}
		return true
	})
	return out
}

// constants returns the constants of a package by name, also those inside functions.
func constants(p *Package) map[string]ast.Expr {
	out := map[string]ast.Expr{}
	for _, f := range p.Files {
		ast.Inspect(f.AST, func(n ast.Node) bool {
			d, ok := n.(*ast.GenDecl)
			if !ok || d.Tok != token.CONST {
				return true
			}
			for _, s := range d.Specs {
				v := s.(*ast.ValueSpec)
				for i, x := range v.Values {
					out[v.Names[i].Name] = x
				}
			}
			return true
		})
	}
	return out
}

// fold returns the text of an expression, with a hole for each part that is not
// constant.
func fold(e ast.Expr, consts map[string]ast.Expr, depth int) string {
	switch e := e.(type) {
	case *ast.BasicLit:
		if s, err := strconv.Unquote(e.Value); err == nil {
			return s
		}
	case *ast.ParenExpr:
		return fold(e.X, consts, depth)
	case *ast.BinaryExpr:
		return fold(e.X, consts, depth) + fold(e.Y, consts, depth)
	case *ast.Ident:
		if c, ok := consts[e.Name]; ok && depth < 10 {
			return fold(c, consts, depth+1)
		}
	}
	return hole
}
