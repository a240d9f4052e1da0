package httpapi_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// asked asks the handler as it stands, without what an HTTP client does by itself.
func (s *shop) asked(method, path, content, secret string, headers ...string) *http.Response {
	r := httptest.NewRequest(method, "http://tankside.test"+path, strings.NewReader(content))
	if content != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if secret != "" {
		r.Header.Set("Authorization", "Bearer "+secret)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.handler.ServeHTTP(w, r.WithContext(s.t.Context()))
	return w.Result()
}

func TestLargeAnswersAreCompressedAndSecretsNever(t *testing.T) {
	s := open(t)
	plain, err := io.ReadAll(s.asked(http.MethodGet, "/v1/rules", "", s.manager.secret).Body)
	require.NoError(t, err)
	for _, path := range []string{"/v1/rules", "/openapi.yaml", "/openapi.json", "/v1/built-in-syllabuses"} {
		a := s.asked(http.MethodGet, path, "", s.manager.secret, "Accept-Encoding", "gzip")
		require.Equal(t, "gzip", a.Header.Get("Content-Encoding"), path)
		require.Contains(t, a.Header.Values("Vary"), "Accept-Encoding", path)
	}
	a := s.asked(http.MethodGet, "/v1/rules", "", s.manager.secret, "Accept-Encoding", "gzip")
	packed, err := io.ReadAll(a.Body)
	require.NoError(t, err)
	require.Less(t, len(packed), len(plain)/3)
	unpacked, err := gzip.NewReader(strings.NewReader(string(packed)))
	require.NoError(t, err)
	text, err := io.ReadAll(unpacked)
	require.NoError(t, err)
	require.Equal(t, string(plain), string(text))
	require.Empty(t, s.asked(http.MethodGet, "/v1/me", "", s.manager.secret, "Accept-Encoding",
		"br").Header.Get("Content-Encoding"))

	long := strings.Repeat("a front desk ", 15)
	issued := s.asked(http.MethodPost, "/v1/tokens", `{"program": "`+long+`", "scopes": ["courses:read"]}`,
		s.manager.secret, "Accept-Encoding", "gzip")
	require.Equal(t, http.StatusCreated, issued.StatusCode)
	ticket := s.asked(http.MethodPost, "/v1/tickets", `{"address": "/v1/live?session_id=`+newID()+
		`&session_id=`+newID()+`"}`, s.instructor.secret, "Accept-Encoding", "gzip")
	require.Equal(t, http.StatusCreated, ticket.StatusCode)
	for _, a := range []*http.Response{issued, ticket} {
		require.Empty(t, a.Header.Get("Content-Encoding"))
		text, err := io.ReadAll(a.Body)
		require.NoError(t, err)
		require.Regexp(t, "tsk_|tkt_", string(text))
	}
}

func TestWhatWasReadIsNotSentAgain(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for _, path := range []string{"/v1/centre", "/v1/me", "/v1/courses/" + w.course, "/v1/sessions/" +
		w.confined, "/v1/enrolments/" + w.sofia,
		"/v1/groups/" + w.blue, "/v1/people/" + w.student.person.String(), "/openapi.yaml", "/openapi.json"} {
		tag := w.manager.get(path).want(http.StatusOK).header.Get("ETag")
		require.NotEmpty(t, tag, path)
		again := w.manager.get(path, "If-None-Match", `"other", `+tag).want(http.StatusNotModified)
		require.Empty(t, again.text, path)
		require.Equal(t, tag, again.header.Get("ETag"), path)
		w.manager.get(path, "If-None-Match", `"0"`).want(http.StatusOK)
	}
	// What an edit does not count is seen all the same: how many are enrolled.
	course := w.manager.get("/v1/courses/" + w.course).want(http.StatusOK)
	w.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": s.Student("Gil Guest", "1990-01-01")}).made()
	now := w.manager.get("/v1/courses/"+w.course, "If-None-Match",
		course.header.Get("ETag")).want(http.StatusOK)
	require.Equal(t, course.at("version"), now.at("version"))
	require.NotEqual(t, course.at("active_enrolments"), now.at("active_enrolments"))
	// The ETag and the bare version are taken for an edit alike.
	for _, match := range []string{now.header.Get("ETag"), `"2"`} {
		w.manager.call(http.MethodPatch, "/v1/courses/"+w.course, body{"title": "Weekend " + match}, "If-Match",
			match).want(http.StatusOK)
	}
}

// A strong ETag names bytes: what is compressed has another than what is not.
func TestTheContractHasAStrongETagForEachOfItsForms(t *testing.T) {
	s := open(t)
	tags := map[string]string{}
	for _, path := range []string{"/openapi.yaml", "/openapi.json"} {
		for _, coding := range []string{"identity", "gzip"} {
			a := s.asked(http.MethodGet, path, "", "", "Accept-Encoding", coding)
			tag := a.Header.Get("ETag")
			require.Regexp(t, `^"[0-9a-f]+"$`, tag)
			require.Empty(t, tags[tag], "%s %s has the ETag of another", path, coding)
			tags[tag] = path
			require.Contains(t, a.Header.Values("Vary"), "Accept-Encoding")
			again := s.asked(http.MethodGet, path, "", "", "Accept-Encoding", coding, "If-None-Match", tag)
			require.Equal(t, http.StatusNotModified, again.StatusCode)
			require.Empty(t, again.Header.Get("Content-Encoding"))
		}
		a := s.asked(http.MethodGet, path, "", "", "Accept-Encoding", "gzip")
		unpacked, err := gzip.NewReader(a.Body)
		require.NoError(t, err)
		text, err := io.ReadAll(unpacked)
		require.NoError(t, err)
		plain, err := io.ReadAll(s.asked(http.MethodGet, path, "", "").Body)
		require.NoError(t, err)
		require.Equal(t, string(plain), string(text))
	}
}

func TestAVersionOfASyllabusIsKeptForGood(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	c := w.manager.get("/v1/courses/" + w.course).want(http.StatusOK)
	path := "/v1/syllabuses/" + c.at("syllabus_id").(string) + "/versions/1"
	a := w.manager.get(path).want(http.StatusOK)
	require.Equal(t, "private, max-age=31536000, immutable", a.header.Get("Cache-Control"))
	w.manager.get(path, "If-None-Match", a.header.Get("ETag")).want(http.StatusNotModified)
	require.Equal(t, "private, no-cache", w.manager.get("/v1/courses/"+w.course).header.Get("Cache-Control"))
	require.Equal(t, "public, max-age=3600",
		s.asked(http.MethodGet, "/docs/", "", "").Header.Get("Cache-Control"))
}

// HEAD is answered as GET is, of whatever is read.
func TestHeadIsGetWithoutTheBody(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	for _, path := range []string{"/v1/rules", "/v1/centre", "/v1/courses/" + w.course, "/v1/people",
		"/v1/gestures", "/openapi.yaml", "/openapi.json", "/livez",
		"/problems/not_found", "/v1/courses/" + newID(), "/v1/live?session_id=" + w.confined} {
		head := s.asked(http.MethodHead, path, "", w.instructor.secret)
		if !strings.HasPrefix(path, "/v1/live") {
			get := s.asked(http.MethodGet, path, "", w.instructor.secret)
			require.Equal(t, get.StatusCode, head.StatusCode, path)
			require.Equal(t, get.Header.Get("Content-Type"), head.Header.Get("Content-Type"), path)
			require.Equal(t, get.Header.Get("ETag"), head.Header.Get("ETag"), path)
		}
		text, err := io.ReadAll(head.Body)
		require.NoError(t, err)
		require.Empty(t, text, path)
		require.NotEqual(t, http.StatusMethodNotAllowed, head.StatusCode, path)
	}
	require.Equal(t, http.StatusUnauthorized, s.asked(http.MethodHead, "/v1/people", "", "").StatusCode)
}
