package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a problem is about is among its parameters: a client words it in another language from them.
func TestAProblemKeepsThePartsOfItsMessage(t *testing.T) {
	w := newSeason(t, open(t))
	none, course := newID(), "/v1/courses/"+w.course
	version := w.manager.get(course).want(http.StatusOK).at("version")
	for _, c := range []struct {
		name   string
		answer answer
		status int
		code   string
		params body
	}{
		{"no token", w.holding("none").get(course), http.StatusUnauthorized,
			"unauthenticated", body{"scheme": "Bearer"}},
		{"a role", w.assistant.post("/v1/sessions/"+w.confined+"/open", nil), http.StatusForbidden,
			"missing_role",
			body{"need": "an instructor or a manager", "roles": []any{"manager", "instructor"}}},
		{"a scope", w.student.post("/v1/sites", bay()), http.StatusForbidden, "missing_scope",
			body{"scope": "sites:write"}},
		{"an id", w.manager.get("/v1/courses/" + none), http.StatusNotFound, "not_found",
			body{"what": "course", "id": none}},
		{"a version", w.manager.call(http.MethodPatch, course, body{"title": "x"}, "If-Match", `"999"`),
			http.StatusPreconditionFailed,
			"stale_version", body{"version": version}},
		{"no version", w.manager.call(http.MethodPatch, course, body{"title": "x"}),
			http.StatusPreconditionRequired,
			"version_required", body{"header": "If-Match"}},
		{"a state", w.instructor.post("/v1/sessions/"+w.confined+"/close", nil), http.StatusConflict,
			"wrong_state",
			body{"what": "session", "state": "planned"}},
	} {
		c.answer.refused(c.status, c.code)
		require.Equal(t, c.params, c.answer.at("params"), c.name)
	}
}
