package httpapi_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/finding"
	answers "tankside/internal/httpapi/answer"
	"tankside/internal/live"
	"tankside/internal/people"
	"tankside/internal/ratio"
	"tankside/internal/roster"
)

const papersNotInOrder = "roster.papers_not_in_order"

// ofPapers are words that name a paper or how somebody's health is, and the ids of
// the rules about them.
var ofPapers = regexp.MustCompile(`(?i)medical|physician|consent|guardian|waiver|first.aid|unfit|not.fit|crew_paper|student_paper|assistant_uncounted|record_paper`)

// booking is a program that books and places, with every scope it may have but
// papers:read.
func (s *shop) booking() *client {
	var scopes []actor.Scope
	for _, x := range access.MostScopes([]actor.Role{actor.Program}) {
		if x != access.PapersRead {
			scopes = append(scopes, x)
		}
	}
	return s.withToken(access.NewToken{Program: new("club page"), Scopes: scopes})
}

// A program places somebody whom a physician has to see first: it is refused, knows
// of whom, and does not learn why. The crew and a program that may read papers do.
func TestAProgramThatMayNotReadPapersLearnsOnlyThatTheyAreNotInOrder(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	page := s.booking()
	person := s.Student("Vera Student", "1997-07-07")
	vera := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": person}).made()
	w.Paper(person, "medical", "physician_needed", "2026-05-30", "2040-01-01")
	w.instructor.post("/v1/people/"+person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-06", "note": "a cold"}).want(http.StatusCreated)
	to, ask := "/v1/courses/"+w.course+
		"/placements", body{"enrolment_ids": []string{vera}, "group_name": "blue",
		"session_ids": []string{w.confined}}

	a := page.post(to, ask).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Equal(t, []any{papersNotInOrder}, a.rules("findings"), "one for each person: %s", a.text)
	f := a.by(papersNotInOrder)
	require.Equal(t, "forbidden", f["severity"])
	require.Equal(t, "What is on record of Vera Student is not in order. Ask the centre.", f["message"])
	require.Equal(t, []any{body{"type": "person", "id": person.String()},
		body{"type": "session", "id": w.confined}}, f["subjects"])
	require.NotRegexp(t, ofPapers, string(a.text))

	dry := page.post(to+"?dry_run=true", ask).want(http.StatusOK)
	require.Equal(t, false, dry.at("allowed"))
	require.Equal(t, []any{papersNotInOrder}, dry.rules("findings"))
	require.NotRegexp(t, ofPapers, string(dry.text))

	for _, c := range []*client{w.manager, w.instructor, w.program} {
		a := c.post(to, ask).refused(http.StatusUnprocessableEntity, "rules_refused")
		require.Subset(t, a.rules("findings"), []any{roster.MedicalFlagged.ID, roster.NotFit.ID})
		require.NotContains(t, a.rules("findings"), papersNotInOrder)
		require.Contains(t, string(a.text), "physician")
	}
}

// Whatever a program reads of sessions says no more: what is noted while planning,
// what stands in the way of opening, and somebody's day.
func TestNoReadingTellsSuchAProgramOfPapers(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	page := s.booking()
	w.Paper(s.student.person, "medical", "physician_refused", "2026-05-30", "2040-01-01")
	w.Clock(saturday)
	w.present(w.confined, saturday)
	heard := false
	for _, path := range []string{"/v1/sessions/" + w.confined, "/v1/sessions/" + w.confined + "/readiness",
		"/v1/sessions/" + w.confined + "/groups", "/v1/groups/" + w.blue,
		"/v1/sessions/" + w.confined + "/participants", "/v1/sessions/" + w.confined +
			"/entries", "/v1/courses/" + w.course + "/enrolments"} {
		a, open := page.get(path), w.manager.get(path)
		require.NotRegexp(t, ofPapers, string(a.text), path)
		require.Equal(t, open.status, a.status, path)
		said := strings.Contains(string(open.text), roster.MedicalFlagged.ID)
		require.Equal(t, said, strings.Contains(string(a.text), papersNotInOrder), path)
		heard = heard || said
	}
	require.True(t, heard, "a reading says it to the crew")
	dry := "/v1/sessions/" + w.confined + "/open?dry_run=true"
	require.Contains(t, string(w.instructor.post(dry, nil).want(http.StatusOK).text), roster.MedicalFlagged.ID)
	require.NotRegexp(t, ofPapers, string(page.post(dry, nil).text))
	for _, path := range []string{"/v1/groups/" + w.blue, "/v1/sessions/" + w.confined +
		"/entries"} { // what has not changed is recognised all the same
		a := page.get(path).want(http.StatusOK)
		page.get(path, "If-None-Match", a.header.Get("ETag")).want(http.StatusNotModified)
	}
}

// What is told live to all is told to each as they may see it: the text that other
// listeners are told stays as it is.
func TestAStreamTellsSuchAProgramNothingOfPapers(t *testing.T) {
	say := func(r finding.Rule, severity finding.Severity, person string) body {
		return body{"rule": r.ID, "severity": severity, "message": "The medical outcome of Ada.",
			"params": body{"person": "Ada"}, "limit": nil, "found": body{"text": "physician refused"},
			"cures": []body{{"code": "record_paper"}}, "subjects": []body{{"type": "person", "id": person},
				{"type": "paper", "id": "9"}}, "pointer": "/items/3"}
	}
	text, err := json.Marshal(body{"data": body{"figure": json.Number("12345678901234567890"),
		"findings": []body{say(roster.StudentPaper, finding.Note, "1"),
			say(ratio.NoInstructor, finding.Caution, "1"), say(roster.MedicalFlagged, finding.Forbidden,
				"1"), say(roster.NotFit, finding.Note, "2")}}})
	require.NoError(t, err)
	for name, m := range map[string]live.Message{"an event": {Text: text},
		"a session": {Sessions: []json.RawMessage{text}}} {
		before := string(text)
		out, err := answers.NewWithheld(app.Rules()).Message(m)
		require.NoError(t, err)
		require.Equal(t, before, string(text), name)
		told := string(out.Text)
		if m.Text == nil {
			told = string(out.Sessions[0])
		}
		a := answer{t: t, asked: name, text: []byte(told)}
		require.Contains(t, told, "12345678901234567890", name)
		require.Equal(t, []any{papersNotInOrder, ratio.NoInstructor.ID, papersNotInOrder},
			a.rules("data.findings"), name)
		require.Equal(t, "forbidden", a.at("data.findings.0.severity"), "as grave as the gravest")
		require.Equal(t, "note", a.at("data.findings.2.severity"))
		require.Equal(t, "/items/3", a.at("data.findings.0.pointer"))
		require.Nil(t, a.at("data.findings.0.found"))
		require.Equal(t, []any{body{"type": "person", "id": "1"}}, a.at("data.findings.0.subjects"))
	}
}

// A rule about papers that is not marked as one is told to everybody. Those of the
// roster that speak of a paper, a medical or fitness in their titles are marked.
func TestEveryRuleAboutPapersIsMarked(t *testing.T) {
	about := regexp.MustCompile(`(?i)paper|medical|consent|insured|not fit`)
	for _, r := range slices.Concat(roster.Rules(), people.Rules()) {
		if r.ID != papersNotInOrder {
			require.Equal(t, about.MatchString(r.Title) && r.ID != "people.scope_beyond_role", r.Papers, r.ID)
		}
	}
}
