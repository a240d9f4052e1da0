package gate

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
)

// Strangers are looked up a few at a time; who is known passes by them.
func TestStrangersWaitInLine(t *testing.T) {
	most, passed := strangersAt(t.Context(), 60)
	require.Equal(t, 2, most)
	require.True(t, passed)
}

// strangersAt has so many callers whom nobody knows wait to be looked up at one
// address. It returns how many were looked up at once at most, and whether one
// who is known passed by them.
func strangersAt(ctx context.Context, n int) (most int, passed bool) {
	secret := func(n int) string {
		return fmt.Sprintf("%s%032x_%s", access.TokenPrefix, n,
			strings.Repeat("a", 52))
	}
	d := newDoor()
	_, _ = d.admit(ctx, "here", secret(0), false, func() (actor.Actor, error) { return actor.Actor{}, nil })
	var inside, highest atomic.Int32
	release := make(chan struct{})
	var waiting sync.WaitGroup
	for i := range n {
		waiting.Go(func() {
			_, _ = d.admit(ctx, "here", secret(i+1), false, func() (actor.Actor, error) {
				now := inside.Add(1)
				defer inside.Add(-1)
				for seen := highest.Load(); now > seen &&
					!highest.CompareAndSwap(seen, now); seen = highest.Load() {
				}
				<-release
				return actor.Actor{}, access.Unrecognised()
			})
		})
	}
	for inside.Load() < linesOfOne {
		time.Sleep(time.Millisecond)
	}
	_, err := d.admit(ctx, "here", secret(0), false, func() (actor.Actor, error) { return actor.Actor{}, nil })
	close(release)
	waiting.Wait()
	return int(highest.Load()), err == nil && len(d.lines) == 0
}

// RFC 4291, section 2.5.1: the last 64 bits of an address are its host's own.
func TestAHostWithManyAddressesCountsAsOne(t *testing.T) {
	for address, want := range map[string]string{
		"198.51.100.7": "198.51.100.7", "::ffff:198.51.100.7": "198.51.100.7",
		"2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64", "2001:db8:1:2::9": "2001:db8:1:2::/64",
		"2001:db8:1:3::9": "2001:db8:1:3::/64",
		"fe80::1%eth0":    "fe80::/64", "": "", "elsewhere": "elsewhere",
	} {
		require.Equal(t, want, network(address), address)
	}
}

func TestMemoryDoesNotGrowWithThoseWhoCall(t *testing.T) {
	l, err := newLimiter("address", 1, time.Now)
	require.NoError(t, err)
	for n := range 2 * watchedCallers {
		l.take(strconv.Itoa(n))
	}
	require.Equal(t, watchedCallers, l.buckets.Len())
}
