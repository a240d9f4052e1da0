package httpapi_test

import (
	"net/http"
	"net/netip"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/httpapi/gate"
)

// limited is a shop's surface with limits, and a clock that the test moves.
type limited struct {
	*surface
	now time.Time
}

func limit(t testing.TB, s *shop, limits gate.Limits) *limited {
	t.Helper()
	x := &limited{now: today}
	x.surface = show(t, s, func(o *httpapi.Options) {
		o.Limits = limits
		*o = o.At(func() time.Time { return x.now })
	})
	return x
}

// through gives a caller whose requests meet the limits, every answer held
// against the contract.
func (x *limited) through(c *client) *client {
	same := *c
	same.http = &http.Client{Transport: checked{x}}
	return &same
}

// from asks who is calling, with a token, from an address that a proxy names.
func (x *limited) from(address, secret string) answer {
	x.t.Helper()
	a := x.call(http.MethodGet, "/v1/me", "Authorization", "Bearer "+secret, "X-Forwarded-For", address)
	return answer{t: x.t, asked: address, status: a.Code, header: a.Header(), text: a.Body.Bytes()}
}

// The header fields are those of draft-ietf-httpapi-ratelimit-headers-10,
// sections 3 and 4; Retry-After is RFC 9110, section 10.2.3.
func TestATokenIsServedItsMinuteAndThenWaits(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: 3, Address: 1e9})
	c := x.through(s.instructor)
	for _, left := range []string{`"token";r=2;t=20`, `"token";r=1;t=40`, `"token";r=0;t=60`} {
		a := c.get("/v1/me").want(http.StatusOK)
		require.Equal(t, left, a.header.Get("RateLimit"))
		require.Equal(t, `"token";q=3;w=60`, a.header.Get("RateLimit-Policy"))
	}
	x.now = x.now.Add(5 * time.Second)
	a := c.get("/v1/me").refused(http.StatusTooManyRequests, "too_many_requests")
	require.Equal(t, "15", a.header.Get("Retry-After"))
	require.Equal(t, `"token";r=0;t=55`, a.header.Get("RateLimit"))
	require.Equal(t, `"token";q=3;w=60`, a.header.Get("RateLimit-Policy"))
	require.Contains(t, a.at("detail"), "Wait 15 s")
	x.through(s.manager).get("/v1/me").want(http.StatusOK)

	x.now = x.now.Add(14 * time.Second)
	require.Equal(t, "1", c.get("/v1/me").want(http.StatusTooManyRequests).header.Get("Retry-After"),
		"asking too early costs nothing")
	x.now = x.now.Add(time.Second)
	c.get("/v1/me").want(http.StatusOK)
	c.get("/v1/me").want(http.StatusTooManyRequests)
	x.now = x.now.Add(time.Hour)
	require.Equal(t, `"token";r=2;t=20`, c.get("/v1/me").want(http.StatusOK).header.Get("RateLimit"),
		"no more than a minute is saved up")
}

// What is refused was not begun: a creation sent again later is made once.
func TestWhatIsRefusedForNumberWasNotDone(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: 1, Address: 1e9})
	c := x.through(s.boss)
	c.get("/v1/me").want(http.StatusOK)
	before := s.everyRow()
	site := pool()
	site["id"] = newID()
	c.post("/v1/sites", site).refused(http.StatusTooManyRequests, "too_many_requests")
	require.Equal(t, before, s.everyRow())
	x.now = x.now.Add(time.Minute)
	c.post("/v1/sites", site).made()
}

func TestWhoGuessesTokensIsSlowed(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: 1e9, Address: 200,
		Proxies: []netip.Prefix{netip.MustParsePrefix("192.0.2.0/24")}})
	guess := unlike(s.manager.secret)
	guesses := 0
	for x.from("198.51.100.7", guess).status == http.StatusUnauthorized {
		guesses++
	}
	require.Equal(t, 4, guesses, "four are 4 x (1 + 50) requests, more than 200")
	a := x.from("198.51.100.7", guess).refused(http.StatusTooManyRequests, "too_many_requests")
	require.Equal(t, `"address";q=200;w=60`, a.header.Get("RateLimit-Policy"))
	require.Equal(t, "2", a.header.Get("Retry-After"), "4 below zero and one to take, at 10 in 3 s")
	x.from("198.51.100.8", guess).want(http.StatusUnauthorized)
	require.Equal(t, http.StatusOK, x.call(http.MethodGet, "/livez").Code)
	x.now = x.now.Add(2 * time.Second)
	x.from("198.51.100.7", guess).want(http.StatusUnauthorized)
}

// Hundreds of bad tokens from the centre's own address: whoever has a good one
// is served all the same, whether or not it was seen here before.
func TestAGoodTokenDoesNotWaitForStrangers(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: 1e9, Address: 200,
		Proxies: []netip.Prefix{netip.MustParsePrefix("192.0.2.0/24")}})
	seen, fresh := s.manager.secret, s.instructor.secret
	x.from("198.51.100.7", seen).want(http.StatusOK)
	made := func(n int) string {
		return seen[:len(seen)-2] + string(rune('a'+n/26%26)) + string(rune('a'+n%26))
	}
	for n := range 240 {
		if made(n) == seen {
			continue
		}
		require.GreaterOrEqual(t, x.from("198.51.100.7", made(n)).status, http.StatusUnauthorized)
	}
	x.from("198.51.100.7", made(600)).want(http.StatusTooManyRequests)
	require.Equal(t, http.StatusTooManyRequests,
		x.call(http.MethodGet, "/v1/gestures", "X-Forwarded-For",
			"198.51.100.7").Code, "what needs no token waits")
	x.from("198.51.100.7", seen).want(http.StatusOK)
	x.from("198.51.100.7", fresh).want(http.StatusOK)
}

// Whoever wants another address only has to write one, unless the header comes
// from a proxy of one's own.
func TestAnAddressThatACallerInventsDoesNotCount(t *testing.T) {
	s := open(t)
	for name, x := range map[string]*limited{
		"no proxy": limit(t, s, gate.Limits{Token: 1e9, Address: 1}),
		"another proxy": limit(t, s,
			gate.Limits{Token: 1e9, Address: 1,
				Proxies: []netip.Prefix{netip.MustParsePrefix("203.0.113.0/24")}}),
	} {
		ask := func(address string) int {
			return x.call(http.MethodGet, "/v1/gestures", "X-Forwarded-For", address).Code
		}
		require.Equal(t, http.StatusOK, ask("198.51.100.1"), name)
		require.Equal(t, http.StatusTooManyRequests, ask("198.51.100.2"), name)
	}
}

func TestEveryOperationIsLimited(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: 1, Address: 1})
	c := x.through(s.boss)
	c.get("/v1/me").want(http.StatusOK)
	c.get("/v1/gestures").want(http.StatusOK)
	every(t, all, func(t *testing.T, op *operation) {
		op.send(c.on(t), op.address(nil), op.example(t)).refused(http.StatusTooManyRequests,
			"too_many_requests")
	})
}

func TestNobodyServesWithoutALimit(t *testing.T) {
	for _, l := range []gate.Limits{{}, {Token: 1}, {Address: 1}, {Token: -1, Address: 1}} {
		_, err := httpapi.New(httpapi.Options{Limits: l})
		require.ErrorContains(t, err, "must be positive")
	}
}

// Eight instructors at one pool, behind one address: each comes back into
// coverage with two hundred notes, then sends and looks 40 times a minute (our
// estimate: eight students checked every minute or two, a view that looks every
// other second), while one's token has expired and asks each second.
func TestAPoolDayMeetsNoLimit(t *testing.T) {
	s := open(t)
	x := limit(t, s, gate.Limits{Token: config.TokenLimit, Address: config.AddressLimit})
	var phones []*client
	for range 8 {
		phones = append(phones, x.through(s.as(s.instructor.person)))
	}
	expired := x.through(s.holding(unlike(s.manager.secret)))
	for range 200 {
		for _, p := range phones {
			p.get("/v1/me").want(http.StatusOK)
		}
	}
	for second := range 180 {
		x.now = x.now.Add(time.Second)
		expired.get("/v1/me").want(http.StatusUnauthorized)
		for n, p := range phones {
			if (second+n)%3 < 2 {
				p.get("/v1/me").want(http.StatusOK)
			}
		}
	}
}
