package httpapi_test

import (
	"encoding/json"
	"net/http"
	"net/netip"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/httpapi"
)

// requests returns the lines of requests that a surface wrote.
func (x *surface) requests() (out []body) {
	for line := range strings.Lines(x.log.String()) {
		var l body
		require.NoError(x.t, json.Unmarshal([]byte(line), &l))
		if l["msg"] == "request" {
			out = append(out, l)
		}
	}
	return out
}

// Whoever investigates finds who called, from where and what, whether or not it
// was allowed; and neither a name, a secret nor what was asked for.
func TestARequestsLineSaysWhoCalled(t *testing.T) {
	s := open(t)
	x := show(t, s, func(o *httpapi.Options) {
		o.Limits.Proxies = []netip.Prefix{netip.MustParsePrefix("192.0.2.0/24")} // where httptest calls from
	})
	ask := func(path, secret string) {
		x.call(http.MethodGet, path, "Authorization", "Bearer "+secret, "X-Forwarded-For", "198.51.100.7")
	}
	narrow := s.withToken(access.NewToken{Program: new("Harbour Booking"),
		Scopes: []actor.Scope{access.CentreRead}})
	ask("/v1/people?name=Sofia", s.instructor.secret)
	ask("/v1/people", narrow.secret)
	ask("/v1/people", unlike(s.instructor.secret))
	ask("/v1/people", "let me in")
	lines := x.requests()
	require.Len(t, lines, 4)
	for i, status := range []int{http.StatusBadRequest, http.StatusForbidden, http.StatusUnauthorized,
		http.StatusUnauthorized} {
		require.EqualValues(t, status, lines[i]["status"])
		require.Equal(t, "198.51.100.7", lines[i]["address"])
		require.Equal(t, "listPeople", lines[i]["operation"])
		require.NotNil(t, lines[i]["duration_ms"])
	}
	centre := s.Centre.String()
	require.Equal(t, []any{centre, s.instructor.person.String()},
		[]any{lines[0]["centre_id"], lines[0]["person_id"]})
	require.Equal(t, []any{centre, nil, true},
		[]any{lines[1]["centre_id"], lines[1]["person_id"], lines[1]["program"]})
	for _, l := range lines[:2] {
		require.NotEmpty(t, l["token_id"])
	}
	require.Equal(t, []any{nil, centre, nil},
		[]any{lines[2]["centre_id"], lines[2]["claimed_centre_id"], lines[2]["token_id"]})
	require.Equal(t, []any{nil, nil}, []any{lines[3]["centre_id"], lines[3]["claimed_centre_id"]})
	for _, hidden := range []string{"Sofia", "Ines", "Harbour", "tsk_", s.instructor.secret[40:60],
		"let me in"} {
		require.NotContains(t, x.log.String(), hidden)
	}
}
