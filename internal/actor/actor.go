// Package actor has the caller of a request: the centre, the person or program, the roles and the
// scopes.
//
// It must not know how the caller was authenticated; internal/access does that.
package actor

import (
	"slices"

	"github.com/google/uuid"

	"tankside/internal/fault"
)

// Role is a role of a person at the centre; one person may have several.
type Role string

// The roles. Program is the role of a token that belongs to no person.
const (
	Manager    Role = "manager"
	Instructor Role = "instructor"
	Assistant  Role = "assistant"
	Student    Role = "student"
	Program    Role = "program"
)

// Scope is one permission of a token, like "people:read".
type Scope string

// Actor is the caller of a request.
type Actor struct {
	Centre  uuid.UUID
	Token   uuid.UUID
	Person  uuid.UUID // uuid.Nil for a program
	Program string    // the program's name, "" for a person
	Roles   []Role
	Scopes  []Scope
}

// IsProgram reports whether the caller is a program and not a person.
func (a Actor) IsProgram() bool { return a.Person == uuid.Nil }

// Is reports whether the caller has any of the roles.
func (a Actor) Is(roles ...Role) bool {
	return slices.ContainsFunc(roles, func(r Role) bool { return slices.Contains(a.Roles, r) })
}

// May reports whether the token carries the scope.
func (a Actor) May(s Scope) bool { return slices.Contains(a.Scopes, s) }

// RequireRole returns a fault unless the caller has one of the roles; need names them for people:
// "a manager".
func (a Actor) RequireRole(need string, roles ...Role) error {
	if a.Is(roles...) {
		return nil
	}
	f := fault.MissingRole(need)
	f.Params["roles"] = roleNames(roles)
	return f
}

func roleNames(roles []Role) []any {
	out := make([]any, len(roles))
	for i, r := range roles {
		out[i] = string(r)
	}
	return out
}
