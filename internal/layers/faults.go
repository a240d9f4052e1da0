package layers

import (
	"go/ast"
	"go/types"
)

// Faults returns the breaches of the law that a fault is found anywhere in the chain of
// an error: a type assertion misses a wrapped fault, and its status with it.
func Faults(m *Module) []Breach {
	var out []Breach
	for _, p := range m.Packages {
		for _, f := range p.Files {
			if f.Generated || p.Path == "internal/fault" {
				continue
			}
			ast.Inspect(f.AST, func(n ast.Node) bool {
				a, is := n.(*ast.TypeAssertExpr)
				if is && a.Type != nil && types.ExprString(a.Type) == "*fault.Fault" {
					out = append(out, Breach{"a fault that somebody wrapped keeps its status", m.where(a),
						types.ExprString(a) + " misses a fault that was wrapped", "ask fault.Of"})
				}
				return true
			})
		}
	}
	return out
}
