package localpg_test

import (
	"bufio"
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/localpg"
)

// These tests run in whichever way this machine offers, or EnvWay forces: they
// reach into the server through SQL, never through its files.

// envServe makes this test program a program with a server, for the test
// that kills it.
const envServe = "TANKSIDE_TEST_SERVE"

func TestMain(m *testing.M) {
	if os.Getenv(envServe) == "" {
		os.Exit(m.Run())
	}
	s, err := localpg.Start(context.Background(), localpg.Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Println(s.URL(localpg.Super, localpg.Super))
	<-s.Done()
}

// lastingDir is a folder that the server's own user can reach, also when the
// tests run as root. (t.TempDir is for its maker only.)
func lastingDir(t *testing.T) string {
	dir, err := os.MkdirTemp("/var/tmp", "tankside-test-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o755))
	t.Cleanup(func() {
		require.NoError(t, localpg.Erase(context.Background(), dir))
		require.NoError(t, os.RemoveAll(dir))
	})
	return dir
}

func start(t *testing.T, o localpg.Options) *localpg.Server {
	s, err := localpg.Start(t.Context(), o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Stop()) })
	return s
}

func query(t *testing.T, s *localpg.Server, role, sql string, dest ...any) {
	conn, err := pgx.Connect(t.Context(), s.URL(role, localpg.Database))
	require.NoError(t, err)
	defer conn.Close(context.Background())
	if len(dest) == 0 {
		_, err = conn.Exec(t.Context(), sql)
	} else {
		err = conn.QueryRow(t.Context(), sql).Scan(dest...)
	}
	require.NoError(t, err)
}

// kill ends PostgreSQL as a failing machine would, from within.
func kill(t *testing.T, s *localpg.Server) {
	conn, err := pgx.Connect(t.Context(), s.URL(localpg.Super, localpg.Super))
	require.NoError(t, err)
	defer conn.Close(context.Background())
	var data string
	require.NoError(t, conn.QueryRow(t.Context(), "SHOW data_directory").Scan(&data))
	// The answer may or may not arrive.
	_, _ = conn.Exec(t.Context(),
		fmt.Sprintf(`COPY (SELECT 1) TO PROGRAM 'kill -9 "$(head -n 1 "%s/postmaster.pid")"'`, data))
}

func ends(t *testing.T, s *localpg.Server) {
	select {
	case <-s.Done():
	case <-time.After(20 * time.Second):
		require.Fail(t, "the server has ended and Done does not say so")
	}
}

func TestThrowAwayServer(t *testing.T) {
	t.Parallel()
	s := start(t, localpg.Options{})
	address := s.URL(localpg.App, localpg.Database)
	var super, bypass, create, jit bool
	query(t, s, localpg.App,
		`SELECT rolsuper, rolbypassrls, has_schema_privilege('public', 'CREATE'), current_setting('jit')::bool
		FROM pg_roles WHERE rolname = current_user`, &super, &bypass, &create, &jit)
	require.False(t, super || bypass || create || jit)
	var owner string
	query(t, s, localpg.App, "SELECT datdba::regrole FROM pg_database WHERE datname = current_database()",
		&owner)
	require.Equal(t, localpg.Owner, owner)
	query(t, s, localpg.Owner, "CREATE EXTENSION btree_gist; CREATE TABLE made_by_owner ()")

	require.NoError(t, s.Stop())
	ends(t, s)
	requireGone(t, address)
	require.NoError(t, s.Stop(), "a second time does nothing")
}

// requireGone waits until nobody answers at the address and, where the server
// had a folder of its own, until that is gone too.
func requireGone(t *testing.T, address string) {
	u, err := url.Parse(address)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		conn, err := pgx.Connect(context.Background(), address)
		if err == nil {
			_ = conn.Close(context.Background())
			return false
		}
		folder := u.Query().Get("host")
		_, missing := os.Stat(folder)
		return folder == "" || os.IsNotExist(missing)
	}, 20*time.Second, 50*time.Millisecond, "the server is still there")
}

func TestServerGoesWithAProgramThatIsKilled(t *testing.T) {
	t.Parallel()
	self, err := os.Executable()
	require.NoError(t, err)
	program := exec.Command(self)
	program.Env = append(os.Environ(), envServe+"=yes")
	program.Stderr = os.Stderr
	out, err := program.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, program.Start())
	lines := bufio.NewScanner(out)
	require.True(t, lines.Scan(), "the program did not get its server")
	address := lines.Text()
	conn, err := pgx.Connect(t.Context(), address)
	require.NoError(t, err)
	defer conn.Close(context.Background()) // a client that stays does not hold it up

	require.NoError(t, program.Process.Kill()) // SIGKILL: it cannot tidy up
	_ = program.Wait()
	requireGone(t, address)
}

func TestLastingServerKeepsItsData(t *testing.T) {
	t.Parallel()
	o := localpg.Options{Dir: lastingDir(t), Keep: true}
	first := start(t, o)
	var durable bool
	query(t, first, localpg.App,
		"SELECT current_setting('fsync')::bool AND current_setting('full_page_writes')::bool", &durable)
	require.True(t, durable)
	query(t, first, localpg.Owner, "CREATE TABLE kept (n int); INSERT INTO kept VALUES (1)")
	require.NoError(t, first.Stop())

	second := start(t, o)
	query(t, second, localpg.Owner, "INSERT INTO kept VALUES (2)")
	kill(t, second)
	ends(t, second)

	third := start(t, o)
	var rows int
	query(t, third, localpg.Owner, "SELECT count(*) FROM kept", &rows)
	require.Equal(t, 2, rows, "what was committed before the kill is there")
}

func TestASecondProgramJoinsTheLastingServer(t *testing.T) {
	t.Parallel()
	o := localpg.Options{Dir: lastingDir(t), Keep: true}
	// Two at the same moment, on a folder that has nothing yet.
	type result struct {
		s   *localpg.Server
		err error
	}
	results := make(chan result)
	for range 2 {
		go func() {
			s, err := localpg.Start(context.Background(), o)
			results <- result{s, err}
		}()
	}
	a, b := <-results, <-results
	require.NoError(t, a.err)
	require.NoError(t, b.err)
	t.Cleanup(func() { _, _ = a.s.Stop(), b.s.Stop() })
	var one, two time.Time
	query(t, a.s, localpg.App, "SELECT pg_postmaster_start_time()", &one)
	query(t, b.s, localpg.App, "SELECT pg_postmaster_start_time()", &two)
	require.Equal(t, one, two, "one server for both")

	// The one that ended last in start has joined, mostly; stopping both in
	// any order ends the server, and both hear of it.
	require.NoError(t, b.s.Stop())
	require.NoError(t, a.s.Stop())
	ends(t, a.s)
	ends(t, b.s)
}
