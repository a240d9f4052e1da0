package pg_test

import (
	"context"
	"io"
	"net"
	"net/url"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// wire stands between a pool and the server: it counts what the pool sends,
// and can be cut.
type wire struct {
	url   string
	sends atomic.Int32

	mu    sync.Mutex
	conns []net.Conn
}

func newWire(t *testing.T, to string) *wire {
	config, err := pgx.ParseConfig(to)
	require.NoError(t, err)
	network, address := pgconn.NetworkAddress(config.Host, config.Port)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = listener.Close() })
	via := url.URL{Scheme: "postgres", User: url.UserPassword(config.User, config.Password), Host: listener.Addr().String(),
		Path: config.Database, RawQuery: "sslmode=disable&pool_max_conns=1"}
	w := &wire{url: via.String()}
	go func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return
			}
			server, err := net.Dial(network, address)
			if err != nil {
				_ = client.Close()
				continue
			}
			w.mu.Lock()
			w.conns = append(w.conns, client, server)
			w.mu.Unlock()
			pipe := func(to io.Writer, from io.Reader) {
				_, _ = io.Copy(to, from)
				_, _ = client.Close(), server.Close() // whoever leaves first, the other hears of it
			}
			go pipe(client, server)
			go pipe(counting{server, &w.sends}, client)
		}
	}()
	t.Cleanup(w.cut)
	return w
}

func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.conns {
		_ = c.Close()
	}
	w.conns = nil
}

type counting struct {
	net.Conn
	n *atomic.Int32
}

func (c counting) Write(p []byte) (int, error) {
	c.n.Add(1)
	return c.Conn.Write(p)
}

// ReadFrom is hidden, so that io.Copy writes and the writes are counted.
func (c counting) ReadFrom(r io.Reader) (int64, error) {
	return io.Copy(struct{ io.Writer }{c}, r)
}

func TestBeginScopeAndClockAreOneRoundTrip(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := newWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.url)
	require.NoError(t, err)
	defer db.Close()
	work := func(ctx context.Context, tx *pg.Tx) error {
		_, err := pg.One[int](ctx, tx, "SELECT count(*) FROM bottle", nil)
		return err
	}
	require.NoError(t, db.In(t.Context(), b.here, work)) // statements are prepared now
	before := w.sends.Load()
	require.NoError(t, db.In(t.Context(), b.here, work))
	require.EqualValues(t, 3, w.sends.Load()-before, "to begin, to work and to commit")
}

func TestALookIsOneRoundTripInItsScopeAndCannotWrite(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := newWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.url)
	require.NoError(t, err)
	defer db.Close()
	require.NoError(t, db.In(t.Context(), b.here, put(b.here, 1, "A", 12)))
	counted := func(centre uuid.UUID) int {
		var counts []int
		require.NoError(t, db.Look(t.Context(), centre, func(q *pgx.Batch) {
			pg.Queue(q, &counts, "SELECT count(*) FROM bottle", nil)
		}))
		require.Len(t, counts, 1)
		return counts[0]
	}
	require.Equal(t, 1, counted(b.here)) // statements are prepared now
	before := w.sends.Load()
	require.Equal(t, 1, counted(b.here))
	require.EqualValues(t, 1, w.sends.Load()-before)
	require.Zero(t, counted(uuid.New()), "another centre sees nothing")
	var none []int
	err = db.Look(t.Context(), b.here, func(q *pgx.Batch) { pg.Queue(q, &none, "DELETE FROM bottle RETURNING 1", nil) })
	require.ErrorContains(t, err, "read-only transaction")
	require.Equal(t, 1, counted(b.here), "the connection is in order after a failure")
}

func TestALostServerIsUnavailableAndComesBack(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	w := newWire(t, b.AppURL)
	db, err := pg.Open(t.Context(), w.url)
	require.NoError(t, err)
	defer db.Close()
	err = db.In(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		w.cut()
		return put(b.here, 1, "A", 12)(ctx, tx)
	})
	require.Equal(t, fault.Unavailable, fault.KindOf(err), "%v", err)
	require.NoError(t, db.In(t.Context(), b.here, put(b.here, 1, "A", 12)), "the next one gets a new connection")
	require.Equal(t, 1, count(t, b, b.here))
}

func BenchmarkIn(b *testing.B) {
	db := pgtest.New(b)
	centre := uuid.New()
	for b.Loop() {
		if err := db.In(b.Context(), centre, func(context.Context, *pg.Tx) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}
