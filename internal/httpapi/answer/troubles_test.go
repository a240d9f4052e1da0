package answer

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// In an outage each request fails for the same reason: that is written once,
// and then how often.
func TestTheSameTroubleIsWrittenOnce(t *testing.T) {
	var out bytes.Buffer
	repeat(slog.New(slog.NewJSONHandler(&out, nil)), 1658)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	require.Len(t, lines, 2)
	require.Contains(t, lines[1], `"again":1657`)
}

// repeat says the same trouble so often, and waits until it was summed up.
func repeat(log *slog.Logger, times int) {
	r := &Troubles{log: log, every: 20 * time.Millisecond, since: map[string]int{}}
	for range times {
		r.say(context.Background(), "away", "request could not be served")
	}
	for {
		r.mu.Lock()
		left := len(r.since)
		r.mu.Unlock()
		if left == 0 {
			return
		}
		time.Sleep(time.Millisecond)
	}
}
