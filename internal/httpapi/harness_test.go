package httpapi_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/httpapi/gate"
	"tankside/internal/live"
	"tankside/internal/once"
	"tankside/internal/scenetest"
)

// shop is one centre with somebody of each role, in a database of its own,
// reached through the API alone. Its day is Monday 1 June 2026, ten o'clock in
// Lisbon.
type shop struct {
	*scenetest.Fixture
	t        testing.TB
	handler  http.Handler
	services app.Services
	hub      *live.Hub

	boss       *client // a manager who is an instructor too
	manager    *client // a manager and nothing else
	instructor *client
	assistant  *client
	student    *client
	program    *client
}

var today = time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)

// ample are limits that no test meets which is not about them.
var ample = gate.Limits{Token: 1e9, Address: 1e9}

func open(t testing.TB) *shop {
	t.Helper()
	return openIn(t, scenetest.New(t))
}

// openIn opens a shop for a centre that is there.
func openIn(t testing.TB, scene *scenetest.Fixture) *shop {
	t.Helper()
	s := &shop{Fixture: scene, t: t, services: app.NewServices(scene.DB.DB)}
	s.Clock(today)
	log := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	s.hub = app.NewHub(scene.DB.DB, s.services, config.StreamLimit, 0, log)
	t.Cleanup(s.hub.Stop)
	var err error
	s.handler, err = httpapi.New(httpapi.Options{Services: s.services, DryRun: app.NewServices(s.DB.DB.DryRun()),
		Live: s.hub, Rules: app.Rules(), Ready: s.DB.Ping, Limits: ample,
		Log: log}.Inspecting(filled))
	require.NoError(t, err)
	s.boss = s.as(s.Manager)
	s.manager = s.as(s.Person("Marta Manager", "1980-01-01", "manager"))
	s.instructor = s.as(s.Crew("Ines Instructor", "instructor"))
	s.assistant = s.as(s.Crew("Abel Assistant", "assistant"))
	s.student = s.as(s.Student("Sofia Student", "1995-05-05"))
	s.program = s.withToken(access.NewToken{Program: new("booking page"),
		Scopes: access.MostScopes([]actor.Role{actor.Program})})
	return s
}

// as gives a client with every scope that the person's roles may have.
func (s *shop) as(person uuid.UUID) *client {
	s.t.Helper()
	scopes, err := s.services.Access.ScopesOf(s.t.Context(), s.As(s.Manager), person)
	require.NoError(s.t, err)
	c := s.withToken(access.NewToken{PersonID: &person, Scopes: scopes})
	c.person = person
	return c
}

func (s *shop) withToken(n access.NewToken) *client {
	s.t.Helper()
	n.Key = once.New()
	issued, _, err := s.services.Access.IssueToken(s.t.Context(), s.As(s.Manager), n)
	require.NoError(s.t, err)
	return s.holding(issued.Secret)
}

// holding gives a client that sends this secret.
func (s *shop) holding(secret string) *client {
	return &client{t: s.t, http: &http.Client{Transport: checked{s.handler}}, secret: secret}
}

// unlike returns a well-formed secret that is nobody's: the given one with its
// last character changed.
func unlike(secret string) string {
	last := len(secret) - 1
	if secret[last] == 'a' {
		return secret[:last] + "b"
	}
	return secret[:last] + "a"
}

// checked hands each request to the handler and each answer to the contract:
// an answer that breaks it fails the request.
type checked struct{ handler http.Handler }

// streamTime is how long a stream is read that would not end by itself.
const streamTime = 300 * time.Millisecond

// RoundTrip implements http.RoundTripper without a network.
func (c checked) RoundTrip(r *http.Request) (*http.Response, error) {
	ctx := r.Context()
	if r.URL.Path == "/v1/live" {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, streamTime)
		defer cancel()
	}
	arrived := r.Clone(ctx)
	if arrived.Body == nil { // as a server reads a request without one
		arrived.Body = http.NoBody
	}
	recorder := httptest.NewRecorder()
	c.handler.ServeHTTP(recorder, arrived)
	answer := recorder.Result()
	if err := check(r, answer); err != nil {
		return nil, err
	}
	if err := worded(answer.Header.Get("Content-Type"), recorder.Body.Bytes()); err != nil {
		return nil, err
	}
	return answer, nil
}

// client calls the API as somebody.
type client struct {
	t      testing.TB
	http   *http.Client
	secret string
	person uuid.UUID
}

// on gives the same caller for a subtest.
func (c *client) on(t testing.TB) *client {
	same := *c
	same.t = t
	return &same
}

// body is a JSON object.
type body = map[string]any

func (c *client) get(path string, headers ...string) answer {
	c.t.Helper()
	return c.call(http.MethodGet, path, nil, headers...)
}

func (c *client) post(path string, content any, headers ...string) answer {
	c.t.Helper()
	return c.call(http.MethodPost, path, content, headers...)
}

func (c *client) put(path string) answer {
	c.t.Helper()
	return c.call(http.MethodPut, path, nil)
}

// patch edits the version that is there.
func (c *client) patch(path string, content any) answer {
	c.t.Helper()
	return c.call(http.MethodPatch, path, content, "If-Match",
		c.get(path).want(http.StatusOK).header.Get("ETag"))
}

func (c *client) delete(path string, headers ...string) answer {
	c.t.Helper()
	return c.call(http.MethodDelete, path, nil, headers...)
}

// call sends content as JSON, a string as it is, and headers in pairs.
func (c *client) call(method, path string, content any, headers ...string) answer {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), method, "http://tankside.test"+path,
		bodyOf(c.t, content))
	require.NoError(c.t, err)
	r.Header.Set("Authorization", "Bearer "+c.secret)
	switch {
	case content == nil:
	case method == http.MethodPatch:
		r.Header.Set("Content-Type", "application/merge-patch+json")
	default:
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	response, err := c.http.Do(r)
	require.NoError(c.t, err, "%s %s", method, path)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(c.t, err)
	namesItsSession(c.t, path, text)
	speaksFromATemplate(c.t, path, text)
	a := answer{t: c.t, asked: method + " " + path, status: response.StatusCode, header: response.Header,
		text: text}
	return a.opened()
}

// opened returns an answer that has a decision with the result as its body, or with
// the decision where there is no result. That it has both is a matter of the
// contract, which every answer was held against before, and of decided_test.go.
func (a answer) opened() answer {
	var both struct{ Decision, Result json.RawMessage }
	if json.Unmarshal(a.text, &both) != nil || both.Decision == nil {
		return a
	}
	a.whole = a.text
	if a.text = both.Result; string(a.text) == "null" {
		a.text = both.Decision
	}
	return a
}

func bodyOf(t testing.TB, content any) io.Reader {
	t.Helper()
	switch v := content.(type) {
	case nil:
		return nil
	case string:
		return strings.NewReader(v)
	}
	text, err := json.Marshal(content)
	require.NoError(t, err)
	return bytes.NewReader(text)
}

// answer is what came back.
type answer struct {
	t      testing.TB
	asked  string
	status int
	header http.Header
	text   []byte
	whole  []byte // where text is a part of it: the decision beside the result
}

// want insists on a status.
func (a answer) want(status int) answer {
	a.t.Helper()
	require.Equal(a.t, status, a.status, "%s: %s", a.asked, a.text)
	return a
}

// refused insists on a problem with a status and a code.
func (a answer) refused(status int, code string) answer {
	a.t.Helper()
	a.want(status)
	require.Equal(a.t, code, a.at("code"), "%s: %s", a.asked, a.text)
	return a
}

// by insists that a finding comes from a rule, and gives the finding.
func (a answer) by(rule string) body {
	a.t.Helper()
	for _, f := range a.list("findings") {
		if f["rule"] == rule {
			return f
		}
	}
	require.Failf(a.t, "no finding of "+rule, "%s: %s", a.asked, a.text)
	return nil
}

// at gives the value at a dotted path of the body, like "items.0.id".
func (a answer) at(path string) any {
	a.t.Helper()
	var v any
	require.NoError(a.t, json.Unmarshal(a.text, &v), "%s: %s", a.asked, a.text)
	for _, step := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			require.Contains(a.t, x, step, "%s: %s", a.asked, a.text)
			v = x[step]
		case []any:
			i, err := strconv.Atoi(step)
			require.NoError(a.t, err)
			require.Less(a.t, i, len(x), "%s: %s", a.asked, a.text)
			v = x[i]
		default:
			require.Failf(a.t, "no "+path, "%s: %s", a.asked, a.text)
		}
	}
	return v
}

// list gives the objects at a path.
func (a answer) list(path string) []body {
	a.t.Helper()
	var out []body
	for _, x := range a.at(path).([]any) {
		out = append(out, x.(body))
	}
	return out
}

// rules gives the rules of the findings at a path.
func (a answer) rules(path string) (out []any) {
	a.t.Helper()
	for _, f := range a.list(path) {
		out = append(out, f["rule"])
	}
	return out
}

// id gives the id of the thing that was answered.
func (a answer) id() string { a.t.Helper(); return a.at("id").(string) }

// made insists that a thing was created, that it is where Location says, and
// gives its id.
func (a answer) made() string {
	a.t.Helper()
	a.want(http.StatusCreated)
	require.NotEmpty(a.t, a.header.Get("Location"))
	return a.id()
}

// ids gives the ids of a list's items.
func (a answer) ids() []string {
	a.t.Helper()
	out := []string{}
	for _, item := range a.list("items") {
		out = append(out, fmt.Sprint(item["id"]))
	}
	return out
}

// newID gives an id as a device chooses one.
func newID() string { return uuid.NewString() }
