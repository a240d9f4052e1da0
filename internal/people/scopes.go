package people

import (
	"slices"

	"tankside/internal/actor"
)

// The scopes, a closed list: one to read and one to write for each area; signing
// off apart, because it is the one thing that only a person may do; papers apart,
// because they say how somebody's health is; sites and conventions apart, because
// lives hang on where help is and on what a hand means.
const (
	CentreRead    actor.Scope = "centre:read"
	CentreWrite   actor.Scope = "centre:write"
	PeopleRead    actor.Scope = "people:read"
	PeopleWrite   actor.Scope = "people:write"
	PapersRead    actor.Scope = "papers:read" // papers, marks of unfitness, and what of them stands in a day
	PapersWrite   actor.Scope = "papers:write"
	CoursesRead   actor.Scope = "courses:read"  // sites, conventions, syllabuses, courses, enrolments
	CoursesWrite  actor.Scope = "courses:write" // syllabuses, courses, enrolments
	SitesWrite    actor.Scope = "sites:write"
	SignsWrite    actor.Scope = "conventions:write"
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
	return []actor.Scope{CentreRead, CentreWrite, PeopleRead, PeopleWrite, PapersRead, PapersWrite,
		CoursesRead, CoursesWrite, SitesWrite, SignsWrite,
		SessionsRead, SessionsWrite, TrainingRead, TrainingWrite, SignOffsWrite, TokensRead, TokensWrite}
}

// most is the largest set of scopes that each role may have. What a role may
// do within a scope is for the services to say: a student reads their own
// training only.
var most = map[actor.Role][]actor.Scope{
	actor.Manager: except(SignOffsWrite),
	actor.Instructor: {CentreRead, PeopleRead, PeopleWrite, PapersRead, PapersWrite, CoursesRead,
		CoursesWrite, SitesWrite, SignsWrite, SessionsRead, SessionsWrite,
		TrainingRead, TrainingWrite, SignOffsWrite, TokensRead, TokensWrite},
	actor.Assistant: {CentreRead, PeopleRead, PeopleWrite, PapersRead, PapersWrite, CoursesRead,
		SessionsRead, SessionsWrite,
		TrainingRead, TrainingWrite, TokensRead, TokensWrite},
	actor.Student: {CentreRead, PeopleRead, PapersRead, CoursesRead, SessionsRead, TrainingRead,
		TokensRead, TokensWrite},
	actor.Program: except(SignOffsWrite, TokensRead, TokensWrite, CentreWrite, PapersWrite, SignsWrite),
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
