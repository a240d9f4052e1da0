// Package permission has the one table of permissions: which roles may do each operation of the
// contract, and how far each role reaches with it.
//
// The edge refuses a role without any reach before a handler runs. A feature asks how far the caller
// reaches where the answer depends on what it reads, and compares the rows itself. The package must
// not know rows, scopes or HTTP: what a token may do beside is its scopes, in internal/access.
package permission

import (
	"fmt"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
)

// Reach is how far a caller reaches with an operation.
type Reach uint8

// The reaches, the shortest first.
const (
	None     Reach = iota // refused
	Own                   // what is about the caller, or what the caller entered, sent or signed
	Assigned              // the sessions that the caller takes part in, and the people in their charge
	All                   // everything of the centre
)

// String returns the reach as the API writes it: none, own, assigned or all.
func (r Reach) String() string { return [...]string{"none", "own", "assigned", "all"}[r] }

// Row is the permissions of one operation.
type Row struct {
	Manager, Instructor, Assistant, Student, Program Reach

	Operation string // the operationId of the contract
	For       string // who may do it, as a refusal says it: "This is for …."; "" where nobody is refused
}

// Roles are the roles in the order of the table's columns.
var Roles = []actor.Role{actor.Manager, actor.Instructor, actor.Assistant, actor.Student, actor.Program}

// Of returns how far a role reaches.
func (r Row) Of(role actor.Role) Reach {
	switch role {
	case actor.Manager:
		return r.Manager
	case actor.Instructor:
		return r.Instructor
	case actor.Assistant:
		return r.Assistant
	case actor.Student:
		return r.Student
	case actor.Program:
		return r.Program
	}
	return None
}

// Note returns what is asked beside the role before the operation is done, "" for nothing.
func (r Row) Note() string { return notes[r.Operation] }

// reach returns the farthest reach of the caller's roles. A person without any role reaches as far
// as a student.
func (r Row) reach(by actor.Actor) Reach {
	if len(by.Roles) == 0 && !by.IsProgram() {
		return r.Student
	}
	far := None
	for _, role := range by.Roles {
		far = max(far, r.Of(role))
	}
	return far
}

var rows = func() map[string]Row {
	out := make(map[string]Row, len(table))
	for _, r := range table {
		if _, twice := out[r.Operation]; twice {
			panic("permission: two rows for " + r.Operation)
		}
		out[r.Operation] = r
	}
	return out
}()

// Table returns the rows of all operations, in the order of the contract.
func Table() []Row { return append([]Row(nil), table...) }

// Find returns the row of an operation, and whether there is one.
func Find(operation string) (Row, bool) {
	r, ok := rows[operation]
	return r, ok
}

// find returns the row of an operation. It panics when there is none: a test compares the names that
// the program uses with the table.
func find(operation string) Row {
	r, ok := rows[operation]
	if !ok {
		panic(fmt.Sprintf("permission: no row for %q", operation))
	}
	return r
}

// Of returns how far the caller reaches with an operation. It panics for an operation without a row.
func Of(operation string, by actor.Actor) Reach { return find(operation).reach(by) }

// Covers reports whether the caller's reach with an operation covers what is about a person, or what
// that person entered: it is All, or the person is the caller and it is Own at least.
func Covers(operation string, by actor.Actor, person uuid.UUID) bool {
	reach := Of(operation, by)
	return reach == All || reach >= Own && !by.IsProgram() && by.Person == person
}

// Require returns the fault missing_role where none of the caller's roles may do an operation.
func Require(operation string, by actor.Actor) error {
	if Of(operation, by) > None {
		return nil
	}
	return Refusal(operation, by)
}

// Refusal returns the fault missing_role for a caller whose reach with an operation does not cover
// what was asked. It names who may do the operation; its parameter roles has those that reach farther
// than the caller, none where it depends on the person alone.
func Refusal(operation string, by actor.Actor) *fault.Fault {
	r := find(operation)
	roles, reach := []any{}, r.reach(by)
	for _, role := range Roles {
		if r.Of(role) > reach {
			roles = append(roles, string(role))
		}
	}
	f := fault.MissingRole(r.For)
	f.Params["roles"] = roles
	return f
}
