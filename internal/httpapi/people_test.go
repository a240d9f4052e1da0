package httpapi_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func nuno() body {
	return body{"name": "Nuno Reis", "birth_on": "1994-03-21", "roles": []string{"student"},
		"external_refs": body{"booking": "B-1042"}}
}

func TestAPersonIsAddedAndCorrected(t *testing.T) {
	s := open(t)
	ask := nuno()
	ask["id"] = newID()
	a := s.program.post("/v1/people", ask).want(http.StatusCreated)
	require.Equal(t, "bar", a.at("gauge_unit"), "the centre's unless said")
	require.Nil(t, a.at("email"))
	to := a.header.Get("Location")
	a = s.instructor.patch(to,
		body{"email": "nuno@example.org", "gauge_unit": "psi",
			"external_refs": body{"booking": nil, "club": "77"}}).want(http.StatusOK)
	require.Equal(t, "nuno@example.org", a.at("email"))
	require.Equal(t, body{"club": "77"}, a.at("external_refs"), "a merge-patch merges")
	require.InDelta(t, 2, a.at("version"), 0)
	a = s.program.post("/v1/people", ask).want(http.StatusOK)
	require.Equal(t, "psi", a.at("gauge_unit"), "the person as it is now")
	ask["name"] = "Somebody else"
	s.program.post("/v1/people", ask).refused(http.StatusConflict, "id_reused")
	s.manager.call(http.MethodPatch, to, body{"name": "N"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	s.manager.patch(to, body{"birth_on": "1890-01-01", "reason": "a slip"}).refused(http.StatusBadRequest,
		"invalid_request")
	s.manager.patch(to, body{"birth_on": "2026-06-02", "reason": "a slip"}).refused(http.StatusBadRequest,
		"invalid_request")
	s.assistant.patch(to, body{"name": "N"}).refused(http.StatusForbidden, "missing_role")
	s.student.get(to).refused(http.StatusNotFound, "not_found")
	s.student.get("/v1/people/" + s.student.person.String()).want(http.StatusOK)
}

func TestRolesAreGivenByManagers(t *testing.T) {
	s := open(t)
	to := "/v1/people/" + s.manager.post("/v1/people", nuno()).made()
	for range 2 { // again does no harm
		require.Equal(t, []any{"assistant", "student"},
			s.manager.put(to+"/roles/assistant").want(http.StatusOK).at("roles"))
	}
	require.Equal(t, []any{"assistant"}, s.manager.delete(to+"/roles/student").want(http.StatusOK).at("roles"))
	s.instructor.put(to+"/roles/manager").refused(http.StatusForbidden, "missing_role")
	s.manager.put(to+"/roles/admiral").refused(http.StatusBadRequest, "invalid_request")
	ask := nuno()
	ask["roles"] = []string{"instructor"}
	s.program.post("/v1/people", ask).refused(http.StatusForbidden, "missing_role")
	s.manager.delete("/v1/people/" + s.Manager.String() + "/roles/manager").want(http.StatusOK)
	s.manager.delete("/v1/people/"+s.manager.person.String()+"/roles/manager").refused(http.StatusConflict,
		"wrong_state")
}

func TestPeopleAreFoundAndFollowed(t *testing.T) {
	s := open(t)
	a := s.manager.get("/v1/people").want(http.StatusOK)
	require.Len(t, a.ids(), 5)
	token := url.QueryEscape(a.at("updated_token").(string))
	require.Equal(t, []string{s.assistant.person.String()},
		s.manager.get("/v1/people?q=ABEL").want(http.StatusOK).ids())
	require.Len(t, s.manager.get("/v1/people?role=manager&role=student").want(http.StatusOK).ids(), 3)
	require.Equal(t, []string{s.student.person.String()}, s.student.get("/v1/people").want(http.StatusOK).ids(),
		"a student sees only themselves")
	require.Empty(t, s.manager.get("/v1/people?q=%25").want(http.StatusOK).ids(), "a pattern is no pattern")
	id := s.manager.post("/v1/people", nuno()).made()
	s.manager.put("/v1/people/" + s.student.person.String() + "/roles/assistant").want(http.StatusOK)
	require.ElementsMatch(t, []string{id, s.student.person.String()},
		s.manager.get("/v1/people?updated_since="+token).want(http.StatusOK).ids())
	s.manager.get("/v1/people?updated_since=yesterday").refused(http.StatusBadRequest,
		"invalid_request").by("contract.invalid_value")
	a = s.manager.get("/v1/people?limit=2").want(http.StatusOK)
	require.NotNil(t, a.at("updated_token"))
	a = s.manager.get("/v1/people?limit=2&cursor=" +
		url.QueryEscape(a.at("next_cursor").(string))).want(http.StatusOK)
	require.Nil(t, a.at("updated_token"), "the first page's covers the whole reading")
}

func importing(c *client, list string, query ...string) answer {
	c.t.Helper()
	return c.call(http.MethodPost, "/v1/people/import"+strings.Join(query, ""), list, "Content-Type",
		"text/csv; charset=utf-8")
}

func TestAListOfStudentsIsTakenInWholeOrNotAtAll(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	good := "name,birth_on,gauge_unit,email\nNuno Reis,1994-03-21,psi,nuno@example.org\n\"Costa, Ana\",2011-11-02,,\n"
	a := importing(s.manager, good+"Rui,32.13.1990,metres,\n").refused(http.StatusBadRequest, "bad_list")
	require.Len(t, a.list("findings"), 2, "every fault: %s", a.text)
	f := a.by("people.bad_line")
	require.Equal(t, []any{"file", 4.0, 5.0}, []any{f["in"], f["line"], f["column"]})
	require.Equal(t, true, importing(s.manager, good, "?dry_run=true").want(http.StatusOK).at("allowed"))
	importing(s.student, good).refused(http.StatusForbidden, "missing_scope")
	importing(s.assistant, good).refused(http.StatusForbidden, "missing_role")
	require.Equal(t, before, s.everyRow(), "nothing was changed")
	a = importing(s.program, good).want(http.StatusOK)
	require.Equal(t, []any{"Nuno Reis", "psi"}, []any{a.at("items.0.name"), a.at("items.0.gauge_unit")})
	require.Equal(t, []any{"Costa, Ana", "bar"}, []any{a.at("items.1.name"), a.at("items.1.gauge_unit")})
	require.Equal(t, a.ids(), importing(s.manager, good).want(http.StatusOK).ids(),
		"the same list adds nobody twice")
}

func TestAListInAnotherFormIsRefused(t *testing.T) {
	s := open(t)
	long := "name,birth_on\n" + strings.Repeat("A,1990-01-01\n", 1001)
	for what, list := range map[string]string{
		"Latin-1":              "name,birth_on\nJos\xe9,1990-01-01\n",
		"UTF-16":               "\xff\xfen\x00a\x00m\x00e\x00",
		"U+0000":               "name,birth_on\nA\x00B,1990-01-01\n",
		"no header":            "Nuno Reis,1994-03-21\n",
		"no birth date column": "name\nNuno Reis\n",
		"a column twice":       "name,name,birth_on\nA,B,1990-01-01\n",
		"an unclosed quote":    "name,birth_on\n\"Nuno,1990-01-01\n",
		"too few fields":       "name,birth_on\nNuno\n",
		"UTF-16 without mark":  "n\x00a\x00m\x00e\x00",
		"big-endian UTF-16":    "\xfe\xff\x00n\x00a\x00m\x00e",
		"semicolons":           "name;birth_on\nNuno;1990-01-01\n",
		"tabs":                 "name\tbirth_on\nNuno\t1990-01-01\n",
		"nobody on it":         "name,birth_on\n",
		"nothing but a line":   "\n",
		"born tomorrow":        "name,birth_on\nNuno,2026-06-02\n",
		"nameless":             "name,birth_on\n  ,1990-01-01\n",
		"more than a thousand": long,
	} {
		a := importing(s.manager, list).refused(http.StatusBadRequest, "bad_list")
		require.NotNil(t, a.by("people.bad_line")["line"], what)
	}
	importing(s.manager, "").refused(http.StatusBadRequest, "invalid_request")
	s.manager.post("/v1/people/import", body{"name": "Nuno"}).refused(http.StatusUnsupportedMediaType,
		"unsupported_media_type")
}

// Columns are counted in characters, as an editor shows them, and faults stand in
// the order of the list. A name has one line, so Ana's is a fault of its own.
func TestFaultsOfAListAreWhereAnEditorShowsThem(t *testing.T) {
	s := open(t)
	list := "\ufeffname,birth_on,gauge_unit,email\n" +
		"Zoë Çelik,1990-13-01,metre," + strings.Repeat("é", 201) + "\n" +
		"\"Ana\nMaría\",Ω-Ω,bar,\n" +
		"Nuno Reis,1994-03-21,bar,,\n" +
		"Łukasz,1994-03-21,ä\"b,\n"
	a := importing(s.manager, list).refused(http.StatusBadRequest, "bad_list")
	var at [][]any
	for _, f := range a.list("findings") {
		at = append(at, []any{f["line"], f["column"]})
	}
	require.Equal(t, [][]any{{2.0, 11.0}, {2.0, 22.0}, {2.0, 28.0}, {3.0, 1.0}, {4.0, 8.0}, {5.0, 1.0},
		{6.0, 20.0}}, at, a.text)
	a = importing(s.manager, "ñame,birth_on,größe,unit\n").refused(http.StatusBadRequest, "bad_list")
	at = nil
	for _, f := range a.list("findings") {
		at = append(at, []any{f["line"], f["column"]})
	}
	require.Equal(t, [][]any{{1.0, 1.0}, {1.0, 15.0}, {1.0, 21.0}, {1.0, 1.0}}, at, a.text)
	a = importing(s.manager, "name;birth_on\nNuno;1990-01-01\n").refused(http.StatusBadRequest, "bad_list")
	require.Contains(t, a.by("people.bad_line")["message"], "with commas")
	require.Equal(t, "Zoë Çelik",
		importing(s.manager, "\ufeffname,birth_on\r\nZoë Çelik,1990-01-31\r\n").want(http.StatusOK).at("items.0.name"))
}

// Who is there already is not added a second time: what is recorded of one person
// stays together.
func TestAListBringsOnlyNewPeople(t *testing.T) {
	s := open(t)
	id := s.manager.post("/v1/people", nuno()).made()
	born := nuno()["birth_on"].(string)
	list := "birth_on,name\n1990-01-31,Zoë Çelik\n" + born + ",NUNO  reis\n1990-01-31,zoë çelik\n"
	before := s.everyRow()
	a := importing(s.manager, list).refused(http.StatusBadRequest, "bad_list")
	require.Equal(t, before, s.everyRow())
	require.Len(t, a.list("findings"), 2, a.text)
	first, second := a.list("findings")[0], a.list("findings")[1]
	require.Equal(t, []any{"people.there_already", 3.0, 12.0},
		[]any{first["rule"], first["line"], first["column"]})
	require.Equal(t, []any{body{"type": "person", "id": id}}, first["subjects"])
	require.Equal(t, []any{"people.there_already", 4.0, 12.0},
		[]any{second["rule"], second["line"], second["column"]})
	require.Contains(t, second["message"], "Line 2")
	importing(s.manager, "birth_on,name\n1990-01-31,Nuno Reis\n").want(http.StatusOK) // a namesake
}

func TestPapersAreSeenKeptAndVoided(t *testing.T) {
	s := open(t)
	to := "/v1/people/" + s.student.person.String() + "/papers"
	ask := body{"id": newID(), "kind": "medical", "outcome": "physician_approved", "issued_on": "2026-05-20",
		"reference": "folder 3"}
	a := s.assistant.post(to, ask).want(http.StatusCreated)
	require.Equal(t, s.assistant.person.String(), a.at("seen_by"), "whoever saw it stands for it")
	s.assistant.post(to, ask).want(http.StatusOK)
	ask["outcome"] = "physician_refused"
	s.assistant.post(to, ask).refused(http.StatusConflict, "id_reused")
	require.Len(t, s.student.get(to).want(http.StatusOK).ids(), 3)
	s.instructor.post(to, body{"kind": "medical", "issued_on": "2026-05-20"}).refused(http.StatusBadRequest,
		"invalid_request")
	s.instructor.post(to, body{"kind": "waiver", "outcome": "nothing_flagged",
		"issued_on": "2026-05-20"}).refused(http.StatusBadRequest, "invalid_request")
	s.instructor.post(to, body{"kind": "waiver", "issued_on": "2026-05-20",
		"valid_until": "2026-05-19"}).refused(http.StatusBadRequest, "invalid_request")
	s.instructor.post(to, body{"kind": "waiver", "issued_on": "2026-05-20",
		"answers": []string{"asthma"}}).refused(http.StatusBadRequest, "invalid_request").by("contract.unknown_member")
	s.instructor.post(to, body{"kind": "waiver", "issued_on": "2026-05-20",
		"seen_by": newID()}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.program.post(to, body{"kind": "waiver", "issued_on": "2026-05-20"}).refused(http.StatusForbidden,
		"missing_scope")
	paper := "/v1/papers/" + ask["id"].(string)
	s.student.get(paper).want(http.StatusOK)
	s.as(s.Student("Other", "1990-01-01")).get(paper).refused(http.StatusNotFound, "not_found")
	s.assistant.post(paper+"/void", body{"reason": "not hers"}).refused(http.StatusForbidden, "missing_role")
	for range 2 { // again does no harm
		a = s.instructor.post(paper+"/void", body{"reason": "belongs to somebody else"}).want(http.StatusOK)
		require.Equal(t, "belongs to somebody else", a.at("void_reason"))
	}
	require.Len(t, s.student.get(to).want(http.StatusOK).ids(), 3, "voided ones stay on record")
}

func TestAnyOfTheCrewMarksSomebodyUnfit(t *testing.T) {
	s := open(t)
	to := "/v1/people/" + s.student.person.String() + "/unfit-marks"
	ask := body{"id": newID(), "unfit_on": "2026-06-06", "note": "a cold"}
	a := s.assistant.post(to, ask).want(http.StatusCreated)
	require.Equal(t, s.assistant.person.String(), a.at("marked_by"))
	s.assistant.post(to, ask).want(http.StatusOK)
	ask["unfit_on"] = "2026-06-07"
	s.assistant.post(to, ask).refused(http.StatusConflict, "id_reused")
	s.student.post(to, body{"unfit_on": "2026-06-06"}).refused(http.StatusForbidden, "missing_scope")
	lift := "/v1/unfit-marks/" + ask["id"].(string) + "/lift"
	s.assistant.post(lift, body{"reason": "better"}).refused(http.StatusForbidden, "missing_role")
	require.Equal(t, true, s.instructor.post(lift+"?dry_run=true",
		body{"reason": "better"}).want(http.StatusOK).at("allowed"))
	require.Nil(t, s.student.get(to).want(http.StatusOK).at("items.0.lifted_at"), "only asked")
	a = s.instructor.post(lift, body{"reason": "slept it off"}).want(http.StatusOK)
	require.Equal(t, []any{s.instructor.person.String(), "slept it off"},
		[]any{a.at("lifted_by"), a.at("lift_reason")})
	s.instructor.post(lift, body{"reason": "again"}).want(http.StatusOK)
	own := s.assistant.post("/v1/people/"+s.instructor.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-06"}).made()
	s.instructor.post(fmt.Sprintf("/v1/unfit-marks/%s/lift", own),
		body{"reason": "I am fine"}).refused(http.StatusForbidden, "missing_role")
}

// A fact is answered with what is to be said of it: a paper that has lapsed is
// kept and noted (common practice: old certificates are filed); a medical answer
// that needs a physician keeps out of the water (UHMS/DMSC diver medical
// participant questionnaire, 2020).
func TestAPaperAndAMarkAreAnsweredWithFindings(t *testing.T) {
	s := open(t)
	person := "/v1/people/" + s.student.person.String()
	s.instructor.post(person+"/papers",
		body{"kind": "waiver", "issued_on": "2026-05-01", "valid_until": "2026-06-01"}).want(http.StatusCreated)
	a := s.instructor.post(person+"/papers",
		body{"kind": "insurance", "issued_on": "2025-05-01", "valid_until": "2026-05-31"})
	paper := a.made()
	f := a.by("people.paper_not_in_force")
	require.Equal(t, []any{"note", "2026-05-31", "2026-06-01"},
		[]any{f["severity"], f["found"].(body)["on"], f["limit"].(body)["on"]})
	require.Contains(t, f["message"], "lapsed on 2026-05-31")
	s.instructor.get("/v1/papers/" + paper).want(http.StatusOK).by("people.paper_not_in_force")
	s.instructor.post(person+"/papers",
		body{"kind": "first_aid",
			"issued_on": "2026-06-02"}).want(http.StatusCreated).by("people.paper_not_in_force")
	s.instructor.post(person+"/papers",
		body{"kind": "medical", "outcome": "physician_needed",
			"issued_on": "2026-05-30"}).want(http.StatusCreated).by("roster.medical_flagged")
	require.Empty(t, s.instructor.post(person+"/papers",
		body{"kind": "medical", "outcome": "physician_approved",
			"issued_on": "2026-05-31"}).want(http.StatusCreated).list("findings"))
	require.Empty(t, s.instructor.post("/v1/papers/"+paper+"/void",
		body{"reason": "another person's"}).want(http.StatusOK).list("findings"))

	a = s.assistant.post(person+"/unfit-marks",
		body{"unfit_on": "2026-06-06", "note": "a cold"}).want(http.StatusCreated)
	require.Equal(t, "forbidden", a.by("roster.not_fit")["severity"])
	require.Empty(t, s.instructor.post("/v1/unfit-marks/"+a.id()+"/lift",
		body{"reason": "well again"}).want(http.StatusOK).list("findings"))
	require.Empty(t, s.instructor.get(person+"/unfit-marks").want(http.StatusOK).list("items.0.findings"))
}
