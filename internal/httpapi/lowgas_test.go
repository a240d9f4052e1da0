package httpapi_test

import (
	"maps"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const untold = "planning.no_low_pressure_told"

// telling briefs everybody of a session by the instructor in charge, who hear it
// there and then; more is what the briefing says beside that.
func (w *season) telling(session string, when time.Time, more body) answer {
	w.t.Helper()
	return w.instructor.post("/v1/sessions/"+session+"/briefings",
		w.tellingBody(session, when, more)).want(http.StatusCreated)
}

func (w *season) tellingBody(session string, when time.Time, more body) body {
	var heard []body
	for _, p := range w.manager.get("/v1/sessions/" + session + "/participants").want(http.StatusOK).list("items") {
		heard = append(heard, body{"person_id": p["person_id"], "how": "said_so"})
	}
	out := body{"briefed_at": at(when), "convention": "digits_bar", "check_every": nil, "heard": heard}
	maps.Copy(out, more)
	return out
}

// opened asks whether a session would open.
func (w *season) opened(session string) answer {
	w.t.Helper()
	return w.instructor.post("/v1/sessions/"+session+"/open?dry_run=true", nil).want(http.StatusOK)
}

// ready is a season of which everything is in order but what is to be told.
func ready(t *testing.T) *season {
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	w.Clock(sunday.Add(-time.Hour))
	return w
}

// Low on gas is signalled at the agreed pressure (training organisations' manuals,
// seen): nobody is to be in the water who was told none.
func TestNobodyDivesWithoutALowGasPressure(t *testing.T) {
	w := ready(t)
	early := sunday.Add(-30 * time.Minute)
	w.Clock(sunday)
	opening, day := "/v1/sessions/"+w.open+"/open", "/v1/people/"+w.instructor.person.String()+"/days/2026-06-07"
	w.telling(w.open, early, nil)
	refused := w.instructor.post(opening, nil).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Len(t, refused.list("findings"), 1, "one thing is wrong, of four people: %s", refused.text)
	f := refused.by(untold)
	require.Equal(t, "Ines Instructor, Abel Assistant, Sofia Student and Tiago Student were told no low-gas pressure for dive 1.", f["message"])
	require.Len(t, f["subjects"], 10, "each of the two students and the two of the crew, as participants and persons, the dive and the session")
	require.Equal(t, "Tell them a low-gas pressure in a briefing, or confirm a plan.",
		f["cures"].([]any)[0].(body)["message"])
	var accept []body
	for _, f := range refused.list("findings") {
		accept = append(accept, body{"rule": untold, "subject_id": f["subjects"].([]any)[0].(body)["id"],
			"reason": "we know the way"})
	}
	w.instructor.post(opening, body{"accept": accept}).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Contains(t, w.instructor.get(day).want(http.StatusOK).list("sessions.0.findings"), f,
		"the day shows what opening would find")

	// One pressure for the whole group cures it, and voiding it takes it away again.
	told := w.telling(w.open, early.Add(time.Minute), body{"pressures": body{"low": of(80, "bar")}}).id()
	require.Equal(t, true, w.opened(w.open).at("allowed"))
	require.NotContains(t, w.instructor.get(day).want(http.StatusOK).rules("sessions.0.findings"), untold)
	w.instructor.post("/v1/entries/"+told+"/void", body{"reason": "said to the other group"}).want(http.StatusOK)
	require.Contains(t, w.opened(w.open).rules("findings"), untold)

	// A turn pressure alone is none at which to signal low on gas, and neither is what
	// somebody says who is in charge of nobody here.
	w.telling(w.open, early.Add(2*time.Minute), body{"pressures": body{"turn": of(120, "bar")}})
	require.Contains(t, w.opened(w.open).rules("findings"), untold)
	other := w.assistant.post("/v1/sessions/"+w.open+"/briefings",
		w.tellingBody(w.open, early.Add(3*time.Minute),
			body{"pressures": body{"low": of(80, "bar")}})).want(http.StatusCreated)
	require.Equal(t, false, other.at("given_in_charge"))
	other.by("planning.told_not_in_charge")
	require.Contains(t, w.opened(w.open).by(untold)["message"], "in charge of no group")

	w.telling(w.open, early.Add(4*time.Minute), body{"pressures": body{"low": of(80, "bar"), "turn": of(110, "bar")}})
	w.instructor.post(opening, nil).want(http.StatusOK)

	// Whoever joins under way is asked too.
	kim := w.Student("Kim Student", "1996-06-06")
	enrolment := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": kim}).made()
	w.credit(enrolment, true)
	join := body{"role": "student", "enrolment_id": enrolment, "group_id": w.openBlue}
	brief := func(minute int, more body) {
		w.instructor.post("/v1/sessions/"+w.open+"/briefings",
			body{"briefed_at": at(early.Add(time.Duration(minute) * time.Minute)), "convention": "digits_bar",
				"check_every": nil,
				"people":      []body{{"person_id": kim}}, "heard": []body{{"person_id": kim,
					"how": "said_so"}}, "pressures": more}).made()
	}
	brief(5, body{"turn": of(110, "bar")})
	alone := w.instructor.post("/v1/sessions/"+w.open+"/participants",
		join).refused(http.StatusUnprocessableEntity, "rules_refused")
	require.Equal(t, []any{untold}, alone.rules("findings"))
	brief(6, body{"low": of(80, "bar")})
	w.instructor.post("/v1/sessions/"+w.open+"/participants", join).made()
}

// What happened is recorded: a time in by somebody who was told no low-gas pressure
// for that dive is, with a finding that forbids, on whichever dive.
func TestATimeInWithoutALowGasPressureIsRecorded(t *testing.T) {
	w := ready(t)
	w.Clock(sunday.Add(2 * time.Hour))
	dives := w.instructor.get("/v1/sessions/" + w.open).at("dives").([]any)
	dive := func(i int) string { return dives[i].(body)["id"].(string) }
	in := func(i int, who string, when time.Time) answer {
		return w.recorded(w.instructor.post("/v1/dives/"+dive(i)+"/times-in",
			body{"items": []body{{"id": newID(), "participant_id": w.part(w.open, who), "in_at": at(when)}}}))
	}
	first := in(0, w.sofia, sunday.Add(5*time.Minute))
	require.Contains(t, first.rules("items.0.findings"), untold)
	w.telling(w.open, sunday.Add(10*time.Minute), body{"pressures": body{"low": of(80, "bar")},
		"dive": body{"dive_id": dive(0), "depth": of(10, "m"), "planned_time": of(20, "min")}})
	require.NotContains(t, in(0, w.tiago, sunday.Add(15*time.Minute)).rules("items.0.findings"), untold)
	entry := "/v1/entries/" + first.at("items.0.id").(string)
	require.Contains(t, w.instructor.get(entry).want(http.StatusOK).rules("findings"), untold, "told after she went in")
	second := in(1, w.tiago, sunday.Add(time.Hour))
	require.Contains(t, second.rules("items.0.findings"), untold, "what was told was for the first dive")
	entry = "/v1/entries/" + second.at("items.0.id").(string)
	w.telling(w.open, sunday.Add(50*time.Minute), body{"pressures": body{"low": of(80, "bar")},
		"dive": body{"dive_id": dive(1)}})
	require.NotContains(t, w.instructor.get(entry).want(http.StatusOK).rules("findings"), untold,
		"entered late, with its own time")
}

// At opening only the first dive is asked about.
func TestOpeningAsksAboutTheFirstDive(t *testing.T) {
	w := ready(t)
	dives := w.instructor.get("/v1/sessions/" + w.open).at("dives").([]any)
	tell := func(i, minute int) {
		w.telling(w.open, sunday.Add(time.Duration(minute-120)*time.Minute),
			body{"pressures": body{"low": of(80, "bar")},
				"dive": body{"dive_id": dives[i].(body)["id"], "depth": of(10, "m"), "planned_time": of(20, "min")}})
	}
	tell(1, 1)
	require.Contains(t, w.opened(w.open).by(untold)["message"], "for dive 1.")
	tell(0, 2)
	require.Equal(t, true, w.opened(w.open).at("allowed"))
	w.instructor.post("/v1/sessions/"+w.open+"/briefings",
		w.tellingBody(w.open, sunday.Add(-90*time.Minute), body{"dive": body{"dive_id": newID()}})).
		refused(http.StatusUnprocessableEntity, "unknown_reference")
}

// Told pressures are judged as a plan's are. Low 300 and turn 400 psi, and start
// 500, turn 400 and low 900 psi, were taken without a word before.
func TestBoldPressuresAreForbiddenAndDoNotCount(t *testing.T) {
	w := ready(t)
	psi := func(n float64) body { return of(n, "psi") }
	for i, c := range []struct {
		name string
		says body
		dive body
		by   []string
	}{
		{"below every floor", body{"low": psi(300), "turn": psi(400)}, nil,
			[]string{"gas.told_below_floor", "gas.told_below_ascent"}},
		{"the wrong way round", body{"start": psi(500), "turn": psi(400), "low": psi(900)}, nil,
			[]string{"gas.told_out_of_order", "gas.start_at_low_gas"}},
		{"start and turn the same", body{"start": of(200, "bar"), "turn": of(200, "bar"),
			"low": of(80, "bar")}, nil, []string{"gas.told_out_of_order"}},
		// 12 m by the US Navy formula leg by leg with two novices under stress: 663 L, as in
		// the plan's worked example, 68 bar in 10 L.
		{"too little for two from 12 m", body{"low": of(65, "bar")}, nil, []string{"gas.told_below_ascent"}},
		{"too little for two from 18 m", body{"low": of(80, "bar")}, body{"depth": of(18, "m")},
			[]string{"gas.told_below_ascent"}},
		{"deeper than the dive may be", body{"low": of(100, "bar")},
			body{"depth": of(80, "ft"), "planned_time": of(20, "min")}, []string{"gas.depth_over_person",
				"gas.depth_over_site"}},
		{"a depth that is none", body{"low": of(100, "bar")}, body{"depth": of(200, "m")},
			[]string{"planning.told_not_judged"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			says := body{"pressures": c.says}
			if c.dive != nil {
				says["dive"] = c.dive
			}
			given := w.telling(w.open, sunday.Add(time.Duration(i-120)*time.Minute), says)
			refused := w.instructor.post("/v1/sessions/"+w.open+"/open",
				nil).refused(http.StatusUnprocessableEntity, "rules_refused")
			refused.by(untold)
			for _, rule := range c.by {
				require.Equal(t, "forbidden", given.by(rule)["severity"])
				require.Equal(t, "forbidden", refused.by(rule)["severity"])
			}
		})
	}
	fine := w.telling(w.open, sunday.Add(-time.Hour), body{"pressures": body{"low": of(70, "bar")}})
	f := fine.by("planning.told_assumed")
	require.Contains(t, f["message"], "10 L, the program's own choice")
	require.Contains(t, f["message"], "12 m, the greatest depth that the dive may have")
	require.Equal(t, []any{nil, of(12, "m"), of(20, "min"), body{"water_volume": of(10, "L"), "count": 1.0}, []any{}},
		[]any{fine.at("dive.dive_id"), fine.at("dive.depth"), fine.at("dive.planned_time"),
			fine.at("dive.cylinder"), fine.at("dive.named")})
	require.Equal(t, true, w.opened(w.open).at("allowed"))
}

// Seven to 80 ft, a child of ten among them: what is told for that depth counts for
// nobody where the site is shallower, and never for the child.
func TestAChildIsNotBriefedBelowTheirDepth(t *testing.T) {
	w := ready(t)
	w.manager.patch("/v1/sites/"+w.bay, body{"max_depth": of(100, "ft")})
	kit := w.Student("Kit Student", "2015-12-01")
	w.Paper(kit, "consent", "valid", "2026-01-01", "2040-01-01")
	enrolment := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": kit}).made()
	w.credit(enrolment, true)
	w.instructor.post("/v1/sessions/"+w.open+"/participants",
		body{"role": "student", "enrolment_id": enrolment, "group_id": w.openBlue}).made()
	// A plan that is refused tells nobody anything, and stays in the way.
	plan := w.planGas(w.everybody(24, 20))
	w.instructor.post("/v1/plans/"+plan.id()+"/confirm", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("gas.depth_over_person")
	w.telling(w.open, sunday.Add(-3*time.Hour), nil)
	refused := w.instructor.post("/v1/sessions/"+w.open+"/open", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused")
	require.Subset(t, refused.rules("findings"), []any{untold, "planning.plan_left_open"})

	given := w.telling(w.open, sunday.Add(-2*time.Hour),
		body{"pressures": body{"low": of(1500, "psi")},
			"dive": body{"depth": of(80, "ft"), "planned_time": of(20, "min")}})
	var who []any
	for _, f := range given.list("findings") {
		if f["rule"] == "gas.depth_over_person" {
			who = append(who, f["params"].(body)["person"].(body)["name"])
		}
	}
	require.Contains(t, who, "Kit Student")
	require.Contains(t, w.opened(w.open).rules("findings"), "gas.depth_over_person")
}

// A cylinder of which nothing is known counts as the smallest of the centre.
func TestTheCentreSetsItsSmallestCylinder(t *testing.T) {
	w := ready(t)
	settings := w.manager.get("/v1/gas-settings").want(http.StatusOK)
	require.Equal(t, body{"water_volume": of(10, "L"), "count": 1.0}, settings.at("smallest_cylinder"), "our choice")
	tell := func(minute int, dive body) answer {
		return w.telling(w.open, sunday.Add(time.Duration(minute-120)*time.Minute),
			body{"pressures": body{"low": of(60, "bar")}, "dive": dive})
	}
	named := body{"depth": of(12, "m"), "planned_time": of(20, "min")}
	tell(1, named).by("gas.told_below_ascent")
	larger := w.manager.patch("/v1/gas-settings", body{"smallest_cylinder": body{"water_volume": of(12, "L"),
		"working_pressure": of(232, "bar")}}).want(http.StatusOK)
	require.Contains(t, larger.at("set"), "smallest_cylinder")
	a := tell(2, named)
	require.NotContains(t, a.rules("findings"), "gas.told_below_ascent", "663 L are 56 bar in 12 L")
	require.Contains(t, a.by("planning.told_assumed")["message"], "12 L, the smallest that the centre has set")
	small := maps.Clone(named)
	small["cylinder"] = body{"rated_capacity": of(63, "cu_ft"), "rated_pressure": of(3000, "psi")}
	tell(3, small).by("gas.told_below_ascent")
	none := w.manager.patch("/v1/gas-settings", body{"smallest_cylinder": nil}).want(http.StatusOK)
	require.Equal(t, of(10, "L"), none.at("smallest_cylinder.water_volume"))
	w.manager.call(http.MethodPatch, "/v1/gas-settings", body{"smallest_cylinder": body{}}, "If-Match",
		none.header.Get("ETag")).refused(http.StatusBadRequest, "invalid_request")
}

// A confirmed plan tells the pressure; withdrawn it does no more, and what it
// superseded does not come back.
func TestAWithdrawnPlanTellsNobodyAnything(t *testing.T) {
	w := ready(t)
	w.telling(w.open, sunday.Add(-3*time.Hour), nil)
	first := w.planGas(w.everybody(10, 20))
	accepting(w.instructor, "/v1/plans/"+first.id()+"/confirm").want(http.StatusOK)
	untoldNow := func() bool {
		for _, rule := range w.opened(w.open).rules("findings") {
			if rule == untold {
				return true
			}
		}
		return false
	}
	require.False(t, untoldNow())
	second := w.instructor.post("/v1/plans/"+first.id()+"/replan",
		body{"reason": "short fill", "divers": []body{{"participant_id": w.part(w.open, w.tiago),
			"start": of(180, "bar")}}}).want(http.StatusCreated)
	accepting(w.instructor, "/v1/plans/"+second.id()+"/confirm").want(http.StatusOK)
	require.False(t, untoldNow())

	withdraw := "/v1/plans/" + second.id() + "/withdraw"
	w.program.post(withdraw, body{"reason": "no"}).refused(http.StatusForbidden, "missing_role")
	w.assistant.post(withdraw, body{"reason": "no"}).refused(http.StatusForbidden, "missing_role")
	w.instructor.post("/v1/plans/"+first.id()+"/withdraw", body{"reason": "no"}).refused(http.StatusConflict,
		"wrong_state")
	for range 2 { // again does no harm
		out := w.instructor.post(withdraw, body{"reason": "another site"}).want(http.StatusOK)
		require.Equal(t, []any{"withdrawn", "another site", w.instructor.person.String()},
			pick(out, "state", "withdrawn.reason", "withdrawn.by"))
	}
	require.True(t, untoldNow())
	require.Equal(t, "superseded", w.instructor.get("/v1/plans/"+first.id()).at("state"))
	w.instructor.post("/v1/plans/"+second.id()+"/confirm", nil).refused(http.StatusConflict, "wrong_state")
	w.instructor.post("/v1/plans/"+newID()+"/withdraw", body{"reason": "no"}).refused(http.StatusNotFound, "not_found")
	third := w.instructor.post("/v1/plans/"+second.id()+"/replan", body{"reason": "back here"}).want(http.StatusCreated)
	accepting(w.instructor, "/v1/plans/"+third.id()+"/confirm").want(http.StatusOK)
	require.False(t, untoldNow())

	// Who moves to another group goes by nothing that was planned for the one before.
	w.instructor.post("/v1/plans/"+third.id()+"/withdraw", body{"reason": "for each group now"}).want(http.StatusOK)
	ask := w.everybody(10, 20)
	ask["group_id"] = w.openBlue
	own := w.planGas(ask)
	accepting(w.instructor, "/v1/plans/"+own.id()+"/confirm").want(http.StatusOK)
	require.False(t, untoldNow())
	vera := w.Crew("Vera Lund", "instructor")
	red := w.manager.post("/v1/sessions/"+w.open+"/groups", body{"name": "red", "instructor_id": vera}).made()
	w.instructor.post("/v1/sessions/"+w.open+"/regroup",
		body{"moves": []body{{"participant_id": w.part(w.open, w.tiago), "group_id": red}}}).want(http.StatusOK)
	require.Equal(t, []string{"Vera Lund", "Tiago Student"},
		namesIn(w.opened(w.open).by(untold)["params"].(body)["people"]))
}

// A plan that was made after the last confirmed one and left open is shown to who
// opens, with what forbids it, and is taken on by name or withdrawn.
func TestAPlanLeftOpenIsACaution(t *testing.T) {
	w := ready(t)
	const leftOpen = "planning.plan_left_open"
	w.telling(w.open, sunday.Add(-3*time.Hour), body{"pressures": body{"low": of(90, "bar")}})
	deep := w.planGas(w.everybody(24, 20))
	opening := "/v1/sessions/" + w.open + "/open"
	f := w.instructor.post(opening, nil).refused(http.StatusUnprocessableEntity, "cautions_open").by(leftOpen)
	require.Equal(t, "caution", f["severity"])
	require.Contains(t, f["params"].(body)["made_at"], "2026-06-07T07:",
		"an instant, for those who write their own words")
	require.Contains(t, f["message"], "made 7 June 2026 08:", "eight in Lisbon, an hour before it starts there")
	require.Contains(t, f["message"], "It is forbidden: ")
	require.Contains(t, f["found"].(body)["text"], "24 m")
	day := "/v1/people/" + w.instructor.person.String() + "/days/2026-06-07"
	require.Contains(t, w.instructor.get(day).want(http.StatusOK).rules("sessions.0.findings"), leftOpen)
	taken := body{"accept": []body{{"rule": leftOpen, "subject_id": deep.id(), "reason": "we stay at 10 m"}}}
	require.Equal(t, true, w.instructor.post(opening+"?dry_run=true", taken).want(http.StatusOK).at("allowed"))

	// Confirming a later plan of the same dive and group settles it, and so does
	// withdrawing what is left open.
	shallow := w.instructor.post("/v1/plans/"+deep.id()+"/replan",
		body{"reason": "shallower", "dive": body{"depth": of(10, "m")}}).want(http.StatusCreated)
	require.Equal(t, shallow.id(), w.opened(w.open).by(leftOpen)["subjects"].([]any)[0].(body)["id"],
		"the newest counts")
	accepting(w.instructor, "/v1/plans/"+shallow.id()+"/confirm").want(http.StatusOK)
	require.NotContains(t, w.opened(w.open).rules("findings"), leftOpen)
	again := w.instructor.post("/v1/plans/"+shallow.id()+"/replan",
		body{"reason": "deeper after all", "dive": body{"depth": of(24, "m")}}).want(http.StatusCreated)
	w.opened(w.open).by(leftOpen)
	w.program.post("/v1/plans/"+again.id()+"/withdraw", body{"reason": "not so deep"}).want(http.StatusOK)
	require.NotContains(t, w.opened(w.open).rules("findings"), leftOpen)
}

// Nobody is asked for a low-gas pressure who does not get into the water: crew
// marked as not diving, and whoever sits out.
func TestWhoStaysDryIsToldNothing(t *testing.T) {
	w := ready(t)
	w.telling(w.open, sunday.Add(-3*time.Hour), nil)
	w.instructor.post("/v1/sessions/"+w.open+"/briefings",
		body{"briefed_at": at(sunday.Add(-2 * time.Hour)), "convention": "digits_bar", "check_every": nil,
			"pressures": body{"low": of(80, "bar")}, "people": []body{{"person_id": w.instructor.person},
				{"person_id": w.student.person}},
			"heard": []body{{"person_id": w.student.person, "how": "said_so"}}}).made()
	asked := func() body { return w.opened(w.open).by(untold)["params"].(body) }
	require.Equal(t, []string{"Abel Assistant", "Tiago Student"}, namesIn(asked()["people"]))
	var cures []any
	for _, c := range w.opened(w.open).by(untold)["cures"].([]any) {
		cures = append(cures, c.(body)["code"])
	}
	require.Contains(t, cures, "not_diving", "Abel comes first by name")
	w.instructor.patch("/v1/participants/"+w.part(w.open, w.assistant.person.String()),
		body{"not_diving": true}).want(http.StatusOK)
	require.Equal(t, "Tiago Student", asked()["person"].(body)["name"])
	w.recorded(w.instructor.post("/v1/sessions/"+w.open+"/roll-calls", body{"items": []body{
		{"id": newID(), "participant_id": w.part(w.open, w.tiago), "attendance": "sat_out",
			"witnessed_at": at(sunday.Add(-time.Hour))}}}))
	require.NotContains(t, w.opened(w.open).rules("findings"), untold)
	require.Equal(t, true, w.opened(w.open).at("allowed"))
}

// namesIn returns the names of things among the parameters of a message.
func namesIn(list any) (out []string) {
	for _, x := range list.([]any) {
		out = append(out, x.(body)["name"].(string))
	}
	return out
}
