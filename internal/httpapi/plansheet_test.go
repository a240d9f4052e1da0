package httpapi_test

import (
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The sheet says whether it may be gone by, and who took on what.
func TestAPlanIsSeenOnOnePage(t *testing.T) {
	w := newSeason(t, open(t))
	ask := w.everybody(10, 20)
	ask["dive_id"] = w.manager.get("/v1/sessions/" + w.open).want(http.StatusOK).at("dives.0.id")
	ask["dive"].(body)["water_temperature"] = of(9, "degC") // below 10 °C is a caution: ISO 24801-3:2014, clause 11.3
	p := w.planGas(ask)
	to := "/v1/plans/" + p.id() + "/sheet"
	page := w.instructor.get(to).want(http.StatusOK)
	require.Equal(t, "text/html; charset=utf-8", page.header.Get("Content-Type"))
	require.Equal(t, "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
		page.header.Get("Content-Security-Policy"))
	require.Contains(t, string(page.text), `class="state open">Not confirmed<`)
	text := func() string {
		a := w.assistant.get(to, "Accept", "text/plain").want(http.StatusOK)
		require.Equal(t, "text/plain; charset=utf-8", a.header.Get("Content-Type"))
		return string(a.text)
	}
	opened := w.bare(http.MethodGet, w.instructor.ticket(to)).want(http.StatusOK)
	require.Equal(t, string(page.text), string(opened.text), "a browser opens it by a ticket")
	low := p.at("plan.people.2.low").(body)
	require.EqualValues(t, "bar", low["unit"])
	for _, said := range []string{"GAS PLAN: Bay 1, dive 1, group blue", "*** Not confirmed", "Sofia Student",
		"In charge: Ines Instructor", "Training dive: 1",
		"Session starts: Sun 7 June 2026, 09:00", "Local law"} {
		require.Contains(t, text(), said)
	}
	accepting(w.instructor, "/v1/plans/"+p.id()+"/confirm").want(http.StatusOK)
	require.Contains(t, text(), "Confirmed by Ines Instructor, Mon 1 June 2026, 10:00")
	require.Contains(t, strings.Join(strings.Fields(text()), " "),
		"Demanding conditions: taken on by Ines Instructor: looked at, and taken on")
	require.NotContains(t, text(), "***")
	short := w.instructor.post("/v1/plans/"+p.id()+"/replan", body{"reason": "short fill", "divers": []body{
		{"participant_id": w.part(w.open, w.tiago), "start": of(190, "bar")}}}).want(http.StatusCreated)
	accepting(w.instructor, "/v1/plans/"+short.id()+"/confirm").want(http.StatusOK)
	require.Contains(t, text(), "*** Superseded by a later plan")
	w.student.get(to).refused(http.StatusForbidden, "missing_role")
}

// A drill takes the turn and low-gas pressures from the plan of record, before
// what the request says.
func TestADrillTakesThePressuresOfThePlan(t *testing.T) {
	w := newSeason(t, open(t))
	p := w.planGas(w.everybody(10, 20))
	accepting(w.instructor, "/v1/plans/"+p.id()+"/confirm").want(http.StatusOK)
	sofia := w.part(w.open, w.sofia)
	a := w.instructor.post("/v1/sessions/"+w.open+"/drill-scripts",
		body{"convention": "digits_bar", "participant_ids": []string{sofia},
			"pressures": []body{{"participant_id": sofia, "turn": of(180, "bar"),
				"low": of(170, "bar")}}}).want(http.StatusOK)
	require.Equal(t, "plan", a.at("students.0.pressures_from"))
	require.EqualValues(t, p.at("plan.people.2.low"), a.at("students.0.low"))
	require.EqualValues(t, p.at("plan.people.2.turn"), a.at("students.0.turn"))
	require.Empty(t, a.at("students.0.left_out"))
}

// Twelve people with many findings stay a page: what forbids names everybody
// whom it concerns, and each caution is said to be taken on once.
func TestTheSheetOfTwelveNamesEverybody(t *testing.T) {
	w := newSeason(t, open(t))
	ask := w.crowd(20, 60)
	p := w.planGas(ask)
	page := html.UnescapeString(string(w.instructor.get("/v1/plans/" + p.id() +
		"/sheet").want(http.StatusOK).text))
	items := regexp.MustCompile(`(?s)<li class="forbidden">.*?</li>`).FindAllString(page, -1)
	require.Less(t, len(items), 6)
	forbidden := 0
	for _, f := range p.list("findings") {
		who, _ := f["params"].(body)["person"].(body)
		name, _ := who["name"].(string)
		if f["severity"] != "forbidden" || name == "" {
			continue
		}
		forbidden++
		require.True(t, slices.ContainsFunc(items,
			func(s string) bool {
				return strings.Contains(s, "The plan goes to") &&
					strings.Contains(s, name)
			}), "%v", f)
	}
	require.Equal(t, 9, forbidden,
		"every student goes deeper than the training dive allows: the built-in syllabus, dives 1 and 2 to 12 m")

	ask["dive"] = body{"depth": of(10, "m"), "planned_time": of(45, "min")}
	p = w.planGas(ask)
	accepting(w.instructor, "/v1/plans/"+p.id()+"/confirm").want(http.StatusOK)
	text := string(w.instructor.get("/v1/plans/"+p.id()+"/sheet", "Accept",
		"text/plain").want(http.StatusOK).text)
	require.Greater(t, len(p.list("findings")), 5)
	require.Equal(t, 1, strings.Count(text, "taken on by"))
}
