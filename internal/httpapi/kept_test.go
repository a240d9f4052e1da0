package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// A browser in the shop keeps nothing about people on its disk: the next who uses
// it would find papers, marks, incidents and names.
func TestABrowserKeepsNothingAboutPeople(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	person, boat := "/v1/people/"+
		s.student.person.String(), s.manager.post("/v1/outings",
		body{"title": "Boat", "held_on": "2026-06-07"}).made()
	for _, path := range []string{"/v1/people", person, person + "/papers", person + "/unfit-marks", person +
		"/corrections", "/v1/outings/" + boat + "/incidents",
		"/v1/sessions/" + w.open + "/incidents", "/v1/sessions/" + w.open +
			"/participants", "/v1/enrolments", "/v1/enrolments/" + w.sofia + "/record", "/v1/tokens"} {
		a := s.manager.get(path).want(http.StatusOK)
		require.Equal(t, "no-store", a.header.Get("Cache-Control"), path)
		if tag := a.header.Get("ETag"); path == "/v1/people" {
			s.manager.call(http.MethodGet, path, nil, "If-None-Match", tag).want(http.StatusNotModified)
		}
	}
	require.Equal(t, "private, no-cache",
		s.manager.get("/v1/sites").want(http.StatusOK).header.Get("Cache-Control"))
}
