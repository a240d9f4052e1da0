package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// privateSettings are the settings of every private server: a socket that only its own user
// may open, no port; and times in GMT, the one zone that PostgreSQL knows on a machine
// without zone files.
var privateSettings = []string{"listen_addresses=", "unix_socket_permissions=0700", "timezone=GMT",
	"log_timezone=GMT",
	"jit=off", "cluster_name=tankside"}

// throwAwaySettings are the settings of a server whose data may be lost.
var throwAwaySettings = []string{"fsync=off", "synchronous_commit=off", "full_page_writes=off",
	"autovacuum=off",
	"wal_level=minimal", "max_wal_senders=0", "max_connections=200", "dynamic_shared_memory_type=mmap"}

// startPrograms starts a server from programs on this machine.
func startPrograms(ctx context.Context, o Options, way Way, p programs) (*Server, error) {
	who, err := identify()
	if err != nil {
		return nil, err
	}
	if !o.Keep {
		return startThrowAway(ctx, way, p, who)
	}
	if inVolume(o.Dir) {
		return nil, fmt.Errorf("the data of %s are in a container's volume", o.Dir)
	}
	if err := who.reaches(o.Dir); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(o.Dir, 0o755); err != nil {
		return nil, err
	}
	var s *Server
	err = locked(filepath.Join(o.Dir, "lock"), func() error {
		s, err = startLasting(ctx, o, way, p, who)
		return err
	})
	return s, err
}

func startThrowAway(ctx context.Context, way Way, p programs, who identity) (*Server, error) {
	dir, err := shortDir(who, memory())
	if err != nil {
		return nil, err
	}
	c := cluster{programs: p, who: who, data: filepath.Join(dir, "data"),
		log: filepath.Join(dir, "log"), socket: dir}
	if err := c.initialise(ctx, c.data, "--no-sync"); err != nil {
		_ = os.RemoveAll(dir)
		return nil, err
	}
	s, err := c.start(ctx, way, "QUIT", throwAwaySettings)
	if err != nil {
		_ = os.RemoveAll(dir)
	}
	return s, err
}

// startLasting starts the server of a folder, or joins the one that is running on it.
// The caller holds the folder's lock.
func startLasting(ctx context.Context, o Options, way Way, p programs, who identity) (*Server, error) {
	home := filepath.Join(o.Dir, "postgres")
	if err := who.own(home); err != nil {
		return nil, err
	}
	c := cluster{programs: p, who: who, data: filepath.Join(home, "data"), log: filepath.Join(home, "log")}
	if s, err := c.join(ctx, way); s != nil || err != nil {
		return s, err
	}
	switch _, err := os.Stat(c.data); {
	case errors.Is(err, fs.ErrNotExist):
		// Made under another name first: a folder of this name is complete.
		fresh := c.data + ".new"
		if err := os.RemoveAll(fresh); err != nil {
			return nil, err
		}
		fmt.Fprintf(o.Progress, "Making a database in %s\n", o.Dir)
		if err := c.initialise(ctx, fresh); err != nil {
			return nil, err
		}
		if err := os.Rename(fresh, c.data); err != nil {
			return nil, err
		}
	case err != nil:
		return nil, err
	}
	var err error
	if c.socket, err = shortDir(who, ""); err != nil {
		return nil, err
	}
	s, err := c.start(ctx, way, "INT", nil)
	if err != nil {
		_ = os.RemoveAll(c.socket)
	}
	return s, err
}

// majorOfData returns the major version that wrote the data of a folder, 0 for none.
func majorOfData(dir string) int {
	text, err := os.ReadFile(filepath.Join(dir, "postgres", "data", "PG_VERSION"))
	if err != nil {
		return 0
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0
	}
	return major
}

// shortDir makes a private folder whose path leaves room for a socket's name:
// a socket's whole path has at most 103 bytes on some systems.
func shortDir(who identity, first string) (string, error) {
	var reasons []error
	for _, parent := range []string{first, os.TempDir(), "/tmp", "/var/tmp"} {
		if parent == "" || len(parent) > 70 {
			continue
		}
		dir, err := os.MkdirTemp(parent, "tankside-")
		if err == nil {
			err = errors.Join(who.reaches(parent), who.own(dir))
			if err == nil {
				return dir, nil
			}
			_ = os.Remove(dir)
		}
		reasons = append(reasons, err)
	}
	return "", fmt.Errorf("no folder for the server's socket: %w", errors.Join(reasons...))
}

// cluster is the data of one server, with its user and programs.
type cluster struct {
	programs
	who               identity
	data, log, socket string
}

// initialise makes an empty cluster in a folder.
func (c cluster) initialise(ctx context.Context, data string, more ...string) error {
	if err := c.who.own(data); err != nil {
		return err
	}
	args := append([]string{"-D", data, "--username=" + Super, "--auth=trust",
		"--encoding=UTF8", "--locale=C",
		"--no-instructions"}, more...)
	cmd := exec.CommandContext(ctx, c.program("initdb"), args...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = "/", c.env(), c.who.attributes()
	if said, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, said)
	}
	return nil
}

// start runs the server and waits until it accepts connections.
func (c cluster) start(ctx context.Context, way Way, signal string, settings []string) (*Server, error) {
	command := []string{c.program("postgres"), "-D", c.data, "-c", "unix_socket_directories=" + c.socket}
	for _, setting := range append(append([]string{}, privateSettings...), settings...) {
		command = append(command, "-c", setting)
	}
	g, err := guarded{who: c.who, env: c.env(), signal: signal, log: c.log, remove: c.socket,
		command: command}.start()
	if err != nil {
		return nil, err
	}
	s := &Server{way: way, address: address{host: c.socket, port: 5432}, guard: g, done: g.done}
	if err := s.answers(ctx, 60*time.Second); err != nil {
		why := tail(c.log) // the folder goes with the server
		_ = s.Stop()
		return nil, fmt.Errorf("postgres did not start: %w\n%s", err, why)
	}
	return s, nil
}

// join returns the server that is running on the data already, nil for none.
func (c cluster) join(ctx context.Context, way Way) (*Server, error) {
	for limit := time.Now().Add(30 * time.Second); time.Now().Before(limit); time.Sleep(
		50 * time.Millisecond) {
		pid, where, err := readPid(filepath.Join(c.data, "postmaster.pid"))
		if err != nil || !alive(pid) {
			//nolint:nilerr // none, or the rest of one that was killed, which postgres clears away itself
			return nil, nil
		}
		s := &Server{way: way, address: where, done: make(chan struct{})}
		if s.answers(ctx, time.Second) == nil {
			go func() {
				for alive(pid) {
					time.Sleep(250 * time.Millisecond)
				}
				close(s.done)
			}()
			return s, nil
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	return nil, fmt.Errorf("a process that claims to be the server of %s runs and does not answer; "+
		"if it is something else, remove postmaster.pid there", c.data)
}

// readPid reads postmaster.pid: process, data, start, port, socket folder.
func readPid(path string) (pid int, where address, err error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, address{}, err
	}
	lines := strings.Split(string(text), "\n")
	if len(lines) < 5 {
		return 0, address{}, fmt.Errorf("%s is not complete", path)
	}
	pid, err = strconv.Atoi(lines[0])
	if err != nil {
		return 0, address{}, err
	}
	port, err := strconv.Atoi(lines[3])
	return pid, address{host: lines[4], port: port}, err
}

// answers waits until the server accepts a connection, or has ended.
func (s *Server) answers(ctx context.Context, limit time.Duration) error {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.URL(Super, Super))
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case <-s.done:
			return errors.New("it ended at once")
		case <-ctx.Done():
			return err
		case <-time.After(10 * time.Millisecond):
		}
	}
}
