package httpapi_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
)

func TestSessionsAreReadOnFromAnEarlierReading(t *testing.T) {
	w := newSeason(t, open(t))
	for _, list := range []string{"/v1/sessions", "/v1/courses/" + w.course + "/sessions"} {
		a := w.manager.get(list).want(http.StatusOK)
		require.Equal(t, []string{w.confined, w.open}, a.ids())
		since := list + "?updated_since=" + url.QueryEscape(a.at("updated_token").(string))
		w.manager.get("/v1/sites").want(http.StatusOK)
		w.manager.patch("/v1/sessions/"+w.open, body{"title": "Bay, " + list}).want(http.StatusOK)
		require.Equal(t, []string{w.open}, w.manager.get(since).want(http.StatusOK).ids())
		w.manager.get(list+"?updated_since=yesterday").refused(http.StatusBadRequest,
			"invalid_request").by("contract.invalid_value")
	}
	first := w.manager.get("/v1/sessions?limit=1").want(http.StatusOK)
	second := w.manager.get("/v1/sessions?limit=1&cursor=" +
		url.QueryEscape(first.at("next_cursor").(string))).want(http.StatusOK)
	require.Nil(t, second.at("updated_token"), "the first page's covers the whole reading")
}

func TestAListCarriesItsPeopleWhenAsked(t *testing.T) {
	w := newSeason(t, open(t))
	w.manager.patch("/v1/people/"+w.student.person.String(),
		body{"emergency_name": "Ana Student"}).want(http.StatusOK)
	for _, list := range []string{"/v1/enrolments", "/v1/courses/" + w.course + "/enrolments", "/v1/sessions/" +
		w.confined + "/participants"} {
		for _, item := range w.manager.get(list).want(http.StatusOK).list("items") {
			require.NotContains(t, item, "person", list)
			require.NotContains(t, item, "withheld", list)
		}
		names := 0
		for _, item := range w.manager.get(list + "?include=person").want(http.StatusOK).list("items") {
			person := item["person"].(body)
			require.Equal(t, item["person_id"], person["id"], list)
			require.Equal(t, item["person_name"], person["name"], list)
			require.NotContains(t, item, "withheld", list)
			if person["emergency_name"] == "Ana Student" {
				names++
			}
		}
		require.Equal(t, 1, names, list)
		w.manager.get(list+"?include=diary").refused(http.StatusBadRequest, "invalid_request")
	}
}

// Names of those who take part are for everybody who takes part; their
// telephone numbers are not.
func TestWhoMayNotSeeAPersonIsToldSo(t *testing.T) {
	w := newSeason(t, open(t))
	own, others := 0, 0
	for _, item := range w.student.get("/v1/sessions/" + w.confined +
		"/participants?include=person").want(http.StatusOK).list("items") {
		if item["person_id"] == w.student.person.String() {
			require.Contains(t, item, "person")
			own++
			continue
		}
		require.NotContains(t, item, "person")
		require.Equal(t, []any{"person"}, item["withheld"])
		others++
	}
	require.Equal(t, []int{1, 3}, []int{own, others})
	narrow := w.withToken(access.NewToken{Program: new("club site"), Scopes: []actor.Scope{access.CoursesRead}})
	for _, item := range narrow.get("/v1/enrolments?include=person").want(http.StatusOK).list("items") {
		require.NotContains(t, item, "person", "the token has no people:read")
		require.Equal(t, []any{"person"}, item["withheld"])
	}
}

// ISO 24803:2017, clause 4.1: below the age of majority a parent or guardian
// consents. That a medical answer which needs a physician keeps out of the
// water: UHMS/DMSC diver medical participant questionnaire (2020).
func TestReadinessSaysWhatStandsBetweenAPersonAndTheWater(t *testing.T) {
	s := open(t)
	ready := func(c *client, person any, on string) answer {
		t.Helper()
		return c.get("/v1/people/" + person.(string) + "/readiness?on=" + on).want(http.StatusOK)
	}
	a := ready(s.student, s.student.person.String(), "2026-06-06")
	require.Equal(t, []any{"student", true}, []any{a.at("parts.0.part"), a.at("parts.0.ready")})
	require.Empty(t, a.list("parts.0.findings"))

	minor := s.Student("Nuno Student", "2011-01-01").String()
	s.instructor.post("/v1/people/"+minor+"/papers",
		body{"kind": "medical", "outcome": "physician_needed", "issued_on": "2026-05-30"}).made()
	s.assistant.post("/v1/people/"+minor+"/unfit-marks",
		body{"unfit_on": "2026-06-06"}).want(http.StatusCreated)
	a = ready(s.manager, minor, "2026-06-06")
	require.Equal(t, false, a.at("parts.0.ready"))
	var rules []any
	for _, f := range a.list("parts.0.findings") {
		rules = append(rules, f["rule"])
		require.NotEmpty(t, f["cures"], f["rule"])
	}
	require.Equal(t, []any{"roster.medical_flagged", "roster.minor_consent", "roster.not_fit"}, rules)
	require.Len(t, ready(s.manager, minor, "2026-06-07").list("parts.0.findings"), 2, "the mark is of one day")
	require.Len(t, ready(s.manager, minor, "2029-01-01").list("parts.0.findings"), 1,
		"of age by then, and the physician's word is still missing")

	a = ready(s.manager, s.Manager.String(), "2026-06-06")
	require.Equal(t, []any{"instructor", true}, []any{a.at("parts.0.part"), a.at("parts.0.ready")})
	require.Len(t, a.list("parts"), 1, "a manager has no part in the water")
	helper := s.Person("Ada Assistant", "1990-01-01", "assistant", "student").String()
	a = ready(s.manager, helper, "2026-06-06")
	require.Equal(t, []any{"student", "assistant"}, []any{a.at("parts.0.part"), a.at("parts.1.part")})
	require.Equal(t, false, a.at("parts.1.ready"))
	rules = nil
	for _, f := range a.list("parts.1.findings") {
		rules = append(rules, f["rule"])
	}
	require.Contains(t, rules, "roster.crew_paper")
	require.Contains(t, rules, "roster.assistant_uncounted")

	s.student.get("/v1/people/"+minor+"/readiness?on=2026-06-06").refused(http.StatusForbidden, "missing_role")
	require.Equal(t, "2026-06-01", s.manager.get("/v1/people/"+minor+"/readiness").want(http.StatusOK).at("on"),
		"today")
}
