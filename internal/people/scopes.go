package people

import (
	"slices"

	"tankside/internal/actor"
)

// The scopes, a closed list: one to read and one to write for each area, and
// signing off apart, because it is the one thing that only a person may do.
const (
	CentreRead    actor.Scope = "centre:read"
	CentreWrite   actor.Scope = "centre:write"
	PeopleRead    actor.Scope = "people:read"
	PeopleWrite   actor.Scope = "people:write"
	CoursesRead   actor.Scope = "courses:read" // sites, syllabuses, courses, enrolments
	CoursesWrite  actor.Scope = "courses:write"
	SessionsRead  actor.Scope = "sessions:read" // sessions, groups, outings, head counts
	SessionsWrite actor.Scope = "sessions:write"
	TrainingRead  actor.Scope = "training:read" // dives, gas checks, drills, progress, records
	TrainingWrite actor.Scope = "training:write"
	SignOffsWrite actor.Scope = "sign-offs:write" // sign-offs and completion
	TokensRead    actor.Scope = "tokens:read"
	TokensWrite   actor.Scope = "tokens:write"
)

// Scopes lists every scope.
func Scopes() []actor.Scope {
	return []actor.Scope{CentreRead, CentreWrite, PeopleRead, PeopleWrite, CoursesRead, CoursesWrite,
		SessionsRead, SessionsWrite, TrainingRead, TrainingWrite, SignOffsWrite, TokensRead, TokensWrite}
}

// most is the largest set of scopes that each role may have. What a role may
// do within a scope is for the services to say: a student reads their own
// training only.
var most = map[actor.Role][]actor.Scope{
	actor.Manager: except(SignOffsWrite),
	actor.Instructor: {CentreRead, PeopleRead, PeopleWrite, CoursesRead, CoursesWrite, SessionsRead, SessionsWrite,
		TrainingRead, TrainingWrite, SignOffsWrite, TokensRead, TokensWrite},
	actor.Assistant: {CentreRead, PeopleRead, PeopleWrite, CoursesRead, SessionsRead, SessionsWrite,
		TrainingRead, TrainingWrite, TokensRead, TokensWrite},
	actor.Student: {CentreRead, PeopleRead, CoursesRead, SessionsRead, TrainingRead, TokensRead, TokensWrite},
	actor.Program: except(SignOffsWrite, TokensRead, TokensWrite, CentreWrite),
}

func except(not ...actor.Scope) []actor.Scope {
	return slices.DeleteFunc(Scopes(), func(s actor.Scope) bool { return slices.Contains(not, s) })
}

// MostScopes gives the largest set of scopes for somebody with these roles, in
// the order of Scopes.
func MostScopes(roles []actor.Role) []actor.Scope {
	return slices.DeleteFunc(Scopes(), func(s actor.Scope) bool {
		return !slices.ContainsFunc(roles, func(r actor.Role) bool { return slices.Contains(most[r], s) })
	})
}
