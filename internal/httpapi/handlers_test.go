package httpapi

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A handler with the wrong one of two services would write in a dry run, or roll back
// what it answers as done.
func TestHandlersHaveTheServicesTheyName(t *testing.T) {
	t.Parallel()
	o := Options{Services: distinctServices(), DryRun: distinctServices()}
	all := newHandlers(o, nil, nil, nil, nil)
	plain, chosen := 0, 0
	for subject := range fieldsOf(reflect.ValueOf(&all).Elem()) {
		for f, name := range fieldsOf(subject) {
			name = subject.Type().Name() + "." + name
			switch {
			case strings.HasPrefix(f.Type().Name(), "byDryRun["):
				chosen++
				yes, no := true, false
				require.True(t, holds(o.Services, chosenBy(f, nil)), "%s without dry_run", name)
				require.True(t, holds(o.Services, chosenBy(f, &no)), "%s with dry_run=false", name)
				require.True(t, holds(o.DryRun, chosenBy(f, &yes)), "%s with dry_run=true", name)
			case strings.HasSuffix(f.Type().String(), ".Service"), strings.HasSuffix(f.Type().String(), ".Reader"):
				plain++
				require.True(t, holds(o.Services, f), name)
			}
		}
	}
	require.Greater(t, plain, 20)
	require.Greater(t, chosen, 5)
}

// distinctServices returns services each of which is a value of its own.
func distinctServices() (out Services) {
	for f := range fieldsOf(reflect.ValueOf(&out).Elem()) {
		f.Set(reflect.New(f.Type().Elem()))
	}
	return out
}

// fieldsOf returns the fields of a struct with their names, those that are not exported
// included.
func fieldsOf(v reflect.Value) func(yield func(reflect.Value, string) bool) {
	return func(yield func(reflect.Value, string) bool) {
		for i := range v.NumField() {
			f := reflect.NewAt(v.Field(i).Type(), v.Field(i).Addr().UnsafePointer()).Elem()
			if !yield(f, v.Type().Field(i).Name) {
				return
			}
		}
	}
}

// chosenBy returns the service that a byDryRun chooses.
func chosenBy(choice reflect.Value, dryRun *bool) reflect.Value {
	return choice.Call([]reflect.Value{reflect.ValueOf(dryRun)})[0]
}

// holds reports whether a service is one of the given ones.
func holds(s Services, service reflect.Value) bool {
	for f := range fieldsOf(reflect.ValueOf(&s).Elem()) {
		if f.Type() == service.Type() && f.Pointer() == service.Pointer() {
			return true
		}
	}
	return false
}

func TestHandlersHaveNothingThatTheyDoNotUse(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob("*.go")
	require.NoError(t, err)
	var files []*ast.File
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		files = append(files, f)
	}
	subjects, unused := unusedByHandlers(files)
	require.Greater(t, subjects, 20)
	require.Empty(t, unused)

	planted, err := parser.ParseFile(token.NewFileSet(), "planted.go", `package httpapi
type reefHandlers struct { sites *courses.Service; people *people.Service; Services; all *Services }
func (h reefHandlers) GetReef() { h.sites.Reef(); h.all.Sites() }
`, 0)
	require.NoError(t, err)
	_, unused = unusedByHandlers([]*ast.File{planted})
	require.Equal(t, []string{"reefHandlers.Services", "reefHandlers.all", "reefHandlers.people"}, unused)
}

// unusedByHandlers returns how many structs of handlers there are, and the members that
// they should not have: those that no method of theirs uses, and sets of services.
func unusedByHandlers(files []*ast.File) (subjects int, unused []string) {
	has, uses := map[string]bool{}, map[string]bool{}
	for _, f := range files {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.TypeSpec:
				if s, is := n.Type.(*ast.StructType); is && strings.HasSuffix(n.Name.Name, "Handlers") {
					subjects++
					membersOf(n.Name.Name, s, has)
				}
			case *ast.FuncDecl:
				usesOf(n, uses)
			}
			return true
		})
	}
	for member, set := range has {
		if set || !uses[member] {
			unused = append(unused, member)
		}
	}
	slices.Sort(unused)
	return subjects, unused
}

// membersOf enters the members of a struct of handlers, and whether each is embedded or
// a set of services.
func membersOf(name string, s *ast.StructType, into map[string]bool) {
	for _, f := range s.Fields.List {
		kind := f.Type
		if p, is := kind.(*ast.StarExpr); is {
			kind = p.X
		}
		id, local := kind.(*ast.Ident)
		set := local && (id.Name == "Services" || id.Name == "Options" || id.Name == "server" ||
			id.Name == "handlers")
		for _, n := range f.Names {
			into[name+"."+n.Name] = set
		}
		if f.Names == nil && local {
			into[name+"."+id.Name] = true
		}
	}
}

// usesOf enters the members that a method selects from its receiver.
func usesOf(f *ast.FuncDecl, into map[string]bool) {
	if f.Recv == nil || len(f.Recv.List[0].Names) == 0 {
		return
	}
	recv, is := f.Recv.List[0].Type.(*ast.Ident)
	if !is {
		return
	}
	ast.Inspect(f.Body, func(n ast.Node) bool {
		if sel, is := n.(*ast.SelectorExpr); is {
			if x, is := sel.X.(*ast.Ident); is && x.Name == f.Recv.List[0].Names[0].Name {
				into[recv.Name+"."+sel.Sel.Name] = true
			}
		}
		return true
	})
}
