package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// oldest is the oldest supported major version; see pg.OldestServer.
const oldest = 15

// programs is one set of the server's programs.
type programs struct {
	bin       string // the folder with initdb and postgres
	libraries string // the LD_LIBRARY_PATH for them, mostly ""
	major     int
}

// places are where distributions and installers put the programs.
var places = []string{
	"/usr/lib/postgresql/*/bin",         // Debian, Ubuntu
	"/usr/pgsql-*/bin",                  // the PostgreSQL project's own RPMs
	"/usr/lib/postgresql*/bin",          // SUSE
	"/usr/libexec/postgresql*",          // Alpine
	"/usr/bin",                          // Fedora, Arch
	"/usr/local/bin",                    // FreeBSD, official image
	"/usr/local/pgsql/bin",              // built from source
	"/opt/homebrew/opt/postgresql*/bin", // Homebrew, Apple silicon
	"/usr/local/opt/postgresql*/bin",    // Homebrew, Intel
	"/Applications/Postgres.app/Contents/Versions/*/bin",
}

// installed returns the newest programs on this machine, or those of the major version
// want, which can read the existing data.
func installed(want int) (programs, error) {
	folders := filepath.SplitList(os.Getenv("PATH"))
	for _, place := range places {
		hits, err := filepath.Glob(place)
		if err != nil {
			return programs{}, err
		}
		folders = append(folders, hits...)
	}
	var sets []programs
	for _, folder := range folders {
		if p, ok := inspect(folder, ""); ok {
			sets = append(sets, p)
		}
	}
	return newest(sets, want)
}

// newest returns the programs with the highest version; of equals the first one. Where
// want is not 0, it accepts only that version.
func newest(sets []programs, want int) (programs, error) {
	if len(sets) == 0 {
		return programs{}, errors.New("the programs initdb and postgres are neither on the PATH nor in " +
			"the usual places")
	}
	best := slices.MaxFunc(sets, func(a, b programs) int { return a.major - b.major })
	if want != 0 {
		i := slices.IndexFunc(sets, func(p programs) bool { return p.major == want })
		if i < 0 {
			return programs{}, otherMajor(want, best.major)
		}
		return sets[i], nil
	}
	if best.major < oldest {
		return programs{}, fmt.Errorf("the newest that is installed is version %d, in %s",
			best.major, best.bin)
	}
	return best, nil
}

func otherMajor(want, got int) error {
	return fmt.Errorf("the data were written by PostgreSQL %d, and this is %d; install %d, "+
		"or move the data with pg_dump and pg_restore", want, got, want)
}

// inspect runs the programs in a folder for their version, which also shows that they
// work here.
func inspect(folder, libraries string) (programs, bool) {
	if !filepath.IsAbs(folder) || !executable(filepath.Join(folder, "initdb")) ||
		!executable(filepath.Join(folder, "postgres")) {
		return programs{}, false
	}
	p := programs{bin: folder, libraries: libraries}
	cmd := exec.Command(filepath.Join(folder, "postgres"), "--version")
	cmd.Env = p.env()
	said, err := cmd.Output()
	if err != nil {
		return programs{}, false
	}
	p.major = majorOf(string(said))
	return p, p.major > 0
}

var versionNumber = regexp.MustCompile(`\(PostgreSQL\) (\d+)`)

// majorOf reads "postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)" and, for a
// version to come, "postgres (PostgreSQL) 19beta1"; it returns 0 for any other text.
func majorOf(said string) int {
	m := versionNumber.FindStringSubmatch(said)
	if m == nil {
		return 0
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		return 0
	}
	return n
}

func (p programs) program(name string) string { return filepath.Join(p.bin, name) }

// env returns the environment for the programs: little, and the same everywhere, so
// that no PGDATA, PGPORT or locale of the user's own reaches the server.
func (p programs) env() []string {
	env := []string{"PATH=" + p.bin + ":/usr/bin:/bin:/usr/sbin:/sbin", "LC_ALL=C", "HOME=/"}
	if p.libraries != "" {
		env = append(env, "LD_LIBRARY_PATH="+p.libraries)
	}
	return env
}

func executable(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Mode().Perm()&0o111 != 0
}

func found(program string) bool {
	_, err := exec.LookPath(program)
	return err == nil
}

// tail returns the end of a log file, for the error of a failed start.
func tail(path string) string {
	text, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	return strings.Join(lines[max(0, len(lines)-8):], "\n")
}

// Tool returns a command of PostgreSQL's own programs, such as pg_dump: of those
// that are installed, else of the unpacked packages.
func Tool(ctx context.Context, name string, args ...string) (*exec.Cmd, error) {
	for _, place := range places {
		folders, err := filepath.Glob(place)
		if err != nil {
			return nil, err
		}
		for _, folder := range slices.Backward(folders) {
			if executable(filepath.Join(folder, name)) {
				return programs{bin: folder}.command(ctx, name, args...), nil
			}
		}
	}
	p, err := unpacked(ctx, io.Discard)
	if err != nil {
		return nil, err
	}
	return p.command(ctx, name, args...), nil
}

func (p programs) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, p.program(name), args...)
	cmd.Env = p.env()
	return cmd
}
