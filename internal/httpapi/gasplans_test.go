package httpapi_test

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// everybody is the plan of the blue group in the bay: the instructor, the
// assistant and the two students, to a depth for some minutes.
func (w *season) everybody(depth, minutes float64) body {
	w.t.Helper()
	diver := func(who string, start float64) body {
		return body{"participant_id": w.part(w.open, who),
			"cylinder": body{"water_volume": of(12, "L"),
				"working_pressure": of(232, "bar")}, "start": of(start, "bar")}
	}
	return body{"group_id": w.openBlue,
		"dive": body{"depth": of(depth, "m"), "planned_time": of(minutes, "min")}, "divers": []body{
			diver(w.instructor.person.String(), 210), diver(w.assistant.person.String(), 200), diver(w.sofia,
				205), diver(w.tiago, 200)}}
}

func (w *season) planGas(ask body) answer {
	w.t.Helper()
	return w.instructor.post("/v1/sessions/"+w.open+"/plans", ask).want(http.StatusCreated)
}

// accepting repeats a decision with every caution accepted.
func accepting(c *client, to string) answer {
	c.t.Helper()
	a := c.post(to, nil)
	if a.status == http.StatusOK {
		return a
	}
	a.refused(http.StatusUnprocessableEntity, "cautions_open")
	var accept []body
	for _, f := range a.list("findings") {
		if f["severity"] == "caution" {
			accept = append(accept, body{"rule": f["rule"], "subject_id": f["subjects"].([]any)[0].(body)["id"],
				"reason": "looked at, and taken on"})
		}
	}
	return c.post(to, body{"accept": accept})
}

// A short fill is planned anew and shown as a difference; what is confirmed
// last counts.
func TestAGasPlanIsStoredReplannedAndConfirmed(t *testing.T) {
	w := newSeason(t, open(t))
	ask := w.everybody(10, 20)
	ask["id"] = newID()
	first := w.planGas(ask)
	require.Equal(t, "planned", first.at("state"))
	require.EqualValues(t, of(60, "ft"), first.at("plan.input.dive.site_max_depth"), "as the site says")
	require.EqualValues(t, of(15, "min"), first.at("plan.input.dive.least_time"), "as the syllabus says")
	require.EqualValues(t, of(12, "m"), first.at("plan.input.divers.2.depth_limits.0.depth"),
		"training dives 1 and 2")
	require.Equal(t, "Sofia Student", first.at("plan.input.divers.2.name"))
	require.Nil(t, first.at("difference"))
	again := w.instructor.post("/v1/sessions/"+w.open+"/plans", ask).want(http.StatusOK)
	require.Equal(t, first.id(), again.id())
	ask["dive"].(body)["planned_time"] = of(21, "min")
	w.instructor.post("/v1/sessions/"+w.open+"/plans", ask).refused(http.StatusConflict, "id_reused")

	w.instructor.post("/v1/plans/"+first.id()+"/confirm?dry_run=true", nil).want(http.StatusOK)
	accepting(w.instructor, "/v1/plans/"+first.id()+"/confirm").want(http.StatusOK)
	confirmed := w.instructor.post("/v1/plans/"+first.id()+"/confirm", nil).want(http.StatusOK)
	require.Equal(t, "confirmed", confirmed.at("state"))
	require.Equal(t, w.instructor.person.String(), confirmed.at("confirmed.by"))

	short := w.instructor.post("/v1/plans/"+first.id()+"/replan", body{"reason": "short fill", "divers": []body{
		{"participant_id": w.part(w.open, w.tiago), "start": of(140, "bar")}}}).want(http.StatusCreated)
	require.Equal(t, first.id(), short.at("replaces"))
	require.EqualValues(t, of(200, "bar"), short.at("difference.people.3.start.before"))
	require.EqualValues(t, of(140, "bar"), short.at("difference.people.3.start.after"))
	require.Equal(t, true, short.at("difference.people.3.changed"))
	require.Equal(t, false, short.at("difference.people.2.changed"))
	require.Less(t, short.at("difference.people.3.gas_time.after.value"),
		short.at("difference.people.3.gas_time.before.value"))

	accepting(w.instructor, "/v1/plans/"+short.id()+"/confirm").want(http.StatusOK)
	require.Equal(t, "superseded", w.instructor.get("/v1/plans/"+first.id()).want(http.StatusOK).at("state"))
	w.instructor.post("/v1/plans/"+first.id()+"/confirm", nil).refused(http.StatusConflict, "wrong_state")
	require.Equal(t, []string{first.id(), short.id()},
		w.assistant.get("/v1/sessions/"+w.open+"/plans").want(http.StatusOK).ids())
	w.student.get("/v1/plans/"+first.id()).refused(http.StatusForbidden, "missing_role")

	w.instructor.post("/v1/plans/"+short.id()+"/replan",
		body{"reason": "a guest", "divers": []body{{"participant_id": newID(), "start": of(200, "bar"),
			"cylinder": body{"water_volume": of(12,
				"L")}}}}).refused(http.StatusUnprocessableEntity, "unknown_reference")
	left := w.instructor.post("/v1/plans/"+short.id()+"/replan",
		body{"reason": "the assistant stays ashore",
			"leave_out": []string{w.part(w.open, w.assistant.person.String())},
			"dive":      body{"depth": of(9, "m")}, "settings": body{"stop_time": of(2,
				"min")}}).want(http.StatusCreated)
	left.by("planning.left_out")
	left.by("planning.bolder_than_centre")
	require.Nil(t, left.at("difference.people.3.low.after"))
	w.program.post("/v1/plans/"+left.id()+"/confirm", nil).refused(http.StatusForbidden, "missing_role")
	w.assistant.post("/v1/plans/"+left.id()+"/confirm", nil).refused(http.StatusForbidden, "missing_role")
}

// The steps of a stored plan lead to what was stored, in both units, whatever
// the centre's settings and what is known of its people have become since.
func TestTheStepsOfAStoredPlanLeadToItsFigures(t *testing.T) {
	w := newSeason(t, open(t))
	p := w.planGas(w.everybody(10, 20))
	require.Nil(t, w.instructor.get("/v1/plans/"+p.id()).want(http.StatusOK).at("plan.worked"))
	calculated := w.instructor.post("/v1/plans/calculate?worked=true", p.at("plan.input")).want(http.StatusOK)
	w.manager.patch("/v1/gas-settings", body{"settings": body{"stress": 3}}).want(http.StatusOK)

	a := w.instructor.get("/v1/plans/" + p.id() + "?worked=true").want(http.StatusOK)
	require.Equal(t, p.at("plan.people"), a.at("plan.people"))
	require.Equal(t, calculated.at("worked"), a.at("plan.worked"))
	for i, who := range p.at("plan.people").([]any) {
		board := a.at(fmt.Sprintf("plan.worked.%d", i)).(body)
		require.Equal(t, who.(body)["key"], board["key"])
		low := who.(body)["low"].(body)
		require.Contains(t, fmt.Sprint(board["bar"]), fmt.Sprintf("rounded up: %v bar.", low["value"]))
		require.Contains(t, fmt.Sprint(board["psi"]), "psi of reserve")
		for _, kind := range []string{"bar", "psi", "no_stop"} {
			for _, step := range board[kind].([]any) {
				require.NotEmpty(t, step.(body)["source"])
			}
		}
	}

	w.Super(`UPDATE gas_plan SET result = jsonb_set(result, '{people,0,low,value}', '20')`)
	w.instructor.get("/v1/plans/"+p.id()+"?worked=true").refused(http.StatusConflict, "wrong_state")
	w.instructor.get("/v1/plans/" + p.id()).want(http.StatusOK)
}

// Storing answers 201 whatever the findings are; confirming refuses.
func TestAPlanTooDeepForAStudentIsStoredAndNotConfirmed(t *testing.T) {
	w := newSeason(t, open(t))
	p := w.planGas(w.everybody(14, 20))
	f := p.by("gas.depth_over_person")
	require.Equal(t, "forbidden", f["severity"])
	w.instructor.post("/v1/plans/"+p.id()+"/confirm", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("gas.depth_over_person")
	a := w.instructor.post("/v1/plans/"+p.id()+"/confirm?dry_run=true", nil).want(http.StatusOK)
	require.Equal(t, false, a.at("allowed"))

	ask := w.everybody(10, 20)
	ask["divers"].([]body)[0]["participant_id"] = newID()
	w.instructor.post("/v1/sessions/"+w.open+"/plans", ask).refused(http.StatusUnprocessableEntity,
		"unknown_reference")
	ask = w.everybody(10, 20)
	ask["divers"].([]body)[1]["start"] = of(2900, "bar")
	f = w.instructor.post("/v1/sessions/"+w.open+"/plans", ask).refused(http.StatusBadRequest,
		"invalid_request").by("planning.not_possible")
	require.Equal(t, "/divers/1/start", f["pointer"])
}

func TestTheCentrePlansGasItsOwnWay(t *testing.T) {
	w := newSeason(t, open(t))
	a := w.student.get("/v1/gas-settings").want(http.StatusOK)
	require.Equal(t, []any{}, a.at("set"))
	require.EqualValues(t, of(50, "bar"), a.at("settings.floor"))
	w.instructor.patch("/v1/gas-settings", body{"settings": body{"stress": 1.8}}).refused(http.StatusForbidden,
		"missing_scope")
	w.manager.patch("/v1/gas-settings",
		body{"settings": body{"floor": of(40, "bar")}}).refused(http.StatusBadRequest, "invalid_request")
	f := w.manager.patch("/v1/gas-settings",
		body{"settings": body{"ascent_speed": of(90,
			"m/min")}}).refused(http.StatusBadRequest, "invalid_request").by("planning.not_possible")
	require.Equal(t, "/settings/ascent_speed", f["pointer"])
	a = w.manager.patch("/v1/gas-settings",
		body{"settings": body{"floor": of(70, "bar"), "turn_rule": "halves"}}).want(http.StatusOK)
	require.Equal(t, []any{"floor", "turn_rule"}, a.at("set"))

	ask := w.everybody(6, 20)
	ask["settings"] = body{"floor": of(50, "bar")}
	p := w.planGas(ask)
	require.EqualValues(t, of(70, "bar"), p.at("plan.people.0.low"), "no plan goes below the centre's floor")
	require.Equal(t, "halves", p.at("plan.input.settings.turn_rule"))
	a = w.manager.patch("/v1/gas-settings", body{"settings": body{"turn_rule": nil}}).want(http.StatusOK)
	require.Equal(t, []any{"floor"}, a.at("set"))
}

// A floor that alarms nobody is refused, whatever the reason: 20 bar or 300 psi is the
// least (our choice).
func TestNoReasonSwitchesTheFloorOff(t *testing.T) {
	w := newSeason(t, open(t))
	for _, x := range []body{of(0, "bar"), of(19, "bar"), of(299, "psi")} {
		for pointer, ask := range map[string]body{
			"/settings/floor": {"settings": body{"floor": x}, "reason": "gauges always at hand"},
			"/confined_floor": {"confined_floor": x, "reason": "gauges always at hand"},
		} {
			f := w.manager.patch("/v1/gas-settings", ask).refused(http.StatusBadRequest,
				"invalid_request").by("planning.not_possible")
			require.Equal(t, pointer, f["pointer"])
			require.Contains(t, []any{"at least 20 bar", "at least 300 psi"}, f["limit"].(body)["text"])
			require.NotEmpty(t, f["cures"])
		}
	}
	ask := body{"settings": body{"floor": of(20, "bar")}, "confined_floor": of(300, "psi"),
		"reason": "two metres of water"}
	w.manager.patch("/v1/gas-settings", ask).want(http.StatusOK)
}

// 35 bar and 500 psi are our choice, for water whose surface is near.
func TestTheCentreHasAFloorOfItsOwnForConfinedWater(t *testing.T) {
	w := newSeason(t, open(t))
	floor := func(q any) body { return body{"confined_floor": q} }
	patch := func(b body) answer { return w.manager.patch("/v1/gas-settings", b) }
	a := w.student.get("/v1/gas-settings").want(http.StatusOK)
	require.EqualValues(t, of(35, "bar"), a.at("confined_floor"))
	for _, x := range []body{of(0, "bar"), of(300, "bar"), of(30, "bar"), of(499, "psi")} {
		f := patch(floor(x)).refused(http.StatusBadRequest, "invalid_request").by("planning.not_possible")
		require.Contains(t, []any{"/confined_floor", "/reason"}, f["pointer"])
	}
	w.instructor.patch("/v1/gas-settings", floor(of(40, "bar"))).refused(http.StatusForbidden, "missing_scope")
	a = patch(floor(of(500, "psi"))).want(http.StatusOK)
	require.EqualValues(t, of(500, "psi"), a.at("confined_floor"))
	require.Equal(t, []any{"confined_floor"}, a.at("set"))
	require.NotNil(t, a.at("updated_by"))
	require.EqualValues(t, of(50, "bar"), a.at("settings.floor"), "plans keep theirs")
	a = patch(body{"confined_floor": of(30, "bar"), "reason": "training tank of 2 m"}).want(http.StatusOK)
	require.EqualValues(t, of(30, "bar"), a.at("confined_floor"))
	a = patch(body{"confined_floor": nil, "reason": nil,
		"settings": body{"floor": of(700, "psi")}}).want(http.StatusOK)
	require.EqualValues(t, of(35, "bar"), a.at("confined_floor"))
	require.EqualValues(t, of(700, "psi"), a.at("settings.floor"),
		"50 bar in round figures of that gauge: nobody has to say why")
}
