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
	base := serve(t, db)
	for range 2 {
		var out bytes.Buffer
		s, err := tell(t.Context(), Options{Out: &out}, db.AppURL, base)
		require.NoError(t, err, out.String())
		require.Empty(t, s.wrong)
		for _, line := range []string{"line 4, column", "over-reported", "A short fill",
			"Turn and low on gas at", "house rules, under 16", "the one that he missed is found",
			"She briefs them again", "Mara watches from the shop", "Nuno's record", "The ledger:"} {
			require.Contains(t, out.String(), line)
		}
		s.invite(&out)
		require.Contains(t, out.String(), "curl -s")
	}
}

// serve starts the service on a database until the test is over, and gives its
// address.
func serve(t *testing.T, db *pgtest.DB) string {
	t.Helper()
	a, err := app.New(t.Context(),
		config.Config{Database: config.Secret(db.AppURL), Worker: config.Secret(db.WorkerURL),
			Grace: time.Second}, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(ctx, l) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
	})
	return "http://" + l.Addr().String()
}
