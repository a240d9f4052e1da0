package layers

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
)

// runners are the functions of package pg that call their argument again when the
// server gives a transaction up.
var runners = []string{"InTx", "InTxWith", "Browse", "BrowseTx", "Snapshot", "ReadBatch", "WriteBatch", "Recognise"}

// Retried returns the breaches of the law that a repeated function starts afresh: a
// function passed to a runner adds nothing to a variable outside it, which would still
// have the additions of an earlier attempt, unless it sets the variable first.
func Retried(m *Module) []Breach {
	const law = "what a transaction runner may run again adds nothing to what is outside it"
	var out []Breach
	for _, p := range m.Packages {
		for _, f := range p.Files {
			if f.Generated || f.Test {
				continue
			}
			ast.Inspect(f.AST, func(n ast.Node) bool {
				call, is := n.(*ast.CallExpr)
				if !is || !isRunner(call.Fun) {
					return true
				}
				for _, arg := range call.Args {
					if lit, is := arg.(*ast.FuncLit); is {
						for _, at := range accumulated(lit) {
							out = append(out, Breach{law, m.where(at.node), at.name +
								" keeps what an attempt before added",
								"hand the value back with pg.InTx, or set " + at.name +
									" anew where the function begins"})
						}
					}
				}
				return true
			})
		}
	}
	return out
}

func isRunner(fun ast.Expr) bool {
	if generic, is := fun.(*ast.IndexExpr); is {
		fun = generic.X
	}
	sel, is := fun.(*ast.SelectorExpr)
	return is && slices.Contains(runners, sel.Sel.Name)
}

// growth is a place where a variable outside the function grows.
type growth struct {
	node ast.Node
	name string
}

// accumulated returns where a function adds to variables that it neither declared nor
// set before.
func accumulated(lit *ast.FuncLit) (out []growth) {
	own := declared(lit)
	anew := map[string]bool{}
	grows := func(n ast.Node, to ast.Expr) {
		name := types.ExprString(to)
		if base := baseOf(to); base != "" && base != "_" && !own[base] && !anew[name] && !anew[base] {
			out = append(out, growth{n, name})
		}
	}
	ast.Inspect(lit.Body, func(n ast.Node) bool {
		switch s := n.(type) {
		case *ast.IncDecStmt:
			grows(s, s.X)
		case *ast.AssignStmt:
			for i, to := range s.Lhs {
				from := s.Rhs[min(i, len(s.Rhs)-1)]
				switch {
				case s.Tok == token.DEFINE:
				case s.Tok != token.ASSIGN, isElement(to),
					mentions(from, types.ExprString(to)) && !isElement(to):
					grows(s, to)
				default:
					anew[types.ExprString(to)] = true
				}
			}
		}
		return true
	})
	return out
}

func isElement(e ast.Expr) bool { _, is := e.(*ast.IndexExpr); return is }

// baseOf returns the variable that an expression is a part of.
func baseOf(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.Ident:
		return x.Name
	case *ast.SelectorExpr:
		return baseOf(x.X)
	case *ast.IndexExpr:
		return baseOf(x.X)
	case *ast.StarExpr:
		return baseOf(x.X)
	case *ast.ParenExpr:
		return baseOf(x.X)
	}
	return ""
}

// mentions reports whether an expression appends to the expression with that text.
func mentions(e ast.Expr, name string) (found bool) {
	ast.Inspect(e, func(n ast.Node) bool {
		call, is := n.(*ast.CallExpr)
		if !is {
			return true
		}
		if fun, is := call.Fun.(*ast.Ident); is && fun.Name == "append" && len(call.Args) > 0 {
			found = found || slices.ContainsFunc(call.Args,
				func(a ast.Expr) bool { return types.ExprString(a) == name })
		}
		return true
	})
	return found
}

// declared returns the names that a function declares itself.
func declared(lit *ast.FuncLit) map[string]bool {
	own := map[string]bool{}
	add := func(e ast.Expr) {
		if x, is := e.(*ast.Ident); is {
			own[x.Name] = true
		}
	}
	ast.Inspect(lit, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.FuncType:
			for _, list := range []*ast.FieldList{x.Params, x.Results} {
				if list == nil {
					continue
				}
				for _, field := range list.List {
					for _, name := range field.Names {
						own[name.Name] = true
					}
				}
			}
		case *ast.AssignStmt:
			if x.Tok == token.DEFINE {
				for _, to := range x.Lhs {
					add(to)
				}
			}
		case *ast.RangeStmt:
			if x.Tok == token.DEFINE {
				add(x.Key)
				add(x.Value)
			}
		case *ast.ValueSpec:
			for _, name := range x.Names {
				own[name.Name] = true
			}
		}
		return true
	})
	return own
}
