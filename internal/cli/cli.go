// Package cli holds the commands of the tankside program: it reads arguments and
// environment, calls the services, and prints for people.
//
// It owns the reading of arguments and the look of the answers. It must not know a
// rule: the rule packages decide what is allowed, and why not.
//
// A command returns the exit status of the program: Done, Refused when a rule forbids
// the request or something failed, Misused when the arguments cannot be read.
package cli

import (
	"context"
	"fmt"
	"io"
	"text/tabwriter"
	"time"
)

// The exit statuses of the commands.
const (
	Done    = 0
	Refused = 1
	Misused = 2
)

// Call is how the program was called.
type Call struct {
	Args   []string // without the program's name
	Getenv func(string) string
	Env    []string // every variable as NAME=value, to find misspelt ones
	In     io.Reader
	Out    io.Writer
	Errs   io.Writer
}

// fail prints an error and returns its exit status.
func (c Call) fail(err error) int {
	fmt.Fprintln(c.Errs, "tankside:", err)
	return Refused
}

// command is one command of the program.
type command struct {
	name, summary string
	run           func(context.Context, Call) int
}

// commands returns the commands in the order of the help text.
func commands() []command {
	return []command{
		{"demo", "start everything and play a weekend course", runDemo},
		{"serve", "run the service", serve},
		{"migrate", "bring the database schema up or down: up, down, version, force N", migrateSchema},
		{"centre", "create a dive centre with its first manager, or list them: create, list", centres},
		{"token", "issue, revoke or list tokens: issue, revoke, list", token},
		{"paper", "record a paper where nobody else of the centre may: record", paper},
		{"ledger", "verify the ledger of a centre, or of all, against its rows", verifyLedger},
		{"decision", "judge decisions again by what they were judged on: judge", decisions},
		{"epoch", "begin a new epoch of positions after a copy of disks: renew", epoch},
		{"bench", "measure under load, beside a yardstick", measure},
		{"version", "say which release this is, and which schema it needs", version},
		{"plan", "gas, turn and low-gas pressures of a group, without server or database",
			func(_ context.Context, c Call) int { return Plan(c.Args, c.In, c.Out, c.Errs) }},
		{"nostop", "no-stop limits and repetitive dives, without server or database",
			func(_ context.Context, c Call) int { return Nostop(c.Args, time.Now(), c.In, c.Out, c.Errs) }},
	}
}

// Main runs the command that the first argument names.
func Main(ctx context.Context, c Call) int {
	if len(c.Args) == 0 {
		help(c.Errs)
		return Misused
	}
	name := c.Args[0]
	for _, cmd := range commands() {
		if cmd.name == name {
			c.Args = c.Args[1:]
			return cmd.run(ctx, c)
		}
	}
	if name == "help" || name == "-h" || name == "--help" {
		help(c.Out)
		return Done
	}
	fmt.Fprintf(c.Errs, "tankside: there is no command %q\n\n", name)
	help(c.Errs)
	return Misused
}

func help(w io.Writer) {
	fmt.Fprint(w, "tankside: the service a dive centre runs its training on.\n\nCommands:\n")
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, cmd := range commands() {
		fmt.Fprintf(table, "  %s\t%s\n", cmd.name, cmd.summary)
	}
	table.Flush()
	fmt.Fprint(w, "\nEach command explains itself with -h. Settings come from the environment; "+
		"README.md has the table.\n")
}
