package main

import (
	"go/ast"
	"go/constant"
	"go/types"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

// vocabulary is the package of findings and rules.
const vocabulary = "tankside/internal/finding"

// message is a template of a rule.
type message struct {
	rule     string
	template string
	params   []param
}

type param struct{ name, of string }

// same reports whether two messages have one template.
func (m message) same(o message) bool { return m.template == o.template }

// rulesOf returns the ids of the rules that packages declare, by package and name.
func rulesOf(pkgs []*packages.Package) map[string]string {
	out := map[string]string{}
	for _, p := range pkgs {
		for _, file := range p.Syntax {
			ast.Inspect(file, func(n ast.Node) bool {
				if spec, ok := n.(*ast.ValueSpec); ok {
					for i, value := range spec.Values {
						if id := idOf(p, value); id != "" {
							out[p.PkgPath+"."+spec.Names[i].Name] = id
						}
					}
				}
				return true
			})
		}
	}
	return out
}

// idOf returns the ID of a Rule that is declared by a literal, or by a call of a function of its package that
// is given the ID without the package's name; "" for anything else.
func idOf(p *packages.Package, value ast.Expr) string {
	if call, ok := value.(*ast.CallExpr); ok && named(p.TypesInfo.TypeOf(call), "Rule") && len(call.Args) > 0 {
		return p.Name + "." + text(p, call.Args[0])
	}
	lit, ok := value.(*ast.CompositeLit)
	if !ok || !named(p.TypesInfo.TypeOf(lit), "Rule") {
		return ""
	}
	for _, e := range lit.Elts {
		kv, ok := e.(*ast.KeyValueExpr)
		if ok && kv.Key.(*ast.Ident).Name == "ID" {
			return text(p, kv.Value)
		}
	}
	return ""
}

// named reports whether a type is the one of that name in the vocabulary.
func named(t types.Type, name string) bool {
	n, ok := types.Unalias(t).(*types.Named)
	return ok && n.Obj().Pkg() != nil && n.Obj().Pkg().Path() == vocabulary && n.Obj().Name() == name
}

// text returns the value of a constant string, "" for anything else.
func text(p *packages.Package, e ast.Expr) string {
	if v := p.TypesInfo.Types[e].Value; v != nil && v.Kind() == constant.String {
		return constant.StringVal(v)
	}
	return ""
}

// reader reads the messages of one package.
type reader struct {
	*packages.Package
	ids      map[string]string             // of rules
	values   map[types.Object][]ast.Expr   // what is assigned to a variable
	calls    map[types.Object][][]ast.Expr // the arguments of the calls of a function
	argument map[types.Object]position     // of which function a variable is an argument
}

type position struct {
	of types.Object
	at int
}

// read returns the messages that a package makes findings of.
func read(p *packages.Package, ids map[string]string) (out []message) {
	r := reader{p, ids, map[types.Object][]ast.Expr{}, map[types.Object][][]ast.Expr{},
		map[types.Object]position{}}
	for _, file := range p.Syntax {
		ast.Inspect(file, r.note)
	}
	for _, file := range p.Syntax {
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			f, ok := call.Fun.(*ast.SelectorExpr)
			if ok && named(r.TypesInfo.TypeOf(f.X), "Rule") && (f.Sel.Name == "Say" || f.Sel.Name == "Of") {
				out = append(out, r.made(f, call)...)
			}
			if ok && r.isInvalid(f) {
				for _, t := range r.texts(call.Args[1], 0) {
					out = append(out, r.message(invalid, t, call.Args[2:]))
				}
			}
			return true
		})
	}
	return out
}

// invalid is the rule that fault.Invalid makes findings of.
const invalid = "contract.invalid_value"

// isInvalid reports whether a function is fault.Invalid, whose arguments are a pointer, a template and its parts.
func (r reader) isInvalid(f *ast.SelectorExpr) bool {
	of, ok := r.TypesInfo.Uses[f.Sel].(*types.Func)
	return ok && of.FullName() == "tankside/internal/fault.Invalid"
}

// note keeps what is assigned, which functions there are, and how they are called.
func (r reader) note(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.AssignStmt:
		for i, left := range n.Lhs {
			name, ok := left.(*ast.Ident)
			if ok && i < len(n.Rhs) && (len(n.Lhs) == len(n.Rhs) || isIndex(n.Rhs[i])) {
				r.assign(name, n.Rhs[i])
			}
		}
	case *ast.ValueSpec:
		for i, value := range n.Values {
			r.assign(n.Names[i], value)
		}
	case *ast.FuncDecl:
		r.arguments(r.TypesInfo.Defs[n.Name], n.Type)
	case *ast.CallExpr:
		switch f := n.Fun.(type) {
		case *ast.Ident:
			r.called(f, n)
		case *ast.SelectorExpr:
			r.called(f.Sel, n)
		}
	}
	return true
}

// isIndex reports whether an expression looks something up, of which the first value is what was found.
func isIndex(e ast.Expr) bool {
	_, is := e.(*ast.IndexExpr)
	return is
}

func (r reader) called(name *ast.Ident, call *ast.CallExpr) {
	if f := r.TypesInfo.Uses[name]; f != nil {
		r.calls[f] = append(r.calls[f], call.Args)
	}
}

func (r reader) assign(name *ast.Ident, value ast.Expr) {
	of := r.TypesInfo.ObjectOf(name)
	r.values[of] = append(r.values[of], value)
	if f, ok := value.(*ast.FuncLit); ok {
		r.arguments(of, f.Type)
	}
}

func (r reader) arguments(of types.Object, f *ast.FuncType) {
	at := 0
	for _, field := range f.Params.List {
		for _, name := range field.Names {
			r.argument[r.TypesInfo.Defs[name]] = position{of, at}
			at++
		}
	}
}

// made returns the messages of one place that makes findings. Where it stands in a function that is given the
// rule or the template, each call of that function is a place of its own.
func (r reader) made(f *ast.SelectorExpr, call *ast.CallExpr) (out []message) {
	within := func(e ast.Expr) (position, bool) {
		name, ok := e.(*ast.Ident)
		if !ok {
			return position{}, false
		}
		p, ok := r.argument[r.TypesInfo.Uses[name]]
		return p, ok
	}
	parts := call.Args[1:]
	if f.Sel.Name == "Of" {
		parts = nil // of subjects
	}
	rule, ruleGiven := within(f.X)
	template, templateGiven := within(call.Args[0])
	if !ruleGiven && !templateGiven {
		return r.messages(f.X, call.Args[0], parts)
	}
	of := rule.of
	if templateGiven {
		of = template.of
	}
	for _, args := range r.calls[of] {
		x, t, p := f.X, call.Args[0], parts
		if ruleGiven {
			x = args[rule.at]
		}
		if templateGiven {
			t = args[template.at]
		}
		if call.Ellipsis.IsValid() {
			p = args[min(template.at+1, len(args)):]
		}
		out = append(out, r.messages(x, t, p)...)
	}
	return out
}

var part = regexp.MustCompile(`\{([a-z_]+)\}`)

// messages returns the message of each rule and each template that two expressions may be.
func (r reader) messages(rule, template ast.Expr, parts []ast.Expr) (out []message) {
	for _, id := range r.rules(rule, 0) {
		for _, t := range r.texts(template, 0) {
			out = append(out, r.message(id, t, parts))
		}
	}
	return out
}

// message returns the message of a rule by a template and its parts.
func (r reader) message(rule, template string, parts []ast.Expr) message {
	m := message{rule: rule, template: template}
	for i, found := range part.FindAllStringSubmatch(template, -1) {
		p := param{found[1], "text"}
		if i < len(parts) {
			p.of = kind(found[1], r.TypesInfo.TypeOf(parts[i]))
		}
		m.params = append(m.params, p)
	}
	return m
}

// furthest is how many assignments are followed from a variable to its values.
const furthest = 3

// rules returns the ids of the rules that an expression may be.
func (r reader) rules(e ast.Expr, deep int) (out []string) {
	var of types.Object
	switch e := e.(type) {
	case *ast.CompositeLit: // a map of rules
		for _, item := range e.Elts {
			if kv, ok := item.(*ast.KeyValueExpr); ok {
				out = append(out, r.rules(kv.Value, deep)...)
			}
		}
		return out
	case *ast.IndexExpr:
		return r.rules(e.X, deep)
	case *ast.Ident:
		of = r.TypesInfo.ObjectOf(e)
	case *ast.SelectorExpr:
		of = r.TypesInfo.ObjectOf(e.Sel)
	}
	if of == nil || of.Pkg() == nil || deep > furthest {
		return nil
	}
	if id := r.ids[of.Pkg().Path()+"."+of.Name()]; id != "" && of.Parent() == of.Pkg().Scope() {
		return []string{id}
	}
	for _, value := range r.values[of] {
		out = append(out, r.rules(value, deep+1)...)
	}
	if p, ok := r.argument[of]; ok {
		for _, args := range r.calls[p.of] {
			out = append(out, r.rules(args[p.at], deep+1)...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// texts returns the constant texts that an expression may be.
func (r reader) texts(e ast.Expr, deep int) (out []string) {
	if t := text(r.Package, e); t != "" {
		return []string{t}
	}
	name, ok := e.(*ast.Ident)
	if !ok || deep > furthest {
		return nil
	}
	of := r.TypesInfo.ObjectOf(name)
	for _, value := range r.values[of] {
		out = append(out, r.texts(value, deep+1)...)
	}
	if p, ok := r.argument[of]; ok {
		for _, args := range r.calls[p.of] {
			out = append(out, r.texts(args[p.at], deep+1)...)
		}
	}
	return out
}

// kind returns the type of a part among the parameters, as finding.Param keeps it.
func kind(name string, t types.Type) string {
	switch {
	case named(t, "Moment") && strings.HasSuffix(name, "_local"):
		return "local_time"
	case named(t, "Moment"):
		return "instant"
	case named(t, "Named"):
		return "thing"
	case named(t, "Several"):
		return "things"
	case named(t, "Span"), named(t, "Amount"), has(t, "Reading"), isOf(t, "units", "Reading"),
		isOf(t, "time", "Duration"):
		return "quantity"
	}
	if basic, ok := t.Underlying().(*types.Basic); ok && basic.Info()&types.IsInteger != 0 &&
		!has(t, "String") {
		return "number"
	}
	if has(t, "Param") {
		return "list"
	}
	return "text"
}

// has reports whether a type has a method of that name.
func has(t types.Type, name string) bool {
	m, _, _ := types.LookupFieldOrMethod(t, true, nil, name)
	_, ok := m.(*types.Func)
	return ok
}

func isOf(t types.Type, pkg, name string) bool {
	if pointer, ok := t.(*types.Pointer); ok {
		t = pointer.Elem()
	}
	n, ok := types.Unalias(t).(*types.Named)
	return ok && n.Obj().Pkg() != nil && n.Obj().Pkg().Name() == pkg && n.Obj().Name() == name
}
