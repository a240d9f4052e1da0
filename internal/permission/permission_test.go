package permission_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/permission"
)

func person(roles ...actor.Role) actor.Actor {
	return actor.Actor{Person: uuid.New(), Roles: roles}
}

func TestTheFarthestReachOfSeveralRolesCounts(t *testing.T) {
	for _, c := range []struct {
		what string
		by   actor.Actor
		want permission.Reach
	}{
		{"a student", person(actor.Student), permission.Own},
		{"a person without roles is as a student", person(), permission.Own},
		{"an assistant", person(actor.Assistant), permission.All},
		{"a student who assists", person(actor.Student, actor.Assistant), permission.All},
		{"a program", actor.Actor{Program: "page", Roles: []actor.Role{actor.Program}}, permission.All},
	} {
		require.Equal(t, c.want, permission.Of("getPerson", c.by), c.what)
	}
}

// The operator's command acts as a manager, and as no person.
func TestTheOperatorReachesEveryToken(t *testing.T) {
	operator := actor.Actor{Centre: uuid.New(), Roles: []actor.Role{actor.Manager}}
	require.Equal(t, permission.All, permission.Of("getToken", operator))
}

func TestOwnCoversNobodyElse(t *testing.T) {
	student, crew := person(actor.Student), person(actor.Assistant)
	require.True(t, permission.Covers("getPerson", student, student.Person))
	require.False(t, permission.Covers("getPerson", student, crew.Person))
	require.True(t, permission.Covers("getPerson", crew, student.Person))
	require.False(t, permission.Covers("changePerson", student, student.Person), "no reach at all")
	require.False(t, permission.Covers("voidEntry", actor.Actor{}, uuid.Nil), "a program is nobody")
}

func TestARefusalNamesWhoMay(t *testing.T) {
	err := permission.Require("createToken", person(actor.Instructor))
	require.ErrorIs(t, err, fault.Forbidden.Err())
	f, _ := fault.Of(err)
	require.Equal(t, "missing_role", f.Code)
	require.Equal(t, "This is for a manager.", f.Message)
	require.NoError(t, permission.Require("createToken", person(actor.Instructor, actor.Manager)))
}

// Where a refusal depends on what was asked about, the caller's own role is no answer to who would do.
func TestARefusalNamesRolesThatReachFarther(t *testing.T) {
	for _, c := range []struct {
		operation string
		by        actor.Actor
		want      []any
	}{
		{"createToken", person(actor.Instructor), []any{"manager"}},
		{"getPerson", person(actor.Student), []any{"manager", "instructor", "assistant", "program"}},
		{"voidSignOff", person(actor.Instructor), []any{"manager"}},
		{"voidEntry", person(actor.Assistant), []any{"manager", "instructor"}},
		{"acknowledgeBriefing", person(actor.Manager), []any{}},
	} {
		require.Equal(t, c.want, permission.Refusal(c.operation, c.by).Params["roles"], c.operation)
	}
}

func TestEveryRowSaysWhoMayWhereSomebodyMayNot(t *testing.T) {
	for _, row := range permission.Table() {
		refuses := false
		for _, role := range permission.Roles {
			refuses = refuses || row.Of(role) < permission.All
		}
		alike := row.Of(actor.Manager) == permission.Own && row.Of(actor.Program) == permission.Own
		require.Equal(t, refuses && !alike, row.For != "", row.Operation)
	}
}

// A name of an operation in the program that has no row would panic in service.
func TestEveryOperationThatTheProgramAsksForHasARow(t *testing.T) {
	asked := map[string]bool{}
	root := os.DirFS("..")
	require.NoError(t, fs.WalkDir(root, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := fs.ReadFile(root, path)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, text, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			of, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if pkg, ok := of.X.(*ast.Ident); !ok || pkg.Name != "permission" {
				return true
			}
			if name, ok := call.Args[0].(*ast.BasicLit); ok {
				operation, err := strconv.Unquote(name.Value)
				require.NoError(t, err)
				asked[operation] = true
			}
			return true
		})
		return nil
	}))
	require.Greater(t, len(asked), 10)
	for operation := range asked {
		_, ok := permission.Find(operation)
		require.True(t, ok, "%s has no row", operation)
	}
}
