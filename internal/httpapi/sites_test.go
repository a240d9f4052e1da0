package httpapi_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
)

func pool() body {
	return body{"name": "The pool", "kind": "confined", "water": "fresh",
		"max_depth": body{"value": 5, "unit": "m"}, "emergency": "112, oxygen at the desk"}
}

func bay() body {
	return body{"name": "The bay", "kind": "open", "water": "salt",
		"max_depth": body{"value": 60, "unit": "ft"}, "emergency": "112, oxygen in the van"}
}

func TestASiteIsKeptAsItWasRead(t *testing.T) {
	s := open(t)
	ask := bay()
	ask["id"] = newID()
	a := s.program.post("/v1/sites", ask).want(http.StatusCreated)
	require.Equal(t, "/v1/sites/"+ask["id"].(string), a.header.Get("Location"))
	require.Equal(t, `"1"`, a.header.Get("ETag"))
	require.Equal(t, body{"value": 60.0, "unit": "ft"}, a.at("max_depth"))
	require.Equal(t, body{"value": 0.0, "unit": "m"}, a.at("altitude"))
	require.Nil(t, a.at("time_zone"))
	to := a.header.Get("Location")
	a = s.instructor.patch(to,
		body{"max_depth": body{"value": 17.5, "unit": "m"}, "time_zone": "Atlantic/Azores"}).want(http.StatusOK)
	require.Equal(t, body{"value": 17.5, "unit": "m"}, a.at("max_depth"))
	require.Equal(t, "Atlantic/Azores", a.at("time_zone"))
	a = s.manager.patch(to, body{"time_zone": nil}).want(http.StatusOK)
	require.Nil(t, a.at("time_zone"))
	// The original request again answers the site as it is now.
	a = s.program.post("/v1/sites", ask).want(http.StatusOK)
	require.InDelta(t, 3, a.at("version"), 0)
	ask["name"] = "Another bay"
	s.program.post("/v1/sites", ask).refused(http.StatusConflict, "id_reused")
	s.assistant.post("/v1/sites", bay()).refused(http.StatusForbidden, "missing_scope")
}

func TestASiteIsEditedInTheVersionThatWasRead(t *testing.T) {
	s := open(t)
	to := "/v1/sites/" + s.manager.post("/v1/sites", bay()).made()
	s.manager.call(http.MethodPatch, to, body{"name": "A"}, "If-Match", `"1"`).want(http.StatusOK)
	a := s.instructor.call(http.MethodPatch, to, body{"name": "B"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	require.Equal(t, `"2"`, a.header.Get("ETag"))
	s.manager.delete(to, "If-Match", `"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	s.instructor.delete(to, "If-Match", `"2"`).refused(http.StatusForbidden, "missing_role")
	s.manager.delete(to, "If-Match", `"2"`).want(http.StatusNoContent)
	s.manager.get(to).refused(http.StatusNotFound, "not_found")
}

func TestASiteWithSessionsStays(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	s.manager.delete("/v1/sites/"+w.bay, "If-Match", `"1"`).refused(http.StatusConflict, "site_in_use")
}

func TestASiteThatBreaksTheContractIsRefusedWithTheWholeList(t *testing.T) {
	s := open(t)
	for what, wrong := range map[string]struct {
		member string
		value  any
	}{
		"no such kind":                 {"kind", "swimming"},
		"a unit of pressure":           {"max_depth", body{"value": 18, "unit": "bar"}},
		"a negative depth":             {"max_depth", body{"value": -1, "unit": "m"}},
		"three decimals":               {"max_depth", body{"value": 1.234, "unit": "m"}},
		"a number for a quantity":      {"max_depth", 18},
		"a quantity with more members": {"max_depth", body{"value": 18, "unit": "m", "about": true}},
		"a name of spaces":             {"name", "   "},
		"a name that is too long":      {"name", string(make([]rune, 201))},
		"no emergency plan":            {"emergency", ""},
		"null where nothing may be":    {"water", nil},
		"a name with other letters":    {"Name", "x"},
		"an id that is none":           {"id", "north-quay"},
	} {
		ask := bay()
		ask[wrong.member] = wrong.value
		a := s.manager.post("/v1/sites", ask).refused(http.StatusBadRequest, "invalid_request")
		require.NotEmpty(t, a.list("findings"), what)
	}
	a := s.manager.post("/v1/sites",
		body{"name": "", "kind": "x", "colour": "red"}).refused(http.StatusBadRequest, "invalid_request")
	require.GreaterOrEqual(t, len(a.list("findings")), 4, "all at once: %s", a.text)
	s.manager.post("/v1/sites",
		body{"name": "X", "kind": "open", "water": "salt", "max_depth": body{"value": 5, "unit": "m"},
			"emergency": "112",
			"time_zone": "Nowhere/Land"}).refused(http.StatusBadRequest, "invalid_request")
}

func TestSQLInANameIsAName(t *testing.T) {
	s := open(t)
	name := `Robert'); DROP TABLE site; --`
	ask := bay()
	ask["name"] = name
	to := "/v1/sites/" + s.manager.post("/v1/sites", ask).made()
	require.Equal(t, name, s.manager.get(to).want(http.StatusOK).at("name"))
}

func TestAListIsReadPageByPage(t *testing.T) {
	s := open(t)
	named := func(name string) body {
		ask := pool()
		ask["name"] = name
		return ask
	}
	for i := range 7 {
		s.manager.post("/v1/sites", named(fmt.Sprintf("Pool %d", i/2))).made() // equal names are told apart by id
	}
	for order, before := range map[string]string{"name": "A", "-name": "Z"} {
		list := "/v1/sites?sort=" + order
		want, got := s.student.get(list).want(http.StatusOK).ids(), []string{}
		for path := list + "&limit=3"; path != ""; {
			a := s.student.get(path).want(http.StatusOK)
			got, path = append(got, a.ids()...), ""
			if next := a.at("next_cursor"); next != nil {
				path = list + "&limit=3&cursor=" + url.QueryEscape(next.(string))
				require.Contains(t, a.header.Get("Link"), `rel="next"`)
			} else {
				require.Empty(t, a.header.Get("Link"))
			}
			s.manager.post("/v1/sites", named(before)).made() // what is added meanwhile shifts nothing
		}
		require.Equal(t, want, got, order)
	}
}

func TestACursorBelongsToItsList(t *testing.T) {
	s := open(t)
	for range 3 {
		s.manager.post("/v1/sites", pool()).made()
	}
	cursor := url.QueryEscape(s.manager.get("/v1/sites?limit=1").want(http.StatusOK).at("next_cursor").(string))
	s.manager.get("/v1/sites?limit=2&cursor=" + cursor).want(http.StatusOK)
	for _, path := range []string{"/v1/sites?sort=-name&cursor=", "/v1/sites?kind=open&cursor=",
		"/v1/people?cursor="} {
		s.manager.get(path+cursor).refused(http.StatusBadRequest, "bad_cursor")
	}
	for _, made := range []string{"x", "bm9uZQ", "eyJsIjoiIn0"} {
		s.manager.get("/v1/sites?cursor="+made).refused(http.StatusBadRequest, "bad_cursor")
	}
	for _, q := range []string{"limit=0", "limit=201", "limit=many", "sort=depth", "kind=puddle", "cursor="} {
		s.manager.get("/v1/sites?"+q).refused(http.StatusBadRequest, "invalid_request")
	}
	require.Len(t, s.manager.get("/v1/sites?kind=open&kind=confined").want(http.StatusOK).ids(), 3,
		"a filter given twice means or")
}
