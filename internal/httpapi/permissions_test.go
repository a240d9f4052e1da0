package httpapi_test

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/permission"
)

// reaches is a centre with somebody of each role, things that are each one's own or assigned to them,
// and things of others. Targets are ids by operation, or by the part of a path that they stand after.
type reaches struct {
	*season
	any  map[string][]string // of which none decides about a caller
	near map[actor.Role]map[string]string
	far  map[actor.Role]map[string]string
	rui  *client // another instructor
}

// caller returns who has a role and no other.
func (w *reaches) caller(role actor.Role) *client {
	return map[actor.Role]*client{actor.Manager: w.manager, actor.Instructor: w.instructor,
		actor.Assistant: w.assistant,
		actor.Student:   w.student, actor.Program: w.program}[role]
}

// token issues one more token for a person and returns its id.
func (w *reaches) token(c *client) string {
	w.t.Helper()
	return w.manager.post("/v1/tokens",
		body{"person_id": c.person, "scopes": []string{"courses:read"}}).want(http.StatusCreated).
		at("token.id").(string)
}

// enrolled enrols a new student in the course and returns the enrolment.
func (w *reaches) enrolled(name string) string {
	w.t.Helper()
	return w.manager.post("/v1/courses/"+w.course+"/enrolments",
		body{"person_id": w.Student(name, "1990-01-01")}).made()
}

func newReaches(t *testing.T) *reaches {
	t.Helper()
	w := &reaches{season: newSeason(t, open(t))}
	w.rui = w.as(w.Crew("Rui Instructor", "instructor"))
	vera, olga := w.enrolled("Vera Student"), w.enrolled("Olga Student")
	red := w.manager.post("/v1/sessions/"+w.confined+"/groups",
		body{"name": "red", "instructor_id": w.rui.person}).made()
	hers := w.manager.post("/v1/sessions/"+w.confined+"/participants",
		body{"role": "student", "enrolment_id": vera, "group_id": red}).made()
	other := w.manager.post("/v1/courses/"+w.course+"/sessions",
		body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-07T15:00", "ends_local": "2026-06-07T17:00"}).made()
	green := w.manager.post("/v1/sessions/"+other+"/groups",
		body{"name": "green", "instructor_id": w.rui.person}).made()
	w.any = w.oneOfEach()
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/roll-calls",
		body{"items": []body{{"id": newID(), "attendance": "present", "witnessed_at": at(saturday),
			"unexpected": body{"person_id": w.manager.person, "role": "assistant", "group_id": w.blue}}}}))
	toAll := w.brief(w.confined, saturday.Add(time.Minute))
	tried, signed := newID(), newID()
	w.recorded(w.rui.post("/v1/sessions/"+w.confined+"/drill-attempts",
		body{"items": []body{{"id": tried, "participant_id": hers, "skill": "swim", "met": true,
			"measures": []body{{"name": "swim-without-aids", "value": 200,
				"unit": "m"}}, "witnessed_at": at(saturday)}}}))
	w.recorded(w.rui.post("/v1/sessions/"+w.confined+"/sign-offs",
		body{"items": []body{{"id": signed, "enrolment_id": vera, "skill": "swim"}}}))
	told := w.rui.post("/v1/sessions/"+other+"/briefings",
		body{"briefed_at": at(saturday), "convention": "digits_bar", "check_every": nil,
			"pressures": body{"low": of(100, "bar")}}).made()
	w.credit(olga, true)
	w.near = map[actor.Role]map[string]string{
		actor.Manager: {"briefings": toAll},
		actor.Student: {"people": w.student.person.String(), "papers": w.any["papers"][0],
			"enrolments": w.sofia, "entries": w.any["attempts"][0],
			"sign-offs": w.any["sign-offs"][0], "sessions": w.confined, "groups": w.blue,
			"participants": w.part(w.confined, w.sofia),
			"briefings":    w.any["briefings"][0], "tokens": w.token(w.student),
			"decisions": w.decided(w.sofia)},
		actor.Assistant: {"tokens": w.token(w.assistant), "briefings": w.any["briefings"][0],
			"entries":      w.witnessed(w.assistant),
			"held-entries": w.held(w.assistant)},
		actor.Instructor: {"tokens": w.token(w.instructor), "briefings": w.any["briefings"][0],
			"sign-offs":   w.any["sign-offs"][0],
			"completions": w.any["completions"][0], "unfit-marks": w.unfit(w.student.person.String())},
	}
	w.far = map[actor.Role]map[string]string{
		actor.Manager: {"briefings": told},
		actor.Student: {"people": w.instructor.person.String(), "papers": w.paperOf(w.instructor),
			"enrolments": vera, "entries": tried,
			"sign-offs": signed, "sessions": other, "groups": green,
			"participants": w.manager.get("/v1/sessions/" + other + "/participants").ids()[0],
			"briefings":    told, "tokens": w.token(w.boss), "decisions": w.decided(vera)},
		actor.Assistant: {"tokens": w.token(w.boss), "briefings": told, "entries": tried,
			"held-entries": w.held(w.instructor)},
		actor.Instructor: {"tokens": w.token(w.boss), "briefings": told, "sign-offs": signed,
			"completions": w.completed(olga),
			"unfit-marks": w.unfit(w.manager.get("/v1/enrolments/" + vera).at("person_id").(string))},
	}
	w.any["tokens"], w.any["held-entries"] = []string{w.token(w.rui)}, []string{w.held(w.rui)}
	w.any["courses"], w.any["enrolments"] = []string{w.course}, []string{olga}
	w.any["decisions"] = []string{w.decided(olga)}
	return w
}

func (w *reaches) completed(enrolment string) string {
	w.t.Helper()
	return w.rui.post("/v1/enrolments/"+enrolment+"/completions", nil).made()
}

// decided returns the first decision about an enrolment.
func (w *reaches) decided(enrolment string) string {
	w.t.Helper()
	return w.manager.get("/v1/decisions?subject_type=enrolment&subject_id=" + enrolment).
		want(http.StatusOK).ids()[0]
}

func (w *reaches) paperOf(c *client) string {
	w.t.Helper()
	return w.manager.get("/v1/people/" + c.person.String() + "/papers").want(http.StatusOK).ids()[0]
}

// unfit marks somebody unfit on the Saturday.
func (w *reaches) unfit(person string) string {
	w.t.Helper()
	return w.assistant.post("/v1/people/"+person+"/unfit-marks", body{"unfit_on": "2026-06-06"}).made()
}

// witnessed records a gas check that somebody of the crew made, and returns it.
func (w *reaches) witnessed(c *client) string {
	w.t.Helper()
	id := newID()
	w.recorded(c.post("/v1/sessions/"+w.confined+"/gas-checks",
		body{"items": []body{{"id": id, "participant_id": w.part(w.confined, w.tiago),
			"no_answer": true, "witnessed_at": at(saturday)}}}))
	return id
}

// held sends an entry that waits for another, and returns it.
func (w *reaches) held(c *client) string {
	w.t.Helper()
	now := saturday.Add(time.Hour)
	lost := entry("time_out", newID(), body{"time_in_id": newID(), "out_at": at(now)})
	phone{season: w.season, of: c, name: c.person.String()}.send(now, lost)
	for _, h := range w.manager.get("/v1/held-entries").want(http.StatusOK).list("items") {
		if h["entry_id"] == lost["id"] {
			return h["id"].(string)
		}
	}
	require.FailNow(w.t, "the entry is not held")
	return ""
}

// kind returns the part of the path that the operation's id stands after.
func (op *operation) kind() string { return strings.Split(op.path, "/")[2] }

// to sends the operation's example to the thing with an id.
func (w *reaches) to(c *client, op *operation, id string) answer {
	w.t.Helper()
	content := op.example(w.t)
	if b, ok := differently[op.OperationId]; ok {
		content = b
	}
	address := op.address(map[string]string{"id": id, "code": "digits_bar"})
	switch op.OperationId {
	case "watchSessions":
		address = w.live(w.confined)
	case "listDecisions":
		subject := w.manager.get("/v1/decisions/" + id).want(http.StatusOK).at("subject.id").(string)
		address += "?subject_type=enrolment&subject_id=" + subject
	case "getDrillSheet":
		address += "?convention=digits_bar&seed=1"
	case "getGestureStrip":
		address += "?style=digits&hands=one&value=100&unit=bar"
	case "getPracticeQuestion":
		address += "?convention=digits_bar"
	case "compareConventions":
		address += "?known=digits_bar"
	}
	return op.send(c, address, content, op.versioned()...)
}

// differently are bodies whose example is about something that only certain roles may change.
var differently = map[string]any{
	"changePerson": body{"gauge_unit": "psi"},
	"createPerson": body{"name": "Nadia", "birth_on": "1990-01-01", "roles": []string{"student"}},
}

// narrowed are the lists that are answered to everybody who has any reach, with what they reach.
var narrowed = []string{"listPeople", "listEnrolments", "listCourseEnrolments", "listTokens", "listBriefings"}

// wholly are the operations that a cell opens in own, without anything that is not the caller's.
var wholly = []string{"getMe", "createTicket"}

// reached returns how far a role reaches with every scope that it may have.
func reached(op *operation, row permission.Row, role actor.Role) permission.Reach {
	if scope := op.scope(); scope != "" &&
		!slices.Contains(access.MostScopes([]actor.Role{role}), actor.Scope(scope)) {
		return permission.None
	}
	return row.Of(role)
}

// Each cell of the table of permissions is tried over HTTP: what a role does not reach is refused, and
// what it reaches is not. Calls that read, and calls about what is near, go first, since others may end
// what they are about.
func TestEveryCellOfTheTableOfPermissions(t *testing.T) {
	w := newReaches(t)
	rows := map[string]permission.Row{}
	for _, row := range permission.Table() {
		rows[row.Operation] = row
	}
	require.Len(t, rows, len(theContract().operations))
	for _, turn := range []func(*operation, permission.Reach) bool{
		func(_ *operation, r permission.Reach) bool { return r < permission.All },
		func(op *operation, r permission.Reach) bool {
			return r == permission.All && op.method == http.MethodGet
		},
		func(op *operation, r permission.Reach) bool {
			return r == permission.All && op.method != http.MethodGet
		},
	} {
		for _, op := range theContract().operations {
			require.Contains(t, rows, op.OperationId, "the operation has no row")
			for _, role := range permission.Roles {
				row := rows[op.OperationId]
				if reach := reached(op, row, role); turn(op, reach) {
					t.Run(op.OperationId+"/"+string(role),
						func(t *testing.T) { w.try(t, op, row, role, reach) })
				}
			}
		}
	}
}

// try compares what a role is answered with a cell of the table.
func (w *reaches) try(t *testing.T, op *operation, row permission.Row, role actor.Role,
	reach permission.Reach) {
	c := w.caller(role).on(t)
	near, far := w.near[role][op.kind()], w.far[role][op.kind()]
	id := newID()
	if some := w.any[op.kind()]; len(some) > 0 {
		id = some[0]
	}
	switch {
	case reach == permission.None && row.Of(role) > permission.None, reach == permission.None && c.lacks(op):
		w.to(c, op, id).refused(http.StatusForbidden, "missing_scope")
	case reach == permission.None:
		a := w.to(c, op, id).refused(http.StatusForbidden, "missing_role")
		require.Equal(t, "This is for "+row.For+".", a.at("detail"))
	case reach == permission.All:
		a := w.to(c, op, id)
		require.NotEqual(t, http.StatusForbidden, a.status, "%s", a.text)
		if op.method == http.MethodGet && len(w.any[op.kind()]) > 0 {
			require.NotEqual(t, http.StatusNotFound, a.status, "%s", a.text)
		}
	case slices.Contains(wholly, op.OperationId):
		require.NotEqual(t, http.StatusForbidden, w.to(c, op, id).status)
	case slices.Contains(narrowed, op.OperationId):
		id = map[string]string{"courses": w.course, "sessions": far}[op.kind()]
		few, many := w.to(c, op, id).want(http.StatusOK).list("items"), w.to(w.manager.on(t), op,
			id).want(http.StatusOK).list("items")
		require.Less(t, len(few), len(many), "only their own")
	default:
		require.NotEmpty(t, near, "name what is near a %s", role)
		require.NotEmpty(t, far, "name what is far from a %s", role)
		a := w.to(c, op, far)
		require.Contains(t, []int{http.StatusForbidden, http.StatusNotFound}, a.status, "%s", a.text)
		a = w.to(c, op, near)
		require.NotContains(t, []int{http.StatusForbidden, http.StatusNotFound}, a.status, "%s", a.text)
	}
}

// lacks reports whether the caller's token does not carry the scope of an operation.
func (c *client) lacks(op *operation) bool {
	scope := op.scope()
	return scope != "" && !slices.Contains(c.get("/v1/me").want(http.StatusOK).at("scopes").([]any), any(scope))
}

// A manager reaches every sign-off and completion only with the instructor's scope.
func TestOfSeveralRolesTheFarthestReachCounts(t *testing.T) {
	w := newReaches(t)
	both := w.as(w.Crew("Bia Both", "manager", "instructor"))
	for kind, scope := range map[string]string{"sign-offs": "voidSignOff", "completions": "voidCompletion"} {
		void := "/v1/" + kind + "/" + w.far[actor.Instructor][kind] + "/void"
		w.manager.post(void, body{"reason": "no"}).refused(http.StatusForbidden, "missing_scope")
		w.instructor.post(void, body{"reason": "no"}).refused(http.StatusForbidden, "missing_role")
		both.post(void, body{"reason": "the wrong student"}).want(http.StatusOK)
		require.Contains(t, both.get("/v1/me").want(http.StatusOK).list("permissions"),
			body{"operation": scope, "reach": "all"})
	}
}

// A briefing is heard by the person, whatever their role: a manager who is on the boat is told too.
func TestAManagerWhomABriefingNamesAcknowledgesIt(t *testing.T) {
	w := newReaches(t)
	heard := func(kind map[string]string) string {
		return "/v1/briefings/" + kind["briefings"] +
			"/acknowledge"
	}
	w.manager.post(heard(w.near[actor.Manager]), nil).want(http.StatusOK)
	refused := w.manager.post(heard(w.far[actor.Manager]), nil).refused(http.StatusForbidden, "missing_role")
	require.Equal(t, []any{}, refused.at("params.roles"), "no role would do")
}

// GET /v1/me lists what a token may do: by its scopes and by its holder's roles.
func TestMeListsWhatRolesAndScopesAllow(t *testing.T) {
	s := open(t)
	me := s.student.get("/v1/me").want(http.StatusOK)
	require.Contains(t, me.at("operations"), "getProgress")
	require.NotContains(t, me.at("operations"), "watchGas", "which answers a student 403")
	require.Contains(t, me.list("permissions"), body{"operation": "getProgress", "reach": "own"})
	require.Contains(t, me.list("permissions"), body{"operation": "listGroups", "reach": "assigned"})
	require.Len(t, me.at("operations"), len(me.list("permissions")))
	require.Contains(t, s.instructor.get("/v1/me").want(http.StatusOK).list("permissions"),
		body{"operation": "watchGas", "reach": "all"})
	narrow := s.withToken(access.NewToken{PersonID: &s.instructor.person,
		Scopes: []actor.Scope{access.CoursesRead}})
	require.NotContains(t, narrow.get("/v1/me").want(http.StatusOK).at("operations"), "watchGas",
		"without its scope")
}

func TestThePageOfPermissionsHasEveryOperation(t *testing.T) {
	s := open(t)
	recorder := httptest.NewRecorder()
	s.handler.ServeHTTP(recorder, httptest.NewRequest(http.MethodGet, "/docs/permissions", http.NoBody))
	require.Equal(t, http.StatusOK, recorder.Code)
	require.Contains(t, recorder.Header().Get("Content-Security-Policy"), "default-src 'none'")
	page := recorder.Body.String()
	for _, op := range theContract().operations {
		require.Contains(t, page, ">"+op.OperationId+"<")
	}
	require.Contains(t, page, "<td>all*</td>",
		"a manager voids the sign-offs of others only as an instructor too")
}
