package httpapi_test

import (
	"context"
	"errors"
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
	"tankside/internal/scenetest"
)

// impatient gives the same caller of a surface whose operations end after a time.
func impatient(s *shop, patience time.Duration) func(*client) *client {
	x := show(s.t, s, func(o *httpapi.Options) { o.Deadline = patience })
	return func(c *client) *client {
		same := *c
		same.http = &http.Client{Transport: checked{x}}
		return &same
	}
}

// Somebody holds the sessions of one centre with psql while its phones send and
// send: another centre is answered as ever, and the phones are told in time to
// send again later.
func TestALockedCentreDelaysNoOther(t *testing.T) {
	w := newSeason(t, open(t))
	other := openIn(t, scenetest.In(t, w.DB))
	w.Clock(saturday)
	via := impatient(w.shop, 8*time.Second)
	phone, elsewhere := via(w.instructor), via(other.manager)
	conn, err := pgx.Connect(t.Context(), w.DB.SuperURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	tx, err := conn.Begin(t.Context())
	require.NoError(t, err)
	_, err = tx.Exec(t.Context(), "SELECT FROM session WHERE centre_id = $1 FOR UPDATE", w.Centre)
	require.NoError(t, err)

	seen := body{"visibility": of(8, "m"), "witnessed_at": at(saturday)}
	var sending sync.WaitGroup
	var answered atomic.Int32
	answers := make(chan answer, 24)
	began := time.Now()
	for range cap(answers) {
		sending.Go(func() {
			answers <- phone.post("/v1/sessions/"+w.open+"/conditions", seen)
			answered.Add(1)
		})
	}
	watch, err := pgx.Connect(t.Context(), w.DB.SuperURL) // within a transaction the activity stands still
	require.NoError(t, err)
	defer watch.Close(context.Background())
	require.Eventually(t, func() (all bool) {
		// Half of the ten connections that a test's pool has.
		require.NoError(t, watch.QueryRow(t.Context(), `SELECT count(*) = 5 FROM pg_stat_activity
			WHERE datname = current_database() AND wait_event_type = 'Lock'`).Scan(&all))
		return all
	}, 7*time.Second, 5*time.Millisecond)
	for range 10 {
		asked := time.Now()
		elsewhere.get("/v1/me").want(http.StatusOK)
		require.Less(t, time.Since(asked), time.Second, "our choice: far below what the phones wait")
	}
	require.Zero(t, answered.Load(), "the phones were still waiting")
	sending.Wait()
	for range cap(answers) {
		a := (<-answers).refused(http.StatusServiceUnavailable, "database_unavailable")
		require.NotEmpty(t, a.header.Get("Retry-After"))
	}
	require.Less(t, time.Since(began), 20*time.Second, "to recognise who calls and to work have 8 s each")
	require.NoError(t, tx.Rollback(t.Context()))
	phone.post("/v1/sessions/"+w.open+"/conditions", seen).want(http.StatusCreated)
}

// A server that answers nothing any more, neither yes nor no.
func TestADatabaseThatStandsStillIsSaidInTime(t *testing.T) {
	s := open(t)
	wire := pgtest.NewWire(t, s.DB.AppURL)
	db, err := pg.Open(t.Context(), wire.URL)
	require.NoError(t, err)
	t.Cleanup(db.Close)
	services := app.NewServices(db)
	x := show(t, s, func(o *httpapi.Options) {
		o.Access, o.Centre, o.Offline = services.Access, services.Centre, services.Offline
		o.People, o.Courses, o.Sessions = services.People, services.Courses, services.Sessions
		o.Waterlog, o.Gaswatch, o.Assessment = services.Waterlog, services.Gaswatch, services.Assessment
		o.Plans, o.Briefings, o.Desk = services.Plans, services.Briefings, services.Desk
		o.DiveDay = services.DiveDay
		o.Live = app.NewHub(db, services, config.StreamLimit, 0, o.Log)
		t.Cleanup(o.Live.Stop)
		o.Deadline = 400 * time.Millisecond
		o.Ready = func(ctx context.Context) error {
			return db.Probe(ctx, func(ctx context.Context, c *pgx.Conn) error { return c.Ping(ctx) })
		}
	})
	ask := func(path string) answer {
		a := x.call(http.MethodGet, path, "Authorization", "Bearer "+s.manager.secret)
		return answer{t: t, asked: path, status: a.Code, header: a.Header(), text: a.Body.Bytes()}
	}
	ask("/v1/me").want(http.StatusOK)
	wire.Frozen.Store(true)
	for _, path := range []string{"/v1/me", "/v1/live?session_id=" + newID(), "/v1/people"} {
		began := time.Now()
		a := ask(path).refused(http.StatusServiceUnavailable, "database_unavailable")
		require.Equal(t, "application/problem+json", a.header.Get("Content-Type"))
		require.NotEmpty(t, a.header.Get("Retry-After"))
		require.Less(t, time.Since(began), 3*time.Second, path)
	}
	began := time.Now()
	ask("/readyz").want(http.StatusServiceUnavailable)
	require.Less(t, time.Since(began), 4*time.Second)
	ask("/livez").want(http.StatusOK)
	wire.Frozen.Store(false)
	require.Eventually(t, func() bool { return ask("/readyz").status == http.StatusOK }, 5*time.Second,
		50*time.Millisecond)
	ask("/v1/me").want(http.StatusOK)
}

// However many ask whether an instance is ready, the database is asked once a
// second.
func TestProbesAreCheap(t *testing.T) {
	var asked atomic.Int32
	x := show(t, open(t), func(o *httpapi.Options) {
		o.Ready = func(context.Context) error { asked.Add(1); return errors.New("away") }
	})
	began := time.Now()
	var probing sync.WaitGroup
	for range 500 {
		probing.Go(func() { x.call(http.MethodGet, "/readyz") })
	}
	probing.Wait()
	require.LessOrEqual(t, int(asked.Load()), 2+int(time.Since(began)/time.Second))
}
