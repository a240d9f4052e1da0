package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/ratio"
	"tankside/internal/scenetest"
)

func TestMeSaysWhoIsCalling(t *testing.T) {
	s := open(t)
	a := s.instructor.get("/v1/me").want(http.StatusOK)
	require.Equal(t, s.instructor.person.String(), a.at("person_id"))
	require.Equal(t, "Kelp Point", a.at("centre_name"))
	require.Equal(t, []any{"instructor"}, a.at("roles"))
	require.Contains(t, a.at("operations"), "createSignOffs")
	a = s.program.get("/v1/me").want(http.StatusOK)
	require.Nil(t, a.at("person_id"))
	require.Equal(t, "booking page", a.at("program"))
	require.NotContains(t, a.at("operations"), "createSignOffs", "a program never signs")
}

func TestRulesAreListedWithTheirSources(t *testing.T) {
	s := open(t)
	a := s.student.get("/v1/rules").want(http.StatusOK)
	ids := map[any]bool{}
	for _, r := range a.list("items") {
		require.False(t, ids[r["id"]], "%s is listed twice", r["id"])
		ids[r["id"]] = true
		for _, member := range []string{"title", "text", "source", "severity"} {
			require.NotEmpty(t, r[member], "%s of %s", member, r["id"])
		}
		require.NotEmpty(t, r["messages"], r["id"])
	}
	require.True(t, ids["contract.invalid_value"])
	require.True(t, ids[ratio.TooManyStudents.ID])
}

func TestAnAnswerThatTheCallerHasIsNotSentAgain(t *testing.T) {
	s := open(t)
	tag := s.manager.get("/v1/rules").want(http.StatusOK).header.Get("ETag")
	a := s.manager.get("/v1/rules", "If-None-Match", `W/"other", `+tag).want(http.StatusNotModified)
	require.Empty(t, a.text)
	// Another writing transaction moves updated_token on; the list is the same.
	tag = s.manager.get("/v1/people").want(http.StatusOK).header.Get("ETag")
	s.manager.post("/v1/sites", pool()).made()
	s.manager.get("/v1/people", "If-None-Match", tag).want(http.StatusNotModified)
	s.manager.post("/v1/people",
		body{"name": "Zoe", "birth_on": "1990-01-01", "roles": []string{"student"}}).made()
	s.manager.get("/v1/people", "If-None-Match", tag).want(http.StatusOK)
}

func TestACentreIsChangedByItsManager(t *testing.T) {
	s := open(t)
	a := s.manager.patch("/v1/centre",
		body{"name": "Kelp Bay", "gauge_unit": "psi", "medical_months": 6,
			"crew_papers": []string{"insurance"}}).want(http.StatusOK)
	require.Equal(t, "Kelp Bay", a.at("name"))
	require.Equal(t, "psi", a.at("gauge_unit"))
	require.InDelta(t, 6, a.at("medical_months"), 0)
	require.Equal(t, []any{"insurance"}, a.at("crew_papers"))
	require.Equal(t, "Europe/Lisbon", a.at("time_zone"), "what is not named stays")
	s.instructor.get("/v1/centre").want(http.StatusOK)
	s.manager.call(http.MethodPatch, "/v1/centre", body{"name": "Late"}, "If-Match",
		`"1"`).refused(http.StatusPreconditionFailed, "stale_version")
	s.manager.patch("/v1/centre", body{"time_zone": "Atlantis/Capital"}).refused(http.StatusBadRequest,
		"invalid_request")
	s.manager.patch("/v1/centre",
		body{"rule_books": []string{"general-open",
			"of-a-dream"}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.instructor.call(http.MethodPatch, "/v1/centre", body{"name": "Mine"}, "If-Match",
		`"2"`).refused(http.StatusForbidden, "missing_scope")
}

func TestACentreHasItsOwnRuleBook(t *testing.T) {
	s := open(t)
	line := body{"title": "everybody", "settings": []string{"open"}, "levels": []string{"entry_level"},
		"age_from": 10, "places": []int{6, 8},
		"cap": 8, "max_depth": body{"value": 18, "unit": "m"},
		"young": body{"below": 12, "per_head": 1, "others_from": 15},
		"conditions": []body{{"text": "two fewer below five metres", "cause": "visibility",
			"beyond": body{"value": 5, "unit": "m"}, "fewer": 2}}}
	book := body{"title": "Six in our bay", "source": "the instructors' meeting", "lines": []body{line}}
	a := s.manager.patch("/v1/centre",
		body{"rule_books": []string{"general-confined"}, "own_rule_book": book}).want(http.StatusOK)
	require.Equal(t, "own", a.at("own_rule_book.kind"))
	require.Equal(t, "2", a.at("own_rule_book.version"), "the edition is the centre's version")
	require.Equal(t, body{"value": 18.0, "unit": "m"}, a.at("own_rule_book.lines.0.max_depth"))
	require.Equal(t, body{"value": 5.0, "unit": "m"}, a.at("own_rule_book.lines.0.conditions.0.beyond"))
	applied := map[any]any{}
	for _, b := range s.student.get("/v1/rule-books").want(http.StatusOK).list("items") {
		applied[b["id"]] = b["applies"]
	}
	require.Len(t, applied, len(ratio.Builtin())+1)
	require.Equal(t, []any{true, true, false},
		[]any{applied["own"], applied["general-confined"], applied["general-open"]})
	a = s.manager.patch("/v1/centre", body{"gauge_unit": "psi"}).want(http.StatusOK)
	require.Equal(t, "2", a.at("own_rule_book.version"), "a book that nobody touched keeps its edition")
	line["places"] = []int{8, 6}
	f := s.manager.patch("/v1/centre", body{"own_rule_book": book}).refused(http.StatusBadRequest,
		"invalid_request").by("contract.invalid_value")
	require.Equal(t, "/own_rule_book/lines/0/places/1", f["pointer"])
	a = s.manager.patch("/v1/centre", body{"own_rule_book": nil}).want(http.StatusOK)
	require.Nil(t, a.at("own_rule_book"))
}

func TestOnlyADemoCentreHasAClockToSet(t *testing.T) {
	s := open(t)
	a := s.manager.post("/v1/centre/set-clock", body{"now_at": "2026-06-06T08:00:00Z"}).want(http.StatusOK)
	require.True(t, strings.HasPrefix(a.at("now_at").(string), "2026-06-06T08:00:0"), a.at("now_at"))
	a = s.manager.post("/v1/sites", pool()).want(http.StatusCreated)
	require.True(t, strings.HasPrefix(a.at("created_at").(string), "2026-06-06T08:00:"), a.at("created_at"))
	s.manager.get("/v1/me").want(http.StatusOK) // tokens keep to the real clock
	s.Exec(`UPDATE centre SET clock_offset = '0', demo = false WHERE centre_id = @centre`, nil)
	s.manager.post("/v1/centre/set-clock", body{"now_at": "2026-06-06T08:00:00Z"}).refused(http.StatusConflict,
		"not_a_demo")
}

func TestATokenIsShownOnce(t *testing.T) {
	s := open(t)
	ask := body{"id": newID(), "person_id": s.student.person, "label": "phone",
		"scopes": []string{"courses:read"}}
	a := s.manager.post("/v1/tokens", ask).want(http.StatusCreated)
	secret := a.at("secret").(string)
	require.Regexp(t, `^tsk_[0-9a-f]{32}_[a-z2-7]{52}$`, secret)
	a = s.manager.post("/v1/tokens", ask).want(http.StatusOK)
	require.NotContains(t, string(a.text), "secret")
	ask["label"] = "another phone"
	s.manager.post("/v1/tokens", ask).refused(http.StatusConflict, "id_reused")
	phone := s.holding(secret)
	phone.get("/v1/sites").want(http.StatusOK)
	phone.get("/v1/people").refused(http.StatusForbidden, "missing_scope")
	require.Contains(t, s.manager.get("/v1/tokens?person_id="+
		s.student.person.String()).want(http.StatusOK).ids(), ask["id"])
	require.Contains(t, s.student.get("/v1/tokens").want(http.StatusOK).ids(), ask["id"])
	require.NotContains(t, s.instructor.get("/v1/tokens").want(http.StatusOK).ids(), ask["id"],
		"others see their own only")
	s.instructor.get("/v1/tokens/"+ask["id"].(string)).refused(http.StatusNotFound, "not_found")
	s.student.get("/v1/tokens/" + ask["id"].(string)).want(http.StatusOK)
	for range 2 { // again does no harm
		require.NotNil(t, s.student.post("/v1/tokens/"+ask["id"].(string)+"/revoke",
			nil).want(http.StatusOK).at("revoked_at"))
	}
	phone.get("/v1/sites").refused(http.StatusUnauthorized, "unauthenticated")
}

func TestATokenReachesNoFurtherThanItsHolder(t *testing.T) {
	s := open(t)
	a := s.manager.post("/v1/tokens",
		body{"person_id": s.student.person,
			"scopes": []string{"courses:read",
				"sign-offs:write"}}).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Equal(t, "/scopes/1", a.by("people.scope_beyond_role")["pointer"])
	s.manager.post("/v1/tokens",
		body{"program": "slate",
			"scopes": []string{"sign-offs:write"}}).refused(http.StatusUnprocessableEntity, "rules_refused").by("people.scope_beyond_role")
	s.manager.post("/v1/tokens",
		body{"program": "slate", "scopes": []string{"courses:read"}, "expires_at": "2020-01-01T00:00:00Z"}).
		refused(http.StatusUnprocessableEntity, "rules_refused").by("people.expiry_out_of_range")
	s.manager.post("/v1/tokens",
		body{"person_id": newID(),
			"scopes": []string{"courses:read"}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	s.manager.post("/v1/tokens",
		body{"person_id": s.student.person, "program": "both",
			"scopes": []string{"courses:read"}}).refused(http.StatusBadRequest, "invalid_request")
	s.instructor.post("/v1/tokens",
		body{"program": "slate",
			"scopes": []string{"courses:read"}}).refused(http.StatusForbidden, "missing_role")
	s.manager.post("/v1/tokens",
		body{"program": "slate",
			"scopes": []string{"everything"}}).refused(http.StatusBadRequest, "invalid_request")
}

// A role that is taken away takes its scopes along, at once.
func TestATokenLosesWhatTheRoleLoses(t *testing.T) {
	s := open(t)
	second := s.as(s.Person("Mia Manager", "1970-01-01", "manager", "student"))
	second.patch("/v1/centre", body{"name": "Kelp"}).want(http.StatusOK)
	s.manager.delete("/v1/people/" + second.person.String() + "/roles/manager").want(http.StatusOK)
	second.call(http.MethodPatch, "/v1/centre", body{"name": "Kelp"}, "If-Match",
		`"3"`).refused(http.StatusForbidden, "missing_scope")
}

// Two centres in one database: the token of one opens nothing of the other,
// and no answer tells that the other is there.
func TestAnotherCentreCannotBeSeenOrGuessed(t *testing.T) {
	here := open(t)
	there := openIn(t, scenetest.In(t, here.DB))
	site := there.manager.post("/v1/sites", pool()).made()
	student := there.student.person.String()
	nowhere := newID()
	for _, path := range []string{"/v1/sites/", "/v1/people/", "/v1/tokens/"} {
		for _, id := range []string{site, student} {
			foreign, none := here.boss.get(path+id), here.boss.get(path+nowhere)
			foreign.refused(http.StatusNotFound, "not_found")
			require.Equal(t, none.at("detail"), foreign.at("detail"))
		}
	}
	taken := pool()
	taken["id"] = site
	here.manager.post("/v1/sites", taken).made() // an id taken there is free here
	require.Equal(t, "Europe/Lisbon", here.manager.get("/v1/centre").at("time_zone"))
	for _, item := range here.manager.get("/v1/people?limit=200").list("items") {
		require.NotEqual(t, student, item["id"])
	}
	require.NotContains(t, here.manager.get("/v1/sites").ids(), nowhere)
	here.manager.post("/v1/tokens",
		body{"person_id": student,
			"scopes": []string{"courses:read"}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	narrow := there.withToken(access.NewToken{Program: new("there"), Scopes: []actor.Scope{access.CoursesRead}})
	require.Equal(t, []string{site}, narrow.get("/v1/sites").want(http.StatusOK).ids())
}
