// Package cli holds the commands of the tankside program that need no server and
// no database: they read their arguments, ask a rule package and print.
//
// It owns the reading of arguments and the look of the answers. It must not know
// a rule: what is allowed, and why not, is said by the rule packages.
//
// A command answers with the exit status of the program: Done, Refused when a
// rule forbids what was asked, Misused when the arguments cannot be read.
package cli

// The exit statuses of the commands.
const (
	Done    = 0
	Refused = 1
	Misused = 2
)
