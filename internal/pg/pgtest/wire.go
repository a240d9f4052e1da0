package pgtest

import (
	"io"
	"net"
	"net/url"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Wire is a proxy between a pool and the server: it counts the pool's writes, can be
// cut, and can hold back the server's answers.
type Wire struct {
	URL    string
	Sends  atomic.Int32 // how often the pool wrote
	Frozen atomic.Bool  // the server's answers wait

	mu    sync.Mutex
	conns []net.Conn
}

// NewWire returns a wire to the database at an address, for a pool of one connection.
func NewWire(t testing.TB, to string) *Wire {
	t.Helper()
	config, err := pgx.ParseConfig(to)
	if err != nil {
		t.Fatalf("pgtest: wire: %v", err)
	}
	network, address := pgconn.NetworkAddress(config.Host, config.Port)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatalf("pgtest: wire: %v", err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	via := url.URL{Scheme: "postgres", User: url.UserPassword(config.User, config.Password),
		Host: listener.Addr().String(),
		Path: config.Database, RawQuery: "sslmode=disable&pool_max_conns=1"}
	w := &Wire{URL: via.String()}
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
				_, _ = client.Close(), server.Close() // when one side closes, the other is closed too
			}
			go pipe(freezing{client, &w.Frozen}, server)
			go pipe(counting{server, &w.Sends}, client)
		}
	}()
	t.Cleanup(w.Cut)
	return w
}

// Cut breaks every connection.
func (w *Wire) Cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.conns {
		_ = c.Close()
	}
	w.conns = nil
}

// freezing passes nothing on while frozen is set.
type freezing struct {
	io.Writer
	frozen *atomic.Bool
}

func (f freezing) Write(p []byte) (int, error) {
	for f.frozen.Load() {
		time.Sleep(time.Millisecond)
	}
	return f.Writer.Write(p)
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
