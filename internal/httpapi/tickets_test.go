package httpapi_test

import (
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/httpapi"
	"tankside/internal/scenetest"
)

// ticket asks for a ticket and gives the address that it opens.
func (c *client) ticket(address string) string {
	c.t.Helper()
	return c.post("/v1/tickets", body{"address": address}).want(http.StatusCreated).at("address").(string)
}

// bare sends a request as a browser opens an address: without a header.
func (s *shop) bare(method, address string) answer {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, "http://tankside.test"+address, http.NoBody)
	require.NoError(s.t, err)
	response, err := s.holding("").http.Do(r)
	require.NoError(s.t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(s.t, err)
	return answer{t: s.t, asked: method + " " + address, status: response.StatusCode, header: response.Header,
		text: text}
}

func (w *season) live(sessions ...string) string {
	return "/v1/live?" + url.Values{"session_id": sessions}.Encode()
}

func TestATicketOpensItsAddressWithoutAHeader(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	address := s.assistant.ticket(w.live(w.confined, w.open))
	for range 2 { // EventSource comes back by itself
		a := s.bare(http.MethodGet, address).want(http.StatusOK)
		require.Equal(t, "text/event-stream", a.header.Get("Content-Type"))
		require.Contains(t, string(a.text), `"type":"snapshot"`)
		require.NotContains(t, string(a.text), "tkt_")
	}
	for range 2 {
		s.bare(http.MethodGet, address+"&after=x.1.2").want(http.StatusOK)
	}
	s.bare(http.MethodGet, address).refused(http.StatusUnauthorized, "unauthenticated") // whoever finds it in a history
	a := s.assistant.post("/v1/tickets", body{"address": w.live(w.confined)}).want(http.StatusCreated)
	require.Contains(t, a.at("address"), "ticket=tkt_"+strings.ReplaceAll(s.Centre.String(), "-", "")+"_")
}

// Every page that is printed opens in a browser, and shows what a token shows.
func TestATicketOpensSheets(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	for _, sheet := range []string{"/v1/briefings/" + w.brief(w.confined, saturday) + "/sheet",
		"/v1/sessions/" + w.confined + "/drill-sheet?convention=digits_bar&seed=7"} {
		address := s.instructor.ticket(sheet)
		opened := s.bare(http.MethodGet, address).want(http.StatusOK)
		s.bare(http.MethodGet, address).refused(http.StatusUnauthorized, "unauthenticated")
		require.Equal(t, "text/html; charset=utf-8", opened.header.Get("Content-Type"))
		require.Equal(t, string(s.instructor.get(sheet).want(http.StatusOK).text), string(opened.text))
	}
}

func TestATicketOpensNothingElse(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	address := s.boss.ticket(w.live(w.confined))
	parts, err := url.Parse(address)
	require.NoError(t, err)
	ticket := "ticket=" + parts.Query().Get("ticket")
	for what, other := range map[string]string{
		"another session":      w.live(w.open) + "&" + ticket,
		"a session more":       w.live(w.confined, w.open) + "&" + ticket,
		"an operation without": "/v1/sessions/" + w.confined + "?" + ticket,
		"a list":               "/v1/people?" + ticket,
		"cut short":            address[:len(address)-1],
		"nothing":              w.live(w.confined) + "&ticket=",
		"a token in its place": w.live(w.confined) + "&ticket=" + s.boss.secret,
		"another centre's mark": strings.Replace(address, "tkt_"+
			strings.ReplaceAll(s.Centre.String(), "-", ""), "tkt_"+strings.Repeat("0", 32), 1),
		"no ticket and no token": w.live(w.confined),
	} {
		t.Run(what, func(t *testing.T) {
			a := s.bare(http.MethodGet, other)
			a.t = t
			a.refused(http.StatusUnauthorized, "unauthenticated")
		})
	}
	s.holding(parts.Query().Get("ticket")).get("/v1/me").refused(http.StatusUnauthorized, "unauthenticated")
	s.bare(http.MethodPost, "/v1/tickets?"+ticket).refused(http.StatusUnauthorized, "unauthenticated")
	s.bare(http.MethodPost, address).refused(http.StatusMethodNotAllowed, "method_not_allowed")
	s.boss.get("/v1/sites?"+ticket).refused(http.StatusBadRequest,
		"invalid_request").by("contract.unknown_parameter")
}

func TestATicketIsOverAfterAMinuteAndLivesNoLongerThanItsToken(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	over := func(change string) {
		t.Helper()
		address := s.assistant.ticket(w.live(w.confined))
		s.bare(http.MethodGet, address).want(http.StatusOK)
		s.Super(strings.ReplaceAll(change, "WHO", "'"+s.assistant.person.String()+"'"))
		s.bare(http.MethodGet, address).refused(http.StatusUnauthorized, "unauthenticated")
	}
	a := s.assistant.post("/v1/tickets", body{"address": w.live(w.confined)}).want(http.StatusCreated)
	require.NotEmpty(t, a.at("expires_at"))
	require.Zero(t, s.Count(`SELECT FROM ticket WHERE expires_at <> issued_at + interval '60 seconds'`))
	over(`UPDATE ticket SET expires_at = clock_timestamp()`)
	over(`UPDATE token SET expires_at = clock_timestamp() WHERE person_id = WHO`)
	s.Super(`UPDATE token SET expires_at = clock_timestamp() + interval '1 day'`)
	over(`UPDATE token SET revoked_at = clock_timestamp() WHERE person_id = WHO`)
}

// Those that are over are swept away with the next that is asked for.
func TestTicketsDoNotGather(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for range 3 {
		s.boss.ticket(w.live(w.confined))
		s.Super(`UPDATE ticket SET expires_at = now() - interval '1 second'`)
	}
	require.Equal(t, 1, s.Count(`SELECT FROM ticket`))
}

func TestATicketDoesWhatItsTokenMay(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	narrow := s.withToken(access.NewToken{Program: new("narrow"), Scopes: []actor.Scope{access.CoursesRead}})
	narrow.post("/v1/tickets", body{"address": w.live(w.confined)}).refused(http.StatusForbidden,
		"missing_scope")
	s.bare(http.MethodGet, s.student.ticket(w.live(w.confined))).refused(http.StatusForbidden, "missing_role")
	address := s.assistant.ticket(w.live(w.confined))
	s.Exec(`DELETE FROM person_role WHERE person_id = @who`, map[string]any{"who": s.assistant.person})
	s.bare(http.MethodGet, address).refused(http.StatusForbidden, "missing_scope")
}

func TestATicketOfAnotherCentreFindsNothingHere(t *testing.T) {
	here := open(t)
	w := newSeason(t, here)
	there := openIn(t, scenetest.In(t, here.DB))
	here.bare(http.MethodGet, there.boss.ticket(w.live(w.confined))).refused(http.StatusNotFound, "not_found")
}

func TestATicketIsForAnAddressThatTakesOne(t *testing.T) {
	s := open(t)
	for _, address := range []string{"/v1/me", "/v1/tickets", "/v1/live/", "v1/live",
		"https://tankside.test/v1/live?session_id=" + newID(), "//elsewhere.example.org/v1/live",
		"/v1/briefings/nothing/sheet", "/v1/live", "/v1/live?session_id=x", "/v1/sessions/" + newID() +
			"/drill-sheet?seed=7&colour=red",
		"/v1/nothing", "/docs/", "/v1/%6cive", "/v1/live#x", "\u0000", "/v1/live?a=%zz;"} {
		a := s.boss.post("/v1/tickets", body{"address": address})
		a.refused(http.StatusBadRequest, "invalid_request")
	}
}

// A ticket opens what a token opens: who can read the log, or the database, must
// not get hold of one.
func TestATicketIsNowhereToBeRead(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	x := show(t, s, asIs)
	address := s.boss.ticket(w.live(uuid.NewString()))
	parts, err := url.Parse(address)
	require.NoError(t, err)
	secret := parts.Query().Get("ticket")
	x.call(http.MethodGet, address)                            // 404
	x.call(http.MethodGet, address+"&colour=red")              // 401: another address
	x.call(http.MethodGet, "/v1/people?ticket="+secret)        // 401
	x.call(http.MethodGet, "/v1/live?ticket="+secret+"&a=%zz") // no query at all
	require.Contains(t, x.log.String(), `"route":"/v1/live"`)
	for _, part := range []string{secret, secret[len(secret)-20:], "ticket="} {
		require.NotContains(t, x.log.String(), part)
	}
	require.Equal(t, 1, s.Count(`SELECT FROM ticket`))
	require.Zero(t, s.Count(`SELECT FROM ticket WHERE ticket::text LIKE '%`+secret[len(secret)-20:]+`%'`))
}

func TestABrowserOfAConfiguredOriginMayReadAStream(t *testing.T) {
	s := open(t)
	x := show(t, s, func(o *httpapi.Options) { o.Origins = []string{"https://shop.example.org"} })
	a := x.call(http.MethodGet, "/v1/live?session_id="+newID()+"&ticket=tkt_", "Origin",
		"https://shop.example.org")
	x.problem(a, http.StatusUnauthorized, "unauthenticated")
	require.Equal(t, "https://shop.example.org", a.Header().Get("Access-Control-Allow-Origin"))
	a = x.call(http.MethodOptions, "/v1/live", "Origin", "https://shop.example.org",
		"Access-Control-Request-Method", "GET")
	require.Contains(t, a.Header().Get("Access-Control-Allow-Headers"), "Last-Event-ID",
		"for who reads the stream by fetch")
}
