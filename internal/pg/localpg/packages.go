package localpg

import (
	"bufio"
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

// unpacked returns the programs of the distribution's own packages, fetched by apt and
// unpacked in a folder of ours, where they run as they are. Nothing is installed: apt
// keeps its lists in our folder too. The first call takes half a minute, later ones no
// time.
func unpacked(ctx context.Context, progress io.Writer) (programs, error) {
	for _, tool := range []string{"apt-get", "apt-cache", "dpkg-deb"} {
		if !found(tool) {
			return programs{}, fmt.Errorf("there is no %s here; only Debian and its kin are known", tool)
		}
	}
	cache, err := cacheDir()
	if err != nil {
		return programs{}, err
	}
	if err := os.MkdirAll(cache, 0o755); err != nil {
		return programs{}, err
	}
	var p programs
	err = locked(filepath.Join(cache, "lock"), func() error {
		final := filepath.Join(cache, "root")
		if p, err = programsUnder(final); err == nil {
			return nil
		}
		// Made under another name first: a folder of this name is complete.
		work := filepath.Join(cache, "new")
		defer os.RemoveAll(work)
		if err := (apt{dir: work, progress: progress}).fetch(ctx); err != nil {
			return err
		}
		if err := errors.Join(os.RemoveAll(final),
			os.Rename(filepath.Join(work, "root"), final)); err != nil {
			return err
		}
		p, err = programsUnder(final)
		return err
	})
	return p, err
}

// cacheDir returns a folder for files that can be fetched again. Root's is one that the
// server's own user can read.
func cacheDir() (string, error) {
	if os.Geteuid() == 0 {
		return "/var/cache/tankside/postgresql", nil
	}
	dir, err := os.UserCacheDir()
	return filepath.Join(dir, "tankside", "postgresql"), err
}

// programsUnder returns the programs in unpacked packages, and checks that they run.
func programsUnder(root string) (programs, error) {
	bins, err := filepath.Glob(filepath.Join(root, "usr/lib/postgresql/*/bin"))
	if err != nil || len(bins) != 1 {
		return programs{}, errors.Join(err, fmt.Errorf("%s has %d versions of PostgreSQL", root, len(bins)))
	}
	// Packages of older releases have some libraries in /lib.
	libraries, err := filepath.Glob(filepath.Join(root, "usr/lib/*-linux-*"))
	if err != nil {
		return programs{}, err
	}
	more, err := filepath.Glob(filepath.Join(root, "lib/*-linux-*"))
	if err != nil {
		return programs{}, err
	}
	p, ok := inspect(bins[0], strings.Join(append(libraries, more...), ":"))
	if !ok {
		said, _ := p.run(context.Background(), "postgres", "--version")
		return programs{}, fmt.Errorf("the unpacked programs do not run here: %s", said)
	}
	return p, nil
}

func (p programs) run(ctx context.Context, name string, args ...string) (string, error) {
	said, err := p.command(ctx, name, args...).CombinedOutput()
	return strings.TrimSpace(string(said)), err
}

// apt fetches packages without changing the system.
type apt struct {
	dir      string
	progress io.Writer
}

// fetch leaves the unpacked packages in dir/root.
func (a apt) fetch(ctx context.Context) error {
	if err := os.RemoveAll(a.dir); err != nil {
		return err
	}
	for _, sub := range []string{"state/lists/partial", "cache/archives/partial", "log", "debs", "root"} {
		if err := os.MkdirAll(filepath.Join(a.dir, sub), 0o755); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(a.dir, "apt.conf"), []byte(a.config()), 0o644); err != nil {
		return err
	}
	fmt.Fprintf(a.progress, "Fetching the packages of PostgreSQL into %s (nothing is installed)\n",
		filepath.Dir(a.dir))
	said, err := a.watched(ctx, "package lists", "update")
	if err != nil {
		return err
	}
	packages, err := a.wanted(ctx)
	if err != nil {
		// An update that reached no server succeeds all the same, with warnings.
		return fmt.Errorf("%w\n%s", err, warnings(said))
	}
	if _, err := a.watched(ctx, strconv.Itoa(len(packages))+" packages",
		append([]string{"download"}, packages...)...); err != nil {
		return err
	}
	return a.unpack(ctx)
}

// config returns the configuration that keeps everything apt writes in dir. The hooks
// are for the system's own updates. Running as root, apt would download as a user of
// its own, who may be unable to write here.
func (a apt) config() string {
	return fmt.Sprintf(`Dir::State "%[1]s/state";
Dir::State::status "/var/lib/dpkg/status";
Dir::Cache "%[1]s/cache";
Dir::Log "%[1]s/log";
APT::Sandbox::User "root";
Acquire::Languages "none";
Debug::NoLocking "true";
#clear APT::Update::Pre-Invoke;
#clear APT::Update::Post-Invoke;
#clear APT::Update::Post-Invoke-Success;
`, a.dir)
}

var (
	serverPackage = regexp.MustCompile(`(?m)^postgresql-(\d+)$`)
	debLine       = regexp.MustCompile(`(?m)^'[^']*' ([^_\s]+)_\S+\.deb `)
)

// wanted returns the newest server's package and the libraries that it needs and that
// this machine lacks.
func (a apt) wanted(ctx context.Context) ([]string, error) {
	names, err := a.command(ctx, "apt-cache", "pkgnames", "postgresql-").Output()
	if err != nil {
		return nil, fmt.Errorf("apt-cache: %w", err)
	}
	var reasons []error
	for _, major := range majors(string(names)) {
		server := "postgresql-" + strconv.Itoa(major)
		said, err := a.command(ctx, "apt-get", "install", "--print-uris", "-qq",
			"--no-install-recommends", server).Output()
		if err == nil {
			return needed(server, string(said)), nil
		}
		reasons = append(reasons, fmt.Errorf("%s: %w", server, explained(err)))
	}
	return nil, errors.Join(append(reasons,
		fmt.Errorf("this release has no package of PostgreSQL %d or newer", oldest))...)
}

// majors returns the versions that apt knows of and that are new enough, newest first.
func majors(names string) []int {
	var all []int
	for _, m := range serverPackage.FindAllStringSubmatch(names, -1) {
		if n, err := strconv.Atoi(m[1]); err == nil && n >= oldest {
			all = append(all, n)
		}
	}
	slices.Sort(all)
	slices.Reverse(all)
	return all
}

// needed returns the parts of an installation that are fetched: the server, the
// programs that dump and restore, and the libraries. It leaves out the scripts for
// administrators, with all of Perl, and the compiler for JIT, which is off and five
// times as large as the rest.
func needed(server, uris string) []string {
	packages := []string{server}
	for _, m := range debLine.FindAllStringSubmatch(uris, -1) {
		name := m[1]
		compiler := strings.HasPrefix(name, "libllvm") || strings.HasPrefix(name, "libz3")
		library := strings.HasPrefix(name, "lib") && !compiler && !strings.Contains(name, "perl")
		if library || name == strings.Replace(server, "-", "-client-", 1) {
			packages = append(packages, name)
		}
	}
	return packages
}

// unpack unpacks every package into root.
func (a apt) unpack(ctx context.Context) error {
	debs, err := filepath.Glob(filepath.Join(a.dir, "debs", "*.deb"))
	if err != nil {
		return err
	}
	for _, deb := range debs {
		if said, err := exec.CommandContext(ctx, "dpkg-deb", "-x", deb,
			filepath.Join(a.dir, "root")).CombinedOutput(); err != nil {
			return fmt.Errorf("unpack %s: %w: %s", filepath.Base(deb), err, said)
		}
	}
	_, err = programsUnder(filepath.Join(a.dir, "root"))
	return err
}

func (a apt) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, name,
		append([]string{"-c", filepath.Join(a.dir, "apt.conf")}, args...)...)
	cmd.Env = append(os.Environ(), "LC_ALL=C", "DEBIAN_FRONTEND=noninteractive")
	cmd.Dir = filepath.Join(a.dir, "debs") // apt-get download writes there
	return cmd
}

// watched runs apt-get, reports its progress, and returns its output.
func (a apt) watched(ctx context.Context, what string, args ...string) (string, error) {
	fmt.Fprintf(a.progress, "  %s ...\n", what)
	read, write, err := os.Pipe()
	if err != nil {
		return "", err
	}
	defer read.Close()
	cmd := a.command(ctx, "apt-get", append([]string{"-q", "-o", "APT::Status-Fd=3"}, args...)...)
	cmd.ExtraFiles = []*os.File{write} // descriptor 3 there
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := errors.Join(cmd.Start(), write.Close()); err != nil {
		return "", err
	}
	told := 0
	for lines := bufio.NewScanner(read); lines.Scan(); {
		if percent := percentOf(lines.Text()); percent >= told+20 {
			told = percent
			fmt.Fprintf(a.progress, "  %s: %d %%\n", what, percent)
		}
	}
	if err := cmd.Wait(); err != nil {
		return "", fmt.Errorf("apt-get %s: %w\n%s", args[0], err, strings.TrimSpace(said.String()))
	}
	return said.String(), nil
}

// warnings returns the first few lines of apt's complaints.
func warnings(said string) string {
	var lines []string
	for line := range strings.Lines(said) {
		if (strings.HasPrefix(line, "W: ") || strings.HasPrefix(line, "E: ")) && len(lines) < 3 {
			lines = append(lines, strings.TrimSpace(line))
		}
	}
	return strings.Join(lines, "\n")
}

// percentOf reads apt's "dlstatus:1:20.5:Retrieving file 1 of 12"; it returns 0 for any
// other line.
func percentOf(line string) int {
	fields := strings.SplitN(line, ":", 4)
	if len(fields) < 4 || fields[0] != "dlstatus" {
		return 0
	}
	percent, err := strconv.ParseFloat(fields[2], 64)
	if err != nil {
		return 0
	}
	return int(percent)
}

// explained adds a program's standard error to its error.
func explained(err error) error {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return fmt.Errorf("%w: %s", err, strings.TrimSpace(string(exit.Stderr)))
	}
	return err
}
