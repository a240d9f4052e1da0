// Package localpg runs a private PostgreSQL server: for a demonstration without any
// set-up, and for tests. The server belongs to the process that started it, and ends
// with it, however that ends.
//
// TANKSIDE_POSTGRES=installed, packages or container forces where the programs come
// from; TANKSIDE_POSTGRES_IMAGE names another image.
//
// It must not know the schema. It makes the three roles and an empty database;
// internal/pg/migrate does the rest.
package localpg

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"time"
)

// The roles of a server, and the name of the lasting database.
const (
	Super    = "postgres"        // for set-up, and for tests that tamper
	Owner    = "tankside_owner"  // owns the database and its tables, migrates
	App      = "tankside_app"    // owns nothing; row-level security binds it
	Worker   = "tankside_worker" // for background work: as App, and it sees which centres have something due
	Database = "tankside"
)

// Options are the options of Start.
type Options struct {
	Dir      string    // where a lasting server keeps its data; "" is DefaultDir
	Keep     bool      // a lasting server with durable settings; else a throw-away one
	Database string    // created when it is missing; "" is Database
	Ways     []Way     // where the programs may come from, in order; nil is DefaultWays
	Progress io.Writer // receives messages about slow steps; nil for none
}

// Server is a running server. Keep the value: when it is collected as garbage, the pipe
// that ties the server to this process closes, and the server stops.
type Server struct {
	way      Way
	address  address
	guard    *guard // nil when another process of ours runs the server
	done     chan struct{}
	stopOnce sync.Once
	stopErr  error
}

// address is how to reach a server: the directory of its socket, or a host.
type address struct {
	host     string
	port     int
	password string // "" over a socket, where the server trusts the user who may open it
}

// Start starts a private server, or joins the one that another process runs on the same
// lasting directory. When no way works on this machine, the error has the reason for
// each.
func Start(ctx context.Context, o Options) (*Server, error) {
	if o.Progress == nil {
		o.Progress = io.Discard
	}
	if o.Database == "" {
		o.Database = Database
	}
	if o.Keep && o.Dir == "" {
		dir, err := DefaultDir()
		if err != nil {
			return nil, err
		}
		o.Dir = dir
	}
	s, err := startAny(ctx, o)
	if err != nil {
		return nil, err
	}
	if err := Prepare(ctx, s.URL(Super, Super), o.Database, s.address.password); err != nil {
		_ = s.Stop()
		return nil, fmt.Errorf("private PostgreSQL: %w", err)
	}
	return s, nil
}

// DefaultDir returns where a lasting server keeps its data: /var/lib/tankside for root
// (the server itself runs as another user, who cannot read /root), else tankside in the
// user's own folder for application data.
func DefaultDir() (string, error) {
	if os.Geteuid() == 0 {
		return "/var/lib/tankside", nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" && runtime.GOOS != "darwin" {
		return filepath.Join(dir, "tankside"), nil
	}
	if runtime.GOOS == "darwin" {
		dir, err := os.UserConfigDir() // Library/Application Support
		return filepath.Join(dir, "tankside"), err
	}
	home, err := os.UserHomeDir()
	return filepath.Join(home, ".local", "share", "tankside"), err
}

// URL returns the address of a database of the server as a role.
func (s *Server) URL(role, database string) string { return s.address.url(role, database) }

func (a address) url(role, database string) string {
	u := url.URL{Scheme: "postgres", User: url.User(role), Path: "/" + database}
	if a.password != "" {
		u.User = url.UserPassword(role, a.password)
	}
	q := url.Values{}
	if filepath.IsAbs(a.host) {
		q.Set("host", a.host)
		q.Set("port", strconv.Itoa(a.port))
	} else {
		u.Host = a.host + ":" + strconv.Itoa(a.port)
		q.Set("sslmode", "disable") // a port of this machine
	}
	u.RawQuery = q.Encode()
	return u.String()
}

// Way returns where the server's programs came from.
func (s *Server) Way() Way { return s.way }

// Done returns a channel that is closed when the server has ended, for any reason.
func (s *Server) Done() <-chan struct{} { return s.done }

// Stop ends the server and waits until it is gone; a throw-away server leaves nothing
// behind. A server that another process runs goes on.
func (s *Server) Stop() error {
	s.stopOnce.Do(func() {
		if s.guard != nil {
			s.stopErr = s.guard.stop(20 * time.Second)
		}
	})
	return s.stopErr
}
