package app_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
	"tankside/migrations"
)

// running is a service that was started as the command does it.
type running struct {
	t     *testing.T
	base  string
	stop  context.CancelFunc
	ended chan error
}

func run(t *testing.T, cfg config.Config, log *slog.Logger) *running {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	t.Cleanup(stop)
	r := &running{t: t, base: "http://" + l.Addr().String(), stop: stop, ended: make(chan error, 1)}
	go func() { r.ended <- app.RunOn(ctx, cfg, log, l) }()
	return r
}

// status asks, and gives 0 where nobody listens.
func (r *running) status(method, path string) (int, http.Header) {
	r.t.Helper()
	ask, err := http.NewRequestWithContext(r.t.Context(), method, r.base+path, strings.NewReader("{}"))
	require.NoError(r.t, err)
	answer, err := http.DefaultClient.Do(ask)
	if err != nil {
		return 0, nil
	}
	defer answer.Body.Close()
	return answer.StatusCode, answer.Header
}

func (r *running) becomes(want int) {
	r.t.Helper()
	require.Eventually(r.t, func() bool {
		got, _ := r.status(http.MethodGet, "/readyz")
		return got == want
	}, 30*time.Second, 20*time.Millisecond)
}

// safe is a log that may be read while it is written.
type safe struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *safe) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *safe) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// While another process migrates, the service is alive and not ready, and says what
// it waits for. Then it serves.
func TestAliveAndNotReadyWhileTheSchemaMoves(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	busy, err := pgx.Connect(t.Context(), db.OwnerURL)
	require.NoError(t, err)
	defer busy.Close(context.Background())
	_, err = busy.Exec(t.Context(), "SELECT pg_advisory_lock(7203511884016)") // the turn of internal/pg/migrate
	require.NoError(t, err)
	log := &safe{}
	r := run(t, config.Config{Database: config.Secret(db.AppURL), Owner: config.Secret(db.OwnerURL),
		Grace: time.Second},
		slog.New(slog.NewTextHandler(log, nil)))
	require.Eventually(t, func() bool { return strings.Contains(log.String(), "another process migrates") },
		20*time.Second, 10*time.Millisecond)
	status, _ := r.status(http.MethodGet, "/livez")
	require.Equal(t, http.StatusOK, status)
	for _, path := range []string{"/readyz", "/v1/me", "/"} {
		status, head := r.status(http.MethodGet, path)
		require.Equal(t, http.StatusServiceUnavailable, status, path)
		if path != "/readyz" {
			require.NotEmpty(t, head.Get("Retry-After"), path)
			require.Equal(t, "application/problem+json", head.Get("Content-Type"), path)
		}
	}
	require.NoError(t, busy.Close(t.Context()))
	r.becomes(http.StatusOK)
	require.Contains(t, log.String(), "migrated")
	r.stop()
	require.NoError(t, <-r.ended)
}

// With the database down at the start the service waits for it; what only a person
// can cure ends it.
func TestTheServiceWaitsForItsDatabase(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	at, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	require.NoError(t, at.Close()) // nobody listens there yet
	r := run(t, config.Config{Database: config.Secret(via(t, db.AppURL, at.Addr().String())),
		Grace: time.Second}, slog.New(slog.NewTextHandler(t.Output(), nil)))
	for range 20 {
		status, _ := r.status(http.MethodGet, "/livez")
		require.Equal(t, http.StatusOK, status)
		time.Sleep(50 * time.Millisecond)
	}
	require.Empty(t, r.ended)
	lead(t, at.Addr().String(), db.AppURL)
	r.becomes(http.StatusOK)
	r.stop()
	require.NoError(t, <-r.ended)

	wrong := run(t, config.Config{Database: config.Secret(db.OwnerURL), Grace: time.Second},
		slog.New(slog.DiscardHandler))
	require.ErrorContains(t, <-wrong.ended, "tankside_app")
}

// A release on the schema of an older one reads and writes nothing; one on the
// schema of a newer one serves.
func TestARequestNeedsASchemaThatFits(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	require.NoError(t, migrate.To(t.Context(), db.OwnerURL, migrations.Before(migrations.Latest())))
	r := run(t, config.Config{Database: config.Secret(db.AppURL), Grace: time.Second,
		Drain: 300 * time.Millisecond}, slog.New(slog.DiscardHandler))
	r.becomes(http.StatusServiceUnavailable)
	for _, method := range []string{http.MethodGet, http.MethodPost} {
		require.Eventually(t, func() bool {
			status, head := r.status(method, "/v1/people")
			return status == http.StatusServiceUnavailable && head.Get("Retry-After") != ""
		}, 10*time.Second, 10*time.Millisecond, method)
	}
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL))
	r.becomes(http.StatusOK)
	status, _ := r.status(http.MethodPost, "/v1/people")
	require.Equal(t, http.StatusUnauthorized, status, "whoever calls is asked who it is")
	require.NoError(t, migrate.Force(t.Context(), db.OwnerURL, migrations.Latest()+1))
	r.becomes(http.StatusOK)

	// It says that it goes before it stops to listen.
	r.stop()
	r.becomes(http.StatusServiceUnavailable)
	status, _ = r.status(http.MethodGet, "/v1/people")
	require.Equal(t, http.StatusUnauthorized, status, "and serves on meanwhile")
	require.NoError(t, <-r.ended)
	status, _ = r.status(http.MethodGet, "/readyz")
	require.Zero(t, status)
}

func TestAReadOnlyDatabaseIsNotReady(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	conn, err := pgx.Connect(t.Context(), db.SuperURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(),
		`DO $$ BEGIN EXECUTE format('ALTER ROLE tankside_app IN DATABASE %I SET default_transaction_read_only = on', current_database()); END $$`)
	require.NoError(t, err)
	log := &safe{}
	r := run(t, config.Config{Database: config.Secret(db.AppURL), Grace: time.Second},
		slog.New(slog.NewTextHandler(log, nil)))
	require.Eventually(t, func() bool {
		_, _ = r.status(http.MethodGet, "/readyz")
		return strings.Contains(log.String(), "takes no writes")
	}, 20*time.Second, 10*time.Millisecond)
	r.becomes(http.StatusServiceUnavailable)
	status, _ := r.status(http.MethodGet, "/v1/me")
	require.Equal(t, http.StatusUnauthorized, status, "reading goes on")
	r.stop()
	require.NoError(t, <-r.ended)
}

// via is the address of a database by way of another one.
func via(t *testing.T, to, address string) string {
	t.Helper()
	c, err := pgx.ParseConfig(to)
	require.NoError(t, err)
	u := url.URL{Scheme: "postgres", User: url.UserPassword(c.User, c.Password), Host: address,
		Path: c.Database, RawQuery: "sslmode=disable"}
	return u.String()
}

// lead hands on whatever arrives at an address to a database.
func lead(t *testing.T, address, to string) {
	t.Helper()
	c, err := pgx.ParseConfig(to)
	require.NoError(t, err)
	network, server := pgconn.NetworkAddress(c.Host, c.Port)
	l, err := net.Listen("tcp", address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			from, err := l.Accept()
			if err != nil {
				return
			}
			into, err := net.Dial(network, server)
			if err != nil {
				_ = from.Close()
				continue
			}
			pipe := func(to, from net.Conn) {
				_, _ = io.Copy(to, from)
				_, _ = to.Close(), from.Close()
			}
			go pipe(into, from)
			go pipe(from, into)
		}
	}()
}
