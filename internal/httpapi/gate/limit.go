package gate

import (
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/hashicorp/golang-lru/v2/simplelru"
	"github.com/labstack/echo/v4"
	"golang.org/x/time/rate"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/httpapi/contract"
)

// Limits are how many requests are served in a minute. Each is a bucket that is
// full at first and fills evenly: so a device that comes back into coverage may
// send its whole minute at once. Each instance of the service counts for
// itself. There is no unlimited: both are positive.
type Limits struct {
	Token   int // of one token
	Address int // of one network address, of requests without a token that is recognised
	// Proxies are the networks of one's own proxies, whose X-Forwarded-For is
	// believed. From anywhere else the header is a caller's invention.
	Proxies []netip.Prefix
}

const (
	limitWindow = time.Minute

	// guessCost is what a request without a valid token costs its address, in
	// requests; our choice. With the default limits an address may try 240 tokens
	// a minute, and a telephone whose token expired and that asks each second does
	// not use up what the others beside it need.
	guessCost = 50

	// watchedCallers bounds the memory of a limiter, our choice: some 10 MB. Who
	// has not called for longest is forgotten first.
	watchedCallers = 1 << 16
)

var errLimits = errors.New("httpapi: the limits must be positive: nobody is served without one")

// limiter keeps one bucket for each caller. Its memory is bounded.
type limiter struct {
	name  string // of its policy, in the RateLimit headers
	quota int
	now   func() time.Time

	mu      sync.Mutex
	buckets *simplelru.LRU[string, *rate.Limiter]
}

func newLimiter(name string, quota int, now func() time.Time) (*limiter, error) {
	if quota <= 0 {
		return nil, errLimits
	}
	buckets, err := simplelru.NewLRU[string, *rate.Limiter](watchedCallers, nil)
	return &limiter{name: name, quota: quota, now: now, buckets: buckets}, err
}

// spent is what a bucket says after something was taken from it, or refused.
type spent struct {
	ok   bool
	left int           // requests that it still holds
	wait time.Duration // until one more is served
	full time.Duration // until it is full again
}

// take takes one request from a caller's bucket. One that was refused costs
// nothing, so whoever waits as told is served.
func (l *limiter) take(caller string) spent {
	b, now := l.bucket(caller), l.now()
	return l.read(b, now, b.AllowN(now, 1))
}

// charge takes more from a caller's bucket than it may hold: the caller waits
// longer.
func (l *limiter) charge(caller string, n int) {
	l.bucket(caller).ReserveN(l.now(), min(n, l.quota))
}

func (l *limiter) bucket(caller string) *rate.Limiter {
	l.mu.Lock()
	defer l.mu.Unlock()
	b, ok := l.buckets.Get(caller)
	if !ok {
		b = rate.NewLimiter(rate.Limit(float64(l.quota)/limitWindow.Seconds()), l.quota)
		l.buckets.Add(caller, b)
	}
	return b
}

func (l *limiter) read(b *rate.Limiter, now time.Time, ok bool) spent {
	has, each := b.TokensAt(now), limitWindow.Seconds()/float64(l.quota)
	seconds := func(requests float64) time.Duration {
		return time.Duration(max(0, requests) * each * float64(time.Second))
	}
	return spent{ok: ok, left: max(0, int(has)), wait: seconds(1 - has), full: seconds(float64(l.quota) - has)}
}

// tell writes the RateLimit fields (draft-ietf-httpapi-ratelimit-headers-10,
// sections 3 and 4): the policy, what is left of it, and in how many seconds it
// is whole again.
func (l *limiter) tell(h http.Header, s spent) {
	h.Set("RateLimit-Policy", fmt.Sprintf("%q;q=%d;w=%d", l.name, l.quota, int(limitWindow.Seconds())))
	h.Set("RateLimit", fmt.Sprintf("%q;r=%d;t=%d", l.name, s.left, wholeSeconds(s.full)))
}

// refuse is the fault of a caller who has to wait.
func (l *limiter) refuse(h http.Header, s spent) error {
	l.tell(h, s)
	wait := max(1, wholeSeconds(s.wait))
	h.Set("Retry-After", strconv.Itoa(wait))
	return fault.New(fault.TooMany, "too_many_requests", fmt.Sprintf(
		"More than %d requests in a minute came from this %s. Wait %d s, then send the request again; nothing of it was done.", l.quota, l.name, wait)).
		Param("limit", l.quota).Param("of", l.name).Param("wait", finding.Span(time.Duration(wait)*time.Second))
}

func wholeSeconds(d time.Duration) int { return int(math.Ceil(d.Seconds())) }

// limitAddress serves an address so many requests in a minute for what is no
// operation. The probes are left out: whoever watches over the service must not
// take an instance for dead because others were loud. An operation asks the
// address itself, of whoever brings no token that is recognised.
func (g *Gate) limitAddress(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		method := strings.Replace(c.Request().Method, http.MethodHead, http.MethodGet, 1) // which is served as it
		if c.Path() == "/livez" || c.Path() == "/readyz" || g.operated[method+" "+c.Path()] {
			return next(c)
		}
		if got := g.addresses.take(network(c.RealIP())); !got.ok {
			return g.addresses.refuse(c.Response().Header(), got)
		}
		return next(c)
	}
}

// routes returns the operations as the router names them.
func routes(operations []*contract.Operation) map[string]bool {
	out := map[string]bool{}
	for _, op := range operations {
		out[op.Method+" "+strings.NewReplacer("{", ":", "}", "").Replace(op.Path)] = true
	}
	return out
}

// limitToken serves a token so many requests in a minute, and tells with each
// answer how many are left.
func (g *Gate) limitToken(c echo.Context, by actor.Actor) error {
	got := g.tokens.take(by.Token.String())
	if !got.ok {
		return g.tokens.refuse(c.Response().Header(), got)
	}
	g.tokens.tell(c.Response().Header(), got)
	return nil
}

// network returns what counts as one address: an IPv4 address, or the /64 in
// which an IPv6 host may choose freely (RFC 4291, section 2.5.1).
func network(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	if a = a.Unmap().WithZone(""); a.Is4() {
		return a.String()
	}
	p, err := a.Prefix(64)
	if err != nil {
		return address
	}
	return p.String()
}

// CallerAddress finds the address of whoever calls: the connection's, or what
// one's own proxies say.
func CallerAddress(proxies []netip.Prefix) echo.IPExtractor {
	if len(proxies) == 0 {
		return echo.ExtractIPDirect()
	}
	trust := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false),
		echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		trust = append(trust, echo.TrustIPRange(&net.IPNet{IP: p.Addr().AsSlice(),
			Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}))
	}
	return echo.ExtractIPFromXFFHeader(trust...)
}
