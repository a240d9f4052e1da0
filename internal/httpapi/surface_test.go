package httpapi_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/app"
	"tankside/internal/httpapi"
)

// surface is what the edge answers beside the operations of the contract, or
// before one of them is reached.
type surface struct {
	t   testing.TB
	log bytes.Buffer
	http.Handler
}

// show serves a shop's centre with other options.
func show(t testing.TB, s *shop, change func(*httpapi.Options)) *surface {
	t.Helper()
	x := &surface{t: t}
	o := httpapi.Options{Services: s.services, DryRun: app.NewServices(s.DB.DB.DryRun()),
		Live:  s.hub,
		Rules: app.Rules(), Ready: s.DB.Ping, Limits: ample,
		Log: slog.New(slog.NewJSONHandler(&x.log, nil))}
	change(&o)
	var err error
	x.Handler, err = httpapi.New(o)
	require.NoError(t, err)
	return x
}

func asIs(*httpapi.Options) {}

func (x *surface) call(method, path string, headers ...string) *httptest.ResponseRecorder {
	x.t.Helper()
	r := httptest.NewRequestWithContext(x.t.Context(), method, path, http.NoBody)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer := httptest.NewRecorder()
	x.ServeHTTP(answer, r)
	return answer
}

// problem insists on a problem with a status and a code.
func (x *surface) problem(a *httptest.ResponseRecorder, status int, code string) answer {
	x.t.Helper()
	require.Equal(x.t, "application/problem+json", a.Header().Get("Content-Type"))
	p := answer{t: x.t, status: a.Code, header: a.Header(), text: a.Body.Bytes()}
	return p.refused(status, code)
}

func TestEveryProblemHasAPageThatAPhoneCanShow(t *testing.T) {
	x := show(t, open(t), asIs)
	for code, status := range map[string]string{"rules_refused": "422", "missing_scope": "403",
		"method_not_allowed": "405", "internal": "500"} {
		a := x.call(http.MethodGet, "/problems/"+code)
		require.Equal(t, http.StatusOK, a.Code, code)
		require.Equal(t, "text/html; charset=utf-8", a.Header().Get("Content-Type"))
		require.Contains(t, a.Body.String(), "Status "+status+", code <code>"+code)
		require.Contains(t, a.Body.String(), `name="viewport"`)
		require.NotContains(t, a.Body.String(), "<script")
	}
	x.problem(x.call(http.MethodGet, "/problems/of_a_dream"), http.StatusNotFound, "no_such_address")
}

func TestTheContractAndItsReferenceAreServedWithoutATokenAndOffline(t *testing.T) {
	x := show(t, open(t), asIs)
	require.Equal(t, string(api.Document), x.call(http.MethodGet, "/openapi.yaml").Body.String())
	require.Equal(t, string(api.JSON()), x.call(http.MethodGet, "/openapi.json").Body.String())
	require.Equal(t, "/docs/", x.call(http.MethodGet, "/").Header().Get("Location"))
	page := x.call(http.MethodGet, "/docs/")
	require.Equal(t, http.StatusOK, page.Code)
	require.Contains(t, page.Body.String(), "/openapi.yaml")
	policy := page.Header().Get("Content-Security-Policy")
	require.NotContains(t, policy, "unsafe")
	for what, pattern := range map[string]string{"script-src": `(?s)<script>(.*?)</script>`,
		"style-src": `(?s)<style>(.*?)</style>`} {
		inline := regexp.MustCompile(pattern).FindAllStringSubmatch(page.Body.String(), -1)
		require.NotEmpty(t, inline)
		source := regexp.MustCompile(what + ` [^;]*`).FindString(policy)
		for _, m := range inline {
			sum := sha256.Sum256([]byte(m[1]))
			require.Contains(t, source, "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'",
				"the page's own %s would not run", what)
		}
	}
	for _, part := range strings.FieldsFunc(page.Body.String(),
		func(r rune) bool { return strings.ContainsRune(`"'`, r) }) {
		if strings.HasSuffix(part, ".js") || strings.HasSuffix(part, ".css") {
			require.True(t, strings.HasPrefix(part, "/docs/"), "%s comes from elsewhere", part)
			require.Equal(t, http.StatusOK, x.call(http.MethodGet, part, "Accept-Encoding", "gzip").Code, part)
		}
	}
}

func TestReadyIsSaidOnlyWhenItIsSo(t *testing.T) {
	s := open(t)
	x := show(t, s, asIs)
	require.Equal(t, http.StatusOK, x.call(http.MethodGet, "/livez").Code)
	require.Equal(t, http.StatusOK, x.call(http.MethodGet, "/readyz").Code)
	x = show(t, s, func(o *httpapi.Options) {
		o.Ready = func(context.Context) error { return errors.New("dial 10.0.0.7: refused") }
	})
	a := x.call(http.MethodGet, "/readyz")
	require.Equal(t, http.StatusServiceUnavailable, a.Code)
	require.NotContains(t, a.Body.String(), "10.0.0.7", "nobody has authenticated")
	require.Contains(t, x.log.String(), "10.0.0.7", "the operator wants to know")
	require.Equal(t, http.StatusOK, x.call(http.MethodGet, "/livez").Code, "alive all the same")
}

func TestAnAddressOrMethodOfNothingIsAProblem(t *testing.T) {
	x := show(t, open(t), asIs)
	a := x.problem(x.call(http.MethodGet, "/v1/nothing"), http.StatusNotFound, "no_such_address")
	require.Equal(t, "urn:uuid:"+a.header.Get("Request-Id"), a.at("instance"))
	a = x.problem(x.call(http.MethodDelete, "/v1/sites"), http.StatusMethodNotAllowed, "method_not_allowed")
	require.Contains(t, a.header.Get("Allow"), "POST")
}

func TestAPanicIsADefectThatTellsNothing(t *testing.T) {
	s := open(t)
	x := show(t, s, func(o *httpapi.Options) {
		*o = o.Inspecting(func(string, any) error { panic("the secret of the deep") })
	})
	a := x.problem(x.call(http.MethodGet, "/v1/me", "Authorization", "Bearer "+s.manager.secret),
		http.StatusInternalServerError, "internal")
	require.NotContains(t, string(a.text), "secret of the deep")
	require.Contains(t, x.log.String(), "secret of the deep")
	require.Contains(t, x.log.String(), a.header.Get("Request-Id"), "an operator finds it by its id")
}

func TestEveryAnswerKeepsABrowserToItsPurpose(t *testing.T) {
	x := show(t, open(t), asIs)
	for _, path := range []string{"/v1/me", "/v1/nothing", "/livez", "/docs/", "/problems/not_found"} {
		h := x.call(http.MethodGet, path).Header()
		require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		require.Equal(t, "no-referrer", h.Get("Referrer-Policy"), path)
		require.Contains(t, h.Get("Content-Security-Policy"), "frame-ancestors 'none'", path)
		require.NoError(t, uuid.Validate(h.Get("Request-Id")), path)
	}
	mine := x.call(http.MethodGet, "/livez", "Request-Id", "mine\nINFO forged").Header().Get("Request-Id")
	require.NoError(t, uuid.Validate(mine), "a caller's id is not taken over")
}

// The rules of CORS are those of the WHATWG Fetch standard, section 3.3.
func TestOnlyConfiguredOriginsCallFromABrowser(t *testing.T) {
	s := open(t)
	ask := []string{"Origin", "https://shop.example.org", "Access-Control-Request-Method", "PATCH",
		"Access-Control-Request-Headers", "authorization,if-match"}
	closed := show(t, s, asIs)
	for name := range closed.call(http.MethodOptions, "/v1/sites", ask...).Header() {
		require.False(t, strings.HasPrefix(name, "Access-Control-"), name)
	}
	x := show(t, s, func(o *httpapi.Options) { o.Origins = []string{"https://shop.example.org"} })
	a := x.call(http.MethodOptions, "/v1/sites/"+newID(), ask...)
	require.Equal(t, http.StatusNoContent, a.Code, "a preflight carries no token")
	require.Equal(t, "https://shop.example.org", a.Header().Get("Access-Control-Allow-Origin"))
	require.Contains(t, a.Header().Get("Access-Control-Allow-Methods"), "PATCH")
	require.Contains(t, strings.ToLower(a.Header().Get("Access-Control-Allow-Headers")), "if-match")
	require.Empty(t, a.Header().Get("Access-Control-Allow-Credentials"), "tokens, never cookies")

	a = x.call(http.MethodGet, "/v1/me", ask[:2]...)
	x.problem(a, http.StatusUnauthorized, "unauthenticated")
	require.Equal(t, "https://shop.example.org", a.Header().Get("Access-Control-Allow-Origin"),
		"a page can read an error too")
	for _, name := range []string{"ETag", "Location", "Link", "Retry-After", "Request-Id"} {
		require.Contains(t, a.Header().Get("Access-Control-Expose-Headers"), name)
	}
	a = x.call(http.MethodGet, "/v1/me", "Origin", "https://elsewhere.example.org")
	require.Empty(t, a.Header().Get("Access-Control-Allow-Origin"))
}

// A log line names the route and not the address, no query, no token, nobody.
func TestTheLogIdentifiesNobody(t *testing.T) {
	s := open(t)
	x := show(t, s, asIs)
	person := s.student.person.String()
	for _, path := range []string{"/v1/people/" + person, "/v1/tokens?person_id=" + person, "/v1/people/" +
		person + "?name=Sofia", "/v1/nothing/" + person} {
		x.call(http.MethodGet, path, "Authorization", "Bearer "+s.manager.secret)
	}
	text := x.log.String()
	require.Contains(t, text, `"route":"/v1/people/:id"`)
	require.Contains(t, text, `"status":200`)
	for _, private := range []string{person, s.manager.secret, s.manager.secret[len(s.manager.secret)-20:],
		"Sofia", "person_id="} {
		require.NotContains(t, text, private)
	}
}
