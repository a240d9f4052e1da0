package httpapi_test

import (
	"maps"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// named gives the people of a briefing by their names.
func named(a answer) map[string]body {
	out := map[string]body{}
	for _, p := range a.list("people") {
		out[p["name"].(string)] = p
	}
	return out
}

func TestABriefingIsGivenAndAcknowledged(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	to := "/v1/sessions/" + w.confined + "/briefings"
	give := body{"id": newID(), "briefed_at": at(saturday.Add(-10 * time.Minute)), "convention": "digits_bar",
		"check_every": body{"value": 2, "unit": "min"},
		"pressures": body{"start": body{"value": 207, "unit": "bar"}, "turn": body{"value": 105, "unit": "bar"},
			"low": body{"value": 55, "unit": "bar"}},
		"roles": []body{{"role": "lead", "person_id": w.instructor.person},
			{"role": "oxygen", "name": "the front desk"}}, "note": "New fins."}
	a := w.instructor.post(to, give)
	id := a.made()
	w.instructor.post(to, give).want(http.StatusOK)
	give["note"] = "Other"
	w.instructor.post(to, give).refused(http.StatusConflict, "id_reused")

	// Down for a start, up for turn and low, to 10 bar (common practice).
	all := named(a)
	sofia := all["Sofia Student"]
	shown := func(name string) any {
		return sofia["figures"].([]any)[0].(body)[name].(body)["shown"].(body)["reading"]
	}
	require.Equal(t, []any{body{"value": 200.0, "unit": "bar"}, body{"value": 110.0, "unit": "bar"},
		body{"value": 60.0, "unit": "bar"}},
		[]any{shown("start"), shown("turn"), shown("low")})
	require.Nil(t, sofia["briefed_at"])
	require.Equal(t, "gave_it", all["Ines Instructor"]["acknowledgement"].(body)["how"],
		"who gave it has heard it")
	require.Equal(t, "Look for your buddy for one minute, then ascend slowly and meet at the surface.",
		a.at("when_separated"), "common practice")
	a.by("planning.no_confirmed_plan")
	a.by("planning.role_open")
	require.Equal(t, "Ines Instructor", a.at("roles.0.name"))

	w.student.post("/v1/briefings/"+id+"/acknowledge", nil).want(http.StatusOK)
	again := w.student.post("/v1/briefings/"+id+"/acknowledge", body{}).want(http.StatusOK)
	require.Equal(t, "own_token", named(again)["Sofia Student"]["acknowledgement"].(body)["how"])
	require.NotNil(t, named(again)["Sofia Student"]["briefed_at"])
	w.program.post("/v1/briefings/"+id+"/acknowledge", nil).refused(http.StatusForbidden, "missing_role")
	w.manager.post("/v1/briefings/"+id+"/acknowledge", nil).refused(http.StatusForbidden, "missing_role")
	stranger := w.as(w.Student("Stella Stranger", "1990-01-01"))
	stranger.post("/v1/briefings/"+id+"/acknowledge", nil).refused(http.StatusNotFound, "not_found")
	stranger.get("/v1/briefings/"+id).refused(http.StatusNotFound, "not_found")
	require.Empty(t, stranger.get(to).want(http.StatusOK).list("items"))
	list := w.student.get(to).want(http.StatusOK)
	require.Len(t, list.list("items"), 1)
	w.student.get(to, "If-None-Match", list.header.Get("ETag")).want(http.StatusNotModified)

	said := newID()
	enter := body{"items": []body{
		{"id": said, "person_id": all["Tiago Student"]["person_id"], "how": "said_so",
			"witnessed_at": at(saturday)},
		{"id": newID(), "person_id": stranger.person, "how": "said_so", "witnessed_at": at(saturday)},
		{"id": newID(), "person_id": w.assistant.person, "how": "signalled",
			"witnessed_at": at(saturday.Add(time.Hour))}}}
	r := w.instructor.post("/v1/briefings/"+id+"/acknowledgements", enter).want(http.StatusOK)
	require.Equal(t, []any{"recorded", "refused", "refused"},
		[]any{r.at("items.0.status"), r.at("items.1.status"), r.at("items.2.status")})
	require.Equal(t, "already_recorded",
		w.instructor.post("/v1/briefings/"+id+"/acknowledgements", enter).at("items.0.status"))
	w.student.post("/v1/briefings/"+id+"/acknowledgements", enter).refused(http.StatusForbidden,
		"missing_scope")
	tiago := named(w.instructor.get("/v1/briefings/" +
		id).want(http.StatusOK))["Tiago Student"]["acknowledgement"].(body)
	require.Equal(t, []any{"said_so", w.instructor.person.String(), said},
		[]any{tiago["how"], tiago["witnessed_by"], tiago["id"]})
	require.Equal(t, w.instructor.person.String(), tiago["recorded_by"])
	w.instructor.post("/v1/entries/"+said+"/void", body{"reason": "he was on the phone"}).want(http.StatusOK)
	require.Nil(t, named(w.instructor.get("/v1/briefings/" + id))["Tiago Student"]["briefed_at"])
	w.instructor.post("/v1/entries/"+id+"/void", body{"reason": "the wrong session"}).want(http.StatusOK)
	w.student.post("/v1/briefings/"+id+"/acknowledge", nil).refused(http.StatusConflict, "wrong_state")
}

func TestABriefingThatCannotBeSo(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	to := "/v1/sessions/" + w.confined + "/briefings"
	give := func(more body) answer {
		b := body{"briefed_at": at(saturday), "convention": "digits_bar", "check_every": nil}
		for k, v := range more {
			b[k] = v
		}
		return w.instructor.post(to, b)
	}
	give(body{"briefed_at": at(saturday.Add(6 * time.Minute))}).refused(http.StatusBadRequest,
		"invalid_request")
	give(body{"convention": "of_nothing"}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	give(body{"people": []body{{"person_id": newID()}}}).refused(http.StatusUnprocessableEntity,
		"unknown_reference")
	give(body{"people": []body{{"person_id": w.student.person},
		{"person_id": w.student.person}}}).refused(http.StatusBadRequest, "invalid_request")
	give(body{"pressures": body{"low": body{"value": 5100, "unit": "psi"}}}).refused(http.StatusBadRequest,
		"invalid_request")
	give(body{"roles": []body{{"role": "lead"}}}).refused(http.StatusBadRequest, "invalid_request")
	give(body{"given_by": w.student.person}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	give(body{"heard": []body{{"person_id": newID(),
		"how": "said_so"}}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	w.instructor.post(to, body{"briefed_at": at(saturday),
		"convention": "digits_bar"}).refused(http.StatusBadRequest, "invalid_request")
	w.student.post(to, body{"briefed_at": at(saturday), "convention": "digits_bar",
		"check_every": nil}).refused(http.StatusForbidden, "missing_scope")
	none := give(nil)
	none.made()
	none.by("planning.no_check_interval")
	none.by("planning.no_low_pressure")
	require.Nil(t, none.at("check_every"), "no interval is assumed")
}

// A T is 100 bar here and asks for decompression there (trade).
func TestWhoWasTrainedElsewhereIsPointedOut(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	a := w.instructor.post("/v1/sessions/"+w.confined+"/briefings",
		body{"briefed_at": at(saturday), "convention": "tee_bar", "check_every": nil,
			"people": []body{{"person_id": w.student.person, "knows": "digits_bar_tee_decompression",
				"low": body{"value": 800, "unit": "psi"}}}})
	a.made()
	f := a.by("planning.knows_other_convention")
	require.Contains(t, f["message"], "tee: here the number 100 bar, there decompression")
	p := named(a)["Sofia Student"]
	require.Equal(t, "digits_bar_tee_decompression", p["knows"])
	require.Contains(t, p["differences"],
		body{"what": "tee", "here": "the number 100 bar", "there": "decompression"})
	require.Equal(t, body{"value": 60.0, "unit": "bar"},
		p["figures"].([]any)[0].(body)["low"].(body)["shown"].(body)["reading"],
		"800 psi is 55.2 bar, up to the next 10 bar in the unit of her gauge")

	// Said once, it holds for later briefings, in any session, until another says otherwise.
	give := func(session, convention string, minute int, more body) answer {
		b := body{"briefed_at": at(saturday.Add(time.Duration(minute) * time.Minute)), "convention": convention,
			"check_every": nil}
		maps.Copy(b, more)
		return w.instructor.post("/v1/sessions/"+session+"/briefings", b).want(http.StatusCreated)
	}
	said := func(code string) body {
		return body{"people": []body{{"person_id": w.student.person,
			"knows": code}}}
	}
	again := give(w.confined, "tee_bar", 1, nil)
	again.by("planning.knows_other_convention")
	require.Equal(t, "digits_bar_tee_decompression", named(again)["Sofia Student"]["knows"])
	same := give(w.confined, "digits_bar_tee_decompression", 2, nil)
	require.Nil(t, named(same)["Sofia Student"]["knows"], "what she knows is what is agreed")
	give(w.confined, "tee_bar", 3, said("tee_bar"))
	require.Nil(t, named(give(w.confined, "tee_bar", 4, nil))["Sofia Student"]["knows"],
		"she has learned it since")
	require.Equal(t, "tee_bar", named(give(w.confined, "digits_bar", 5, nil))["Sofia Student"]["knows"])
}

// What was changed for nobody need not be heard again; what was changed for one
// only by that one.
func TestOnlyWhomAChangeConcernsAcknowledgesAgain(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	give := func(minute int, low float64, more body) answer {
		b := body{"briefed_at": at(saturday.Add(time.Duration(minute-30) * time.Minute)),
			"convention": "digits_bar", "check_every": nil,
			"people": []body{{"person_id": w.student.person},
				{"person_id": w.PersonOf(mustID(w.tiago)), "low": body{"value": low, "unit": "bar"}}}}
		for k, v := range more {
			b[k] = v
		}
		return w.instructor.post("/v1/sessions/"+w.confined+"/briefings", b)
	}
	both := body{"heard": []body{{"person_id": w.student.person, "how": "said_so"},
		{"person_id": w.PersonOf(mustID(w.tiago)), "how": "said_so"}}}
	briefed := func(id string) []bool {
		p := named(w.instructor.get("/v1/briefings/" + id).want(http.StatusOK))
		return []bool{p["Sofia Student"]["briefed_at"] != nil, p["Tiago Student"]["briefed_at"] != nil}
	}
	first := give(1, 50, both).made()
	require.Equal(t, []bool{true, true}, briefed(first))
	second := give(2, 70, body{"note": "Tiago has a smaller cylinder."}).made()
	require.Equal(t, []bool{true, false}, briefed(second), "only Tiago's own figure changed")
	require.Equal(t, []bool{false, false}, briefed(first), "only the newest counts")
	third := give(3, 50, nil).made()
	require.Equal(t, []bool{true, false}, briefed(third),
		"back to what he once heard, after something else: he hears it again")
	fourth := give(4, 50, body{"when_low": "Thumb up at once."}).made()
	require.Equal(t, []bool{false, false}, briefed(fourth), "what is agreed for all concerns all")
	late := give(0, 50, nil).made()
	require.Equal(t, []bool{false, false}, briefed(late), "entered last and given first, it does not count")
	w.instructor.post("/v1/entries/"+fourth+"/void", body{"reason": "not said after all"}).want(http.StatusOK)
	require.Equal(t, []bool{true, false}, briefed(third))
}

func TestNobodyGetsIntoTheWaterUnbriefed(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	w.present(w.confined, saturday)
	w.credit(w.sofia, false)
	w.credit(w.tiago, false)
	opening := "/v1/sessions/" + w.confined + "/open"
	f := w.instructor.post(opening, nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("sessions.not_briefed")
	require.Equal(t, "brief", f["cures"].([]any)[0].(body)["code"])

	// Logged without coverage, before the briefing was entered.
	dive := w.manager.get("/v1/sessions/" + w.confined).at("dives.0.id").(string)
	in := func(enrolment string, when time.Time) answer {
		return w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
			body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, enrolment),
				"in_at": at(when)}}}))
	}
	require.Contains(t, in(w.sofia, saturday).rules("items.0.findings"), "training.not_briefed")
	id := w.brief(w.confined, saturday.Add(-5*time.Minute))
	require.NotContains(t, in(w.tiago, saturday).rules("items.0.findings"), "training.not_briefed")
	w.instructor.post(opening, nil).want(http.StatusOK)

	// Whoever joins while it is under way is briefed before.
	nina := w.Student("Nina New", "1990-01-01")
	enrolment := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": nina}).made()
	join := body{"role": "student", "enrolment_id": enrolment, "group_id": w.blue}
	w.manager.post("/v1/sessions/"+w.confined+"/participants", join).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("sessions.not_briefed")
	w.instructor.post("/v1/sessions/"+w.confined+"/briefings",
		body{"briefed_at": at(saturday), "convention": "digits_bar", "check_every": nil,
			"people": []body{{"person_id": nina, "low": of(60, "bar")}}, "heard": []body{{"person_id": nina,
				"how": "signalled"}}}).made()
	w.manager.post("/v1/sessions/"+w.confined+"/participants", join).made()
	require.NotNil(t, named(w.instructor.get("/v1/briefings/" + id))["Tiago Student"]["briefed_at"],
		"the others keep theirs")
}

func TestABriefingOnOnePage(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday)
	id := w.brief(w.confined, saturday)
	html := w.student.get("/v1/briefings/"+id+"/sheet", "Accept", "text/html").want(http.StatusOK)
	require.Equal(t, "text/html; charset=utf-8", html.header.Get("Content-Type"))
	require.Contains(t, html.header.Get("Content-Security-Policy"), "default-src 'none'")
	for _, said := range []string{"Sofia Student", "Fist to the chest", "<svg",
		"Look for your buddy for one minute", "Caution."} {
		require.Contains(t, string(html.text), said)
	}
	require.NotContains(t, string(html.text), "<script")
	plain := w.student.get("/v1/briefings/"+id+"/sheet", "Accept", "text/plain").want(http.StatusOK)
	require.Equal(t, "text/plain; charset=utf-8", plain.header.Get("Content-Type"))
	require.True(t, strings.HasPrefix(string(plain.text), "BRIEFING: Pool 1"), "%s", plain.text)
	w.as(w.Student("Stella Stranger", "1990-01-01")).get("/v1/briefings/"+id+
		"/sheet").refused(http.StatusNotFound, "not_found")
}

func mustID(text string) uuid.UUID { return uuid.MustParse(text) }

// A short fill, planned and confirmed after the briefing: who starts with less is
// told so before the session opens, and nobody else is asked again.
func TestAPlanConfirmedAfterTheBriefingAsksForAnother(t *testing.T) {
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	w.Clock(sunday.Add(-time.Hour))
	w.present(w.open, sunday.Add(-time.Hour))
	first := w.planGas(w.everybody(10, 20))
	accepting(w.instructor, "/v1/plans/"+first.id()+"/confirm").want(http.StatusOK)
	brief := func(when time.Time, people ...body) string {
		b := body{"briefed_at": at(when), "convention": "digits_bar", "check_every": nil}
		var heard []body
		if people == nil {
			for _, p := range w.manager.get("/v1/sessions/" + w.open + "/participants").list("items") {
				heard = append(heard, body{"person_id": p["person_id"], "how": "said_so"})
			}
		} else {
			b["people"], heard = people, []body{{"person_id": people[0]["person_id"], "how": "signalled"}}
		}
		b["heard"] = heard
		w.Clock(when)
		return w.instructor.post("/v1/sessions/"+w.open+"/briefings", b).made()
	}
	given := brief(sunday.Add(-30 * time.Minute))
	briefed := func(name string) any {
		return named(w.instructor.get("/v1/briefings/" +
			given))[name]["briefed_at"]
	}
	require.NotNil(t, briefed("Tiago Student"))

	short := w.instructor.post("/v1/plans/"+first.id()+"/replan", body{"reason": "short fill", "divers": []body{
		{"participant_id": w.part(w.open, w.tiago), "start": of(157, "bar")}}}).want(http.StatusCreated)
	confirmed := accepting(w.instructor, "/v1/plans/"+short.id()+"/confirm").want(http.StatusOK)
	again := confirmed.by("planning.brief_again")
	require.Equal(t, "note", again["severity"])
	require.Contains(t, again["message"], "Tiago Student (told start 200 bar")
	require.NotContains(t, again["message"], "Sofia")
	require.Nil(t, briefed("Tiago Student"))
	require.NotNil(t, briefed("Sofia Student"))
	sheet := w.instructor.get("/v1/briefings/"+given+"/sheet", "Accept", "text/plain").want(http.StatusOK)
	require.Contains(t, strings.Join(strings.Fields(string(sheet.text)), " "),
		"other pressures count now for 1 of 4: brief them again")

	opening := "/v1/sessions/" + w.open + "/open"
	refused := w.instructor.post(opening, nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	f := refused.by("planning.briefing_outdated")
	require.Len(t, refused.list("findings"), 1, "%s", refused.text)
	require.Equal(t, "brief_again", f["cures"].([]any)[0].(body)["code"])
	require.Contains(t, f["found"].(body)["text"], "start 200 bar",
		"what was told, down to 10 bar (common practice)")
	require.Contains(t, f["limit"].(body)["text"], "start 150 bar", "157 bar is shown as 150")
	day := "/v1/people/" + w.instructor.person.String() + "/days/2026-06-07"
	require.Contains(t, w.instructor.get(day).want(http.StatusOK).rules("sessions.0.findings"),
		"planning.briefing_outdated")

	tiago := w.manager.get("/v1/enrolments/" + w.tiago).at("person_id")
	brief(sunday.Add(-20*time.Minute), body{"person_id": tiago})
	w.instructor.post(opening, nil).want(http.StatusOK)

	// Under way, another plan stops nothing, and what speaks against it is said.
	anew := w.instructor.post("/v1/plans/"+short.id()+"/replan",
		body{"reason": "another cylinder", "divers": []body{
			{"participant_id": w.part(w.open, w.tiago), "start": of(190, "bar")}}}).want(http.StatusCreated)
	accepting(w.instructor, "/v1/plans/"+anew.id()+"/confirm").want(http.StatusOK)
	require.Equal(t, "under_way", w.instructor.get("/v1/sessions/"+w.open).at("state"))
	require.Contains(t, w.instructor.get(day).want(http.StatusOK).rules("sessions.0.findings"),
		"planning.briefing_outdated")
	dive := w.instructor.get("/v1/sessions/" + w.open).at("dives.0.id").(string)
	w.Clock(sunday.Add(10 * time.Minute))
	start := newID()
	in := w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in", body{"items": []body{
		{"id": start, "participant_id": w.part(w.open, w.tiago), "in_at": at(sunday)}, {"id": newID(),
			"participant_id": w.part(w.open, w.sofia), "in_at": at(sunday)}}}))
	require.Contains(t, in.rules("items.0.findings"), "planning.briefing_outdated")
	require.NotContains(t, in.rules("items.1.findings"), "planning.briefing_outdated")
	require.Contains(t, w.instructor.get("/v1/entries/"+start).want(http.StatusOK).rules("findings"),
		"planning.briefing_outdated", "found anew on reading")
}

// The sheet names the dive that its pressures are told for: its depth and its time,
// and which of them the briefing did not name.
func TestABriefingsSheetNamesTheDiveThatItsPressuresAreFor(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(sunday)
	dives := w.instructor.get("/v1/sessions/" + w.open + "/dives").want(http.StatusOK).list("items")
	for _, x := range []struct {
		dive body
		want string
	}{
		{body{"dive_id": dives[1]["id"], "depth": of(10, "m"), "planned_time": of(25, "min")},
			"dive 2, to 10 m, 25 min until the ascent"},
		{body{"depth": of(33, "ft")}, "every dive, to 33 ft, 20 min until the ascent (assumed)"},
		{nil, "every dive, to 12 m (assumed), 20 min until the ascent (assumed)"}, // dives 1 and 2: to 12 m, by the built-in syllabus
	} {
		ask := body{"briefed_at": at(sunday), "convention": "digits_bar", "check_every": nil,
			"pressures": body{"low": of(100, "bar")}, "heard": []body{}}
		if x.dive != nil {
			ask["dive"] = x.dive
		}
		id := w.instructor.post("/v1/sessions/"+w.open+"/briefings", ask).made()
		for _, form := range []string{"text/plain", "text/html"} {
			page := string(w.instructor.get("/v1/briefings/"+id+"/sheet", "Accept",
				form).want(http.StatusOK).text)
			require.Contains(t, strings.Join(strings.Fields(page), " "), x.want, "on however many lines")
			require.Contains(t, page, "Pressures told for")
		}
	}
}
