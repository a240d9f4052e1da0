package httpapi_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi-validator/schema_validation"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/syllabus"
)

// frame is one event of a stream as the standard reads it (WHATWG HTML, section
// 9.2.6), or a comment.
type frame struct {
	id, data, comment, retry string
}

// event is the data of a frame.
func (f frame) event(t testing.TB) body {
	t.Helper()
	var e body
	require.NoError(t, json.Unmarshal([]byte(f.data), &e), "%q", f.data)
	return e
}

// reader reads a stream frame by frame.
type reader struct {
	t     testing.TB
	lines *bufio.Scanner
	leave context.CancelFunc
}

// station serves a shop over a real connection, with time-outs that a stream
// has to outlive.
func (s *shop) station(t *testing.T) *httptest.Server {
	t.Helper()
	handler, err := httpapi.New(httpapi.Options{Services: s.services, DryRun: app.NewServices(s.DB.DB.DryRun()),
		Live: s.hub, Rules: app.Rules(), Ready: s.DB.Ping, Limits: ample, Log: slog.New(slog.DiscardHandler)}.Quiet(200 * time.Millisecond))
	require.NoError(t, err)
	server := httptest.NewUnstartedServer(handler)
	server.Config.ReadTimeout, server.Config.WriteTimeout = 300*time.Millisecond, 300*time.Millisecond
	server.Start()
	t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
	})
	return server
}

// watch opens a stream; headers come in pairs.
func (c *client) watch(server *httptest.Server, path string, headers ...string) *reader {
	c.t.Helper()
	ctx, leave := context.WithTimeout(c.t.Context(), 20*time.Second)
	c.t.Cleanup(leave)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+path, http.NoBody)
	require.NoError(c.t, err)
	if c.secret != "" {
		r.Header.Set("Authorization", "Bearer "+c.secret)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	response, err := server.Client().Do(r)
	require.NoError(c.t, err)
	c.t.Cleanup(func() { response.Body.Close() })
	require.Equal(c.t, http.StatusOK, response.StatusCode)
	require.Equal(c.t, "text/event-stream", response.Header.Get("Content-Type"))
	require.Equal(c.t, "no-store", response.Header.Get("Cache-Control"))
	lines := bufio.NewScanner(response.Body)
	lines.Buffer(nil, 10<<20)
	return &reader{t: c.t, lines: lines, leave: leave}
}

// next gives the next frame; ok is false at the end of the stream.
func (r *reader) next() (f frame, ok bool) {
	for r.lines.Scan() {
		line := r.lines.Text()
		name, value, _ := strings.Cut(line, ":")
		value = strings.TrimPrefix(value, " ")
		switch {
		case line == "" && f != frame{}:
			return f, true
		case name == "":
			f.comment = value
		case name == "id":
			f.id = value
		case name == "data":
			f.data += value
		case name == "retry":
			f.retry = value
		}
	}
	return f, false
}

// until reads up to an event of a type, and gives it with those before it that
// happened in a session.
func (r *reader) until(kind string) (before []body, last frame) {
	r.t.Helper()
	for {
		f, ok := r.next()
		require.True(r.t, ok, "the stream ended before %s", kind)
		if f.data == "" {
			continue
		}
		e := f.event(r.t)
		keepsContract(r.t, e)
		if e["type"] == kind {
			return before, f
		}
		if e["id"] != nil {
			before = append(before, e)
		}
	}
}

// keepsContract holds an event against the contract: the event itself and, by
// the type that it names, its data.
func keepsContract(t testing.TB, e body) {
	t.Helper()
	holds(t, "LiveEvent", e)
	extension, _ := theContract().components.Schemas.GetOrZero("LiveEvent").Schema().Extensions.Get("x-data")
	var data map[string]string
	require.NoError(t, extension.Decode(&data))
	kind := e["type"].(string)
	require.Contains(t, data, kind)
	if e["data"] != nil {
		holds(t, data[kind], e["data"])
	}
}

func holds(t testing.TB, schema string, value any) {
	t.Helper()
	proxy, ok := theContract().components.Schemas.Get(schema)
	require.True(t, ok, schema)
	valid, errs := schema_validation.NewSchemaValidator().ValidateSchemaObjectWithVersion(proxy.Schema(), value,
		3.1)
	var all []string
	for _, e := range errs {
		for _, v := range e.SchemaValidationErrors {
			all = append(all, strings.Join(v.InstancePath, "/")+": "+v.Reason)
		}
	}
	require.True(t, valid, "%s: %v in %v", schema, all, value)
}

// aDayAtThePool lets happen whatever is told of a session, and gives the kinds.
func (w *season) aDayAtThePool() (kinds []string) {
	w.t.Helper()
	did := func(a answer, expect ...string) answer {
		w.t.Helper()
		require.Less(w.t, a.status, 300, "%s: %s", a.asked, a.text)
		kinds = append(kinds, expect...)
		return a
	}
	on := "/v1/sessions/" + w.confined
	part := w.part(w.confined, w.sofia)
	w.present(w.confined, saturday)
	kinds = append(kinds, "roll_call", "roll_call", "roll_call", "roll_call")
	did(w.instructor.post(on+"/open", nil), "session")
	did(w.instructor.post(on+"/conditions",
		body{"visibility": body{"value": 5, "unit": "m"}, "witnessed_at": at(saturday)}), "conditions")
	dive := w.instructor.get(on + "/dives").list("items")[0]["id"].(string)
	start, check := newID(), newID()
	did(w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": start, "participant_id": part, "in_at": at(saturday)}}})), "time_in")
	did(w.recorded(w.instructor.post(on+"/gas-checks",
		body{"items": []body{{"id": check, "participant_id": part, "reading": body{"value": 187, "unit": "bar"},
			"signalled": body{"value": 180,
				"unit": "bar"}, "witnessed_at": at(saturday.Add(5 * time.Minute))}}})), "gas_check")
	did(w.recorded(w.instructor.post(on+"/responses",
		body{"items": []body{{"id": newID(), "participant_id": part, "what": "turned",
			"witnessed_at": at(saturday.Add(6 * time.Minute))}}})), "gas_response")
	did(w.recorded(w.instructor.post(on+"/log-completions",
		body{"items": []body{{"id": newID(),
			"witnessed_at": at(saturday.Add(50 * time.Minute))}}})), "log_completion")
	w.swum(saturday.Add(10 * time.Minute))
	kinds = append(kinds, "drill_attempt")
	did(w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": start,
			"out_at": at(saturday.Add(30 * time.Minute))}}})), "time_out")
	did(w.boss.post("/v1/entries/"+check+"/void", body{"reason": "somebody else's gauge"}), "void")
	signed := newID()
	did(w.recorded(w.instructor.post(on+"/sign-offs",
		body{"items": []body{{"id": signed, "enrolment_id": w.sofia, "skill": "swim"}}})), "sign_off")
	did(w.instructor.post("/v1/sign-offs/"+signed+"/void", body{"reason": "a slip"}), "sign_off_void")
	did(w.instructor.post("/v1/enrolments/"+w.sofia+"/theory-results",
		body{"part": syllabus.BuiltIn().Theory[0].Code, "percent": 90, "session_id": w.confined,
			"witnessed_at": at(saturday)}), "theory_result")
	did(w.recorded(w.instructor.post(on+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.instructor.person.String()),
			"attendance": "left_early", "witnessed_at": at(saturday.Add(40 * time.Minute))}}})), "clearance_lost", "roll_call")
	did(w.recorded(w.boss.post(on+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.instructor.person.String()),
			"attendance": "present", "witnessed_at": at(saturday.Add(45 * time.Minute))}}})), "clearance_given", "roll_call")
	outing := w.boss.get(on).at("outing_id").(string)
	did(w.instructor.post("/v1/outings/"+outing+"/head-counts",
		body{"phase": "return", "figure": 4, "counted_at": at(saturday.Add(50 * time.Minute))}), "head_count")
	did(w.instructor.post(on+"/incidents",
		body{"what": "A cut finger.", "witnessed_at": at(saturday.Add(50 * time.Minute))}), "incident")
	did(w.recorded(w.instructor.post(on+"/roll-calls",
		body{"items": []body{{"id": newID(),
			"unexpected": body{"person_id": w.boss.person, "role": "instructor", "group_id": w.blue},
			"attendance": "present", "witnessed_at": at(saturday.Add(55 * time.Minute))}}})), "participant", "roll_call")
	did(w.instructor.post(on+"/close", body{}), "session")
	return kinds
}

// Whoever watches sees everything, in the order of the session, in the
// contract's own words; and who comes back is told what was missed.
func TestWhoWatchesIsToldEverythingThatHappens(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	server := s.station(t)
	w.Clock(saturday.Add(time.Hour))
	w.brief(w.confined, saturday)
	const before = 5 // events: the briefing, and the four who acknowledged it
	r := s.assistant.watch(server, w.live(w.confined))
	first, ok := r.next()
	require.True(t, ok)
	require.Regexp(t, `^[12]\d{3}$`, first.retry)
	_, snapshot := r.until("snapshot")
	require.NotEmpty(t, snapshot.id)
	standing := snapshot.event(t)["data"].(body)["sessions"].([]any)[0].(body)
	require.Equal(t, w.confined, standing["session"].(body)["id"])
	require.Len(t, standing["participants"], 4)
	require.Len(t, standing["divers"], 4)

	want := w.aDayAtThePool()
	var got []body
	for len(got) < len(want) {
		f, ok := r.next()
		require.True(t, ok)
		if f.data == "" {
			continue
		}
		if e := f.event(t); e["id"] != nil {
			require.NotEmpty(t, f.id)
			require.Equal(t, fmt.Sprintf("%s/%d", w.confined, before+len(got)+1), e["id"])
			got = append(got, e)
		}
	}
	var kinds []string
	for _, e := range got {
		kinds = append(kinds, e["type"].(string))
		keepsContract(t, e)
		require.NotNil(t, e["data"], "%v", e)
	}
	require.ElementsMatch(t, want, kinds)
	r.leave()

	again := s.assistant.watch(server, w.live(w.confined), "Last-Event-ID", snapshot.id)
	missed, _ := again.until("standing")
	require.Equal(t, ids(got), ids(missed), "the same again, and then how it stands")
	bare := s.holding("").watch(server, s.program.ticket(w.live(w.confined))+"&after="+snapshot.id)
	missed, _ = bare.until("standing")
	require.Equal(t, ids(got), ids(missed), "by a ticket, with the position in the query")
}

func ids(events []body) (out []string) {
	for _, e := range events {
		out = append(out, e["id"].(string))
	}
	return out
}

// What follows from what happened is told after it: the last look at somebody's
// gas, among others.
func TestHowASessionStandsIsToldAfterWhatHappened(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	server := s.station(t)
	r := s.boss.watch(server, w.live(w.confined, w.open))
	r.until("snapshot")
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/gas-checks",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"reading": body{"value": 150, "unit": "bar"}, "witnessed_at": at(saturday)}}}))
	before, standing := r.until("standing")
	require.Len(t, before, 1)
	require.Empty(t, standing.id, "it is no step of the stream")
	sessions := standing.event(t)["data"].(body)["sessions"].([]any)
	require.Len(t, sessions, 1, "of the session in which something happened")
	divers := sessions[0].(body)["divers"].([]any)
	i := slices.IndexFunc(divers,
		func(d any) bool { return d.(body)["participant_id"] == w.part(w.confined, w.sofia) })
	require.Equal(t, body{"value": 150.0, "unit": "bar"}, divers[i].(body)["last"].(body)["reading"])
}

// A stream outlives the time-outs of the server, and says that it lives.
func TestAStreamLivesOnAndSaysSo(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	r := s.boss.watch(s.station(t), w.live(w.confined))
	r.until("snapshot")
	began := time.Now()
	for range 6 {
		f, ok := r.next()
		require.True(t, ok, "after %s", time.Since(began))
		require.Equal(t, "nothing new", f.comment)
	}
	require.Greater(t, time.Since(began), time.Second)
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/roll-calls",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"attendance": "present", "witnessed_at": at(today)}}}))
	r.until("roll_call")
}

func TestAStreamSaysWhyItEnds(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	server := s.station(t)
	r := s.assistant.watch(server, w.live(w.confined))
	r.until("snapshot")
	token := s.assistant.get("/v1/me").at("token_id").(string)
	s.manager.post("/v1/tokens/"+token+"/revoke", nil).want(http.StatusOK)
	began := time.Now()
	_, last := r.until("closing")
	require.Less(t, time.Since(began), 5*time.Second)
	require.Equal(t, "token_ended", last.event(t)["data"].(body)["reason"])
	_, more := r.next()
	require.False(t, more)

	r = s.boss.watch(server, w.live(w.confined))
	r.until("snapshot")
	s.hub.Stop()
	_, last = r.until("closing")
	require.Equal(t, "stopping", last.event(t)["data"].(body)["reason"])
	s.boss.get(w.live(w.confined)).refused(http.StatusServiceUnavailable, "unavailable")
}

func TestOnlyWhoMayReadASessionWatchesIt(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	s.student.get(w.live(w.confined)).refused(http.StatusForbidden, "missing_role")
	s.boss.get(w.live(w.confined, newID())).refused(http.StatusNotFound, "not_found")
	s.boss.get("/v1/live").refused(http.StatusBadRequest, "invalid_request")
	many := make([]string, 21)
	for i := range many {
		many[i] = newID()
	}
	s.boss.get(w.live(many...)).refused(http.StatusBadRequest, "invalid_request")
}

// A token has as many streams open as the settings say, and is told what to do
// about one more.
func TestOneStreamTooManyIsAnsweredWithTheLimitAndTheCure(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	server := s.station(t)
	var first *reader
	for range config.StreamLimit {
		r := w.instructor.watch(server, w.live(w.confined))
		r.until("snapshot")
		if first == nil {
			first = r
		}
	}
	a := w.instructor.get(w.live(w.confined)).refused(http.StatusTooManyRequests, "too_many_streams")
	require.Equal(t, "15", a.header.Get("Retry-After"))
	require.Contains(t, a.at("detail"),
		fmt.Sprintf("has %d streams open here, and may have %[1]d. Close one, or watch several sessions, up to 20, in one stream", config.StreamLimit))
	w.assistant.get(w.live(w.confined)).want(http.StatusOK)
	w.instructor.get("/v1/me").want(http.StatusOK) // a stream costs no other request
	first.leave()
	require.Eventually(t, func() bool { return w.instructor.get(w.live(w.confined)).status == http.StatusOK },
		10*time.Second, 50*time.Millisecond)
}
