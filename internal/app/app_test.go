package app

import (
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/config"
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// serving is an app whose handler holds each request until it is released.
type serving struct {
	*App
	address  string
	arrived  chan struct{}
	release  chan struct{}
	stop     context.CancelFunc
	finished chan error
}

func serveSlowly(t *testing.T, grace time.Duration) *serving {
	t.Helper()
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	a, err := New(t.Context(), config.Config{Database: config.Secret(pgtest.New(t).AppURL), Grace: grace}, log)
	require.NoError(t, err)
	s := &serving{App: a, arrived: make(chan struct{}), release: make(chan struct{}),
		finished: make(chan error, 1)}
	a.handler = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		close(s.arrived)
		<-s.release
		if err := a.db.Ping(context.Background()); err != nil {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
	})
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.address = listener.Addr().String()
	ctx, stop := context.WithCancel(t.Context())
	s.stop = stop
	t.Cleanup(stop)
	go func() { s.finished <- a.Serve(ctx, listener) }()
	return s
}

// request sends one and gives its status, 0 when the connection broke.
func (s *serving) request() <-chan int {
	status := make(chan int, 1)
	go func() {
		r, err := http.Get("http://" + s.address)
		if err != nil {
			status <- 0
			return
		}
		defer r.Body.Close()
		_, _ = io.Copy(io.Discard, r.Body)
		status <- r.StatusCode
	}()
	<-s.arrived
	return status
}

// What a phone has sent is finished before the service goes, with the database
// still there; nobody new is let in.
func TestStoppingLetsRequestsUnderWayFinish(t *testing.T) {
	t.Parallel()
	s := serveSlowly(t, time.Minute)
	status := s.request()
	s.stop()
	require.Eventually(t, func() bool {
		c, err := net.Dial("tcp", s.address)
		if err == nil {
			c.Close()
		}
		return err != nil
	}, 5*time.Second, 10*time.Millisecond, "nobody new is let in")
	require.Empty(t, s.finished, "it waits for the request")
	close(s.release)
	require.Equal(t, http.StatusOK, <-status)
	require.NoError(t, <-s.finished)
	require.Error(t, s.db.Ping(t.Context()), "the database is closed after the last request")
}

func TestStoppingWaitsNoLongerThanItsGrace(t *testing.T) {
	t.Parallel()
	s := serveSlowly(t, 20*time.Millisecond)
	status := s.request()
	s.stop()
	require.Zero(t, <-status, "the connection is closed")
	close(s.release) // a closing pool waits until its connections are given back
	require.ErrorContains(t, <-s.finished, "still under way after 20ms")
}

// The service starts as the role that policies bind, or not at all.
func TestASuperuserIsRefused(t *testing.T) {
	t.Parallel()
	_, err := New(t.Context(), config.Config{Database: config.Secret(pgtest.New(t).SuperURL)},
		slog.New(slog.DiscardHandler))
	require.ErrorContains(t, err, "tankside_app")
}

// An id of a rule means one thing, whichever package it comes from.
func TestEveryRuleHasAnIDOfItsOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		require.False(t, seen[r.ID], r.ID)
		seen[r.ID] = true
	}
	require.NotEmpty(t, seen)
}

// A constraint that a feature explains is one that the schema has: a renamed
// one would turn a refusal into an internal error.
func TestEveryExplainedConstraintExists(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	NewServices(db.DB)
	require.NotEmpty(t, db.MappedConstraints())
	err := db.InTx(t.Context(), [16]byte{1}, func(ctx context.Context, tx *pg.Tx) error {
		for _, name := range db.MappedConstraints() {
			n, err := pg.Row[int](ctx, tx, `SELECT (SELECT count(*) FROM pg_constraint WHERE conname = @name)
				+ (SELECT count(*) FROM pg_class WHERE relkind = 'i' AND relname = @name)
				+ (SELECT count(*) FROM pg_proc WHERE position('''' || @name || '''' IN prosrc) > 0)`, map[string]any{"name": name})
			require.NoError(t, err)
			require.Positive(t, n, name)
		}
		return fault.New(fault.Internal, "internal", "") // nothing to keep
	})
	require.ErrorIs(t, err, fault.Internal.Err())
}
