package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
)

// Way is where the programs of the server come from.
type Way string

// The ways.
const (
	Installed Way = "installed" // PostgreSQL is installed on this machine
	Packages  Way = "packages"  // the distribution's packages, unpacked in a folder of ours
	Container Way = "container" // an image, run by a container engine
)

// EnvWay names the variable that forces one way; "auto" and "" leave the
// choice.
const EnvWay = "TANKSIDE_POSTGRES"

// DefaultWays is the order for a demonstration: the quickest first, and last the one
// that needs a running service.
var DefaultWays = []Way{Installed, Packages, Container}

// Chosen returns the ways to try: those of order, or the single one in force (the value
// of EnvWay).
func Chosen(order []Way, force string) ([]Way, error) {
	switch w := Way(force); w {
	case "", "auto":
		return order, nil
	case Installed, Packages, Container:
		return []Way{w}, nil
	}
	return nil, fmt.Errorf("%s is %q; it may be auto, installed, packages or container", EnvWay, force)
}

// NoneWorks is the error of a machine without a server: the reason for each way, and
// the cure.
type NoneWorks struct {
	Cure    string
	Ways    []Way
	Reasons []error // one for each of Ways
}

func (n *NoneWorks) Error() string {
	s := fmt.Sprintf("no PostgreSQL %d or newer to be had here. %s", oldest, n.Cure)
	for i, way := range n.Ways {
		s += fmt.Sprintf("\n%s: %v", way, n.Reasons[i])
	}
	return s
}

// Unwrap returns the reasons.
func (n *NoneWorks) Unwrap() []error { return n.Reasons }

// FirstOf tries the ways in order and returns the result of the first that works, else a
// NoneWorks with every reason and the cure.
func FirstOf[T any](ways []Way, try func(Way) (T, error), cure string) (T, error) {
	none := NoneWorks{Cure: cure, Ways: ways}
	for _, way := range ways {
		got, err := try(way)
		if err == nil {
			return got, nil
		}
		// An error about a single way has one reason; the rest of its text would be
		// repeated.
		if inner := new(NoneWorks); errors.As(err, &inner) && len(inner.Reasons) == 1 {
			err = inner.Reasons[0]
		}
		none.Reasons = append(none.Reasons, err)
	}
	var nothing T
	return nothing, &none
}

// Cure returns the one command that brings PostgreSQL to this machine.
func Cure() string {
	release, _ := os.ReadFile("/etc/os-release") // absent where there is no Linux
	return cure(string(release), found)
}

// cure returns the command by the text of /etc/os-release and the programs on the
// machine, because a distribution's derivatives share its package manager.
func cure(release string, has func(program string) bool) string {
	for _, c := range []struct{ program, command string }{
		{"apt-get", "sudo apt-get update && sudo apt-get install -y postgresql"},
		{"dnf", "sudo dnf install -y postgresql-server postgresql-contrib"},
		{"yum", "sudo yum install -y postgresql-server postgresql-contrib"},
		{"zypper", "sudo zypper install -y postgresql-server postgresql-contrib"},
		{"pacman", "sudo pacman -S --noconfirm postgresql"},
		{"apk", "sudo apk add postgresql postgresql-contrib"},
		{"brew", "brew install postgresql@17"},
	} {
		if has(c.program) {
			command := c.command
			if c.program == "apt-get" && strings.Contains(release, "VERSION_CODENAME=jammy") {
				return "This release has only PostgreSQL 14. Install a newer one, or a container engine: " +
					"sudo apt-get install -y podman"
			}
			return "Install it: " + command
		}
	}
	return "Install PostgreSQL, or set TEST_DATABASE_URL (tests) or give the service the address of a " +
		"server that you have."
}

// startAny starts the server by the first way that works.
func startAny(ctx context.Context, o Options) (*Server, error) {
	order := o.Ways
	if order == nil {
		order = DefaultWays
	}
	ways, err := Chosen(order, os.Getenv(EnvWay))
	if err != nil {
		return nil, err
	}
	return FirstOf(ways, func(way Way) (*Server, error) {
		if way == Container {
			return startContainer(ctx, o)
		}
		p, err := programsOf(ctx, way, o)
		if err != nil {
			return nil, err
		}
		return startPrograms(ctx, o, way, p)
	}, Cure())
}

// programsOf returns programs, found or fetched, that can read the existing data.
func programsOf(ctx context.Context, way Way, o Options) (programs, error) {
	want := 0
	if o.Keep {
		want = majorOfData(o.Dir)
	}
	if way == Installed {
		return installed(want)
	}
	p, err := unpacked(ctx, o.Progress)
	if err == nil && want != 0 && p.major != want {
		return programs{}, otherMajor(want, p.major)
	}
	return p, err
}
