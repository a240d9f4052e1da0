package pg_test

import (
	"encoding/binary"
	"io"
	"net"
	"net/url"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgproto3"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
)

// between listens before a server and does with what a connection asks for at its
// start what poolers do: it refuses it, as pgbouncer does unless told otherwise
// (its documentation, ignore_startup_parameters), or drops it. It returns the address
// by way of itself.
func between(t *testing.T, to string, refuse bool) string {
	t.Helper()
	c, err := pgx.ParseConfig(to)
	require.NoError(t, err)
	network, server := pgconn.NetworkAddress(c.Host, c.Port)
	l, err := net.Listen("tcp", "127.0.0.1:0")
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
			go pass(from, into, refuse)
		}
	}()
	u := url.URL{Scheme: "postgres", User: url.UserPassword(c.User, c.Password), Host: l.Addr().String(),
		Path:     c.Database,
		RawQuery: "sslmode=disable"}
	return u.String()
}

// pass hands a connection on once its start was seen.
func pass(from, into net.Conn, refuse bool) {
	defer from.Close()
	defer into.Close()
	size := make([]byte, 4)
	if _, err := io.ReadFull(from, size); err != nil {
		return
	}
	rest := make([]byte, binary.BigEndian.Uint32(size)-4)
	if _, err := io.ReadFull(from, rest); err != nil {
		return
	}
	var start pgproto3.StartupMessage
	if err := start.Decode(rest); err == nil {
		for _, name := range []string{"plan_cache_mode", "tankside.direct", "search_path"} {
			if _, asked := start.Parameters[name]; asked && refuse {
				no := pgproto3.ErrorResponse{Severity: "FATAL", Code: "08P01",
					Message: "unsupported startup parameter: " + name}
				text, _ := no.Encode(nil)
				_, _ = from.Write(text)
				return
			}
			delete(start.Parameters, name)
		}
		rest, _ = start.Encode(nil)
	} else { // a request to cancel
		rest = append(size, rest...)
	}
	if _, err := into.Write(rest); err != nil {
		return
	}
	go func() {
		_, _ = io.Copy(from, into)
		_ = from.Close()
	}()
	_, _ = io.Copy(into, from)
}

func TestAPoolerIsFound(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	for name, refuse := range map[string]bool{"one that refuses settings": true,
		"one that drops settings": false} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			through, err := pg.Open(t.Context(), between(t, db.AppURL, refuse))
			require.NoError(t, err)
			defer through.Close()
			require.True(t, through.Pooled())
			require.NoError(t, through.RenewEpoch(t.Context()), "statements pass")

			err = migrate.Up(t.Context(), between(t, db.OwnerURL, refuse))
			require.ErrorContains(t, err, "past any pooler")
		})
	}
	require.NoError(t, migrate.Up(t.Context(), db.OwnerURL), "the server itself")
}

// An address that leads to the server itself is not taken for a pooler's, so that the
// service asks there for the plans it wants.
func TestTheServerItselfIsNoPooler(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	u, err := url.Parse(db.OwnerURL)
	require.NoError(t, err)
	u.User = url.User("tankside_app")
	if c, err := pgx.ParseConfig(db.AppURL); err == nil && c.Password != "" {
		u.User = url.UserPassword("tankside_app", c.Password)
	}
	straight, err := pg.Open(t.Context(), u.String())
	require.NoError(t, err)
	defer straight.Close()
	require.False(t, straight.Pooled())
}

// A setting of the address that a pooler refuses is for a person to take out: waiting
// for the database would wait for ever.
func TestAPoolerThatRefusesTheAddressIsNotWaitedFor(t *testing.T) {
	t.Parallel()
	_, err := pg.Open(t.Context(), between(t, pgtest.New(t).AppURL, true)+"&search_path=public")
	require.ErrorContains(t, err, "search_path")
	require.False(t, pg.Unavailable(err))
}
