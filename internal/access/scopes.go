package access

import (
	"slices"

	"tankside/internal/actor"
)

// The scopes, a closed list: one to read and one to write for each area. Three are
// apart: signing off, because only a person may do it; papers, because they are about
// a person's health; sites and conventions, because lives depend on where help is and
// on what a hand signal means.
const (
	CentreRead    actor.Scope = "centre:read"
	CentreWrite   actor.Scope = "centre:write"
	PeopleRead    actor.Scope = "people:read"
	PeopleWrite   actor.Scope = "people:write"
	PapersRead    actor.Scope = "papers:read" // papers, marks of unfitness, and their part of a day
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

// Scopes returns every scope.
func Scopes() []actor.Scope {
	return []actor.Scope{CentreRead, CentreWrite, PeopleRead, PeopleWrite, PapersRead, PapersWrite,
		CoursesRead, CoursesWrite, SitesWrite, SignsWrite,
		SessionsRead, SessionsWrite, TrainingRead, TrainingWrite, SignOffsWrite, TokensRead, TokensWrite}
}

// mostOfRole is the largest set of scopes that each role may have. The services decide
// what a role may do within a scope: a student reads their own training only.
var mostOfRole = map[actor.Role][]actor.Scope{
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

// MostScopes returns the largest set of scopes for a person with these roles, in the
// order of Scopes.
func MostScopes(roles []actor.Role) []actor.Scope {
	return slices.DeleteFunc(Scopes(), func(s actor.Scope) bool {
		return !slices.ContainsFunc(roles,
			func(r actor.Role) bool { return slices.Contains(mostOfRole[r], s) })
	})
}
