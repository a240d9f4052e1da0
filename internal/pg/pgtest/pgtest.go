// Package pgtest gives each test a database of its own, with the schema in place, on a
// real PostgreSQL server, and drops it afterwards. Without a server the test fails; it
// is never skipped.
//
// The server is the one that TEST_DATABASE_URL names (a superuser's address),
// else a private one of programs installed here, else one in a container, else
// one of the distribution's packages, fetched and unpacked in a cache folder.
// TANKSIDE_POSTGRES=installed, container or packages forces one of the last
// three; TANKSIDE_TEST_POSTGRES_IMAGE names another image.
//
// It must not know a table: a test writes its own rows.
package pgtest

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
	"tankside/internal/pg/localpg"
)

// DB is one test's own database, opened as the application role.
type DB struct {
	*pg.DB
	WorkerURL string // as the background connects: bound too, but it sees which centres have something due
	AppURL    string // bound by row-level security, as the service is
	OwnerURL  string // owns the tables: for migrations and back-ups
	SuperURL  string // bypasses all policies: for tests that tamper, and for EXPLAIN
}

// New returns a database with the newest schema for one test. Parallel tests may call
// it.
func New(t testing.TB) *DB {
	t.Helper()
	db := clone(t, func(s *server) (string, error) { return s.template() })
	opened, err := pg.Open(t.Context(), db.AppURL+poolOfATest)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(opened.Close)
	db.DB = opened
	return db
}

// Empty returns an empty database for one test of the migrations. Its DB is nil.
func Empty(t testing.TB) *DB {
	t.Helper()
	return clone(t, func(*server) (string, error) { return "template0", nil })
}

// poolOfATest keeps many tests at once below the server's max_connections.
const poolOfATest = "&pool_max_conns=10"

// The name of a test's database has the day on which it was made, so that databases of
// killed test programs can be found on a lasting server.
const (
	testPrefix = "tankside_test_"
	dayFormat  = "20060102"
)

func clone(t testing.TB, template func(*server) (string, error)) *DB {
	t.Helper()
	s, err := shared()
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	from, err := template(s)
	if err != nil {
		t.Fatalf("pgtest: make the template: %v", err)
	}
	name := testPrefix + time.Now().UTC().Format(dayFormat) + "_" + strings.ToLower(rand.Text())
	if err := s.exec(t.Context(), fmt.Sprintf("CREATE DATABASE %s OWNER %s TEMPLATE %s STRATEGY file_copy",
		name, localpg.Owner, from)); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(func() {
		// t.Context is over by now.
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		defer cancel()
		if err := s.exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)"); err != nil {
			t.Errorf("pgtest: %v", err)
		}
	})
	return &DB{AppURL: pooled(s.url(localpg.App, name)), WorkerURL: pooled(s.url(localpg.Worker, name)),
		OwnerURL: s.url(localpg.Owner, name), SuperURL: s.url("", name)}
}

// EnvPooler names the variable with the host and port of a pooler before the server,
// which lends sessions by transaction and asks for no password: tests reach their
// databases as the service by way of it.
const EnvPooler = "TANKSIDE_TEST_POOLER"

// pooled returns an address by way of the pooler, if there is one.
func pooled(address string) string {
	via := os.Getenv(EnvPooler)
	if via == "" {
		return address
	}
	u, err := url.Parse(address)
	if err != nil {
		panic("pgtest: " + err.Error()) // made by url
	}
	u.Host, u.RawQuery = via, "sslmode=disable&default_query_exec_mode=cache_describe"
	return u.String()
}

// server is the one server of this test program. The variable shared keeps it
// reachable: were only its address kept, the garbage collector would close the pipe
// that keeps a private server alive.
type server struct {
	super    string // the address of the superuser, database postgres
	password string // of the roles, "" where none is needed
	private  *localpg.Server

	mu       sync.Mutex // one CREATE DATABASE at a time
	admin    *pgx.Conn
	template func() (string, error)
}

var shared = sync.OnceValues(findServer)

// url returns the address of a database as a role, "" for the superuser.
func (s *server) url(role, database string) string {
	u, err := url.Parse(s.super)
	if err != nil {
		panic("pgtest: " + err.Error()) // find parsed it before
	}
	u.Path = "/" + database
	if role != "" {
		u.User = url.User(role)
		if s.password != "" {
			u.User = url.UserPassword(role, s.password)
		}
	}
	if u.RawQuery == "" {
		u.RawQuery = "application_name=tankside-test"
	}
	return u.String()
}

func (s *server) exec(ctx context.Context, sql string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.admin == nil || s.admin.IsClosed() {
		conn, err := pgx.Connect(ctx, s.super)
		if err != nil {
			return err
		}
		s.admin = conn
	}
	_, err := s.admin.Exec(ctx, sql)
	return err
}
