package demo

import (
	"bytes"
	"context"
	"log/slog"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/pg/pgtest"
)

// The demo's story is the main job from end to end: it fails when anything that
// has to be accepted is refused, or the other way round.
func TestTheStoryGoesAsExpectedTwiceBesideItself(t *testing.T) {
	db := pgtest.New(t)
	a, err := app.New(t.Context(), config.Config{Database: config.Secret(db.AppURL), Grace: time.Second}, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(ctx, l) }()
	for range 2 {
		var out bytes.Buffer
		s, err := tell(t.Context(), Options{Out: &out}, db.AppURL, "http://"+l.Addr().String())
		require.NoError(t, err, out.String())
		require.Empty(t, s.wrong)
		for _, line := range []string{"line 4, column", "over-reported", "Nuno's record", "The ledger:"} {
			require.Contains(t, out.String(), line)
		}
		s.invite(&out)
		require.Contains(t, out.String(), "curl -s")
	}
	stop()
	require.NoError(t, <-ended)
}
