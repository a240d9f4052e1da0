package httpapi_test

import (
	"maps"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// descent is Sofia's dive of Sunday, by a plan that turns at half of the usable
// gas and a briefing that agreed a look every two minutes. Her gauge falls by
// 5 bar a minute at one depth: 30 bar above the turn pressure after two minutes,
// at it after eight.
type descent struct {
	*season
	dive, start, sofia string
	turn, low          float64
}

func newDescent(t *testing.T) *descent {
	d := &descent{season: newSeason(t, open(t)), start: newID()}
	d.sofia = d.part(d.open, d.season.sofia)
	d.dive = d.instructor.get("/v1/sessions/" + d.open).at("dives.0.id").(string)
	d.Clock(sunday.Add(-time.Hour))
	ask := d.everybody(10, 20)
	ask["settings"] = body{"turn_rule": "halves"}
	p := d.planGas(ask)
	accepting(d.instructor, "/v1/plans/"+p.id()+"/confirm").want(http.StatusOK)
	d.turn, d.low = p.at("plan.people.2.turn.value").(float64), p.at("plan.people.2.low.value").(float64)
	d.instructor.post("/v1/sessions/"+d.open+"/briefings",
		body{"briefed_at": at(sunday.Add(-time.Hour)), "convention": "digits_bar", "check_every": of(2, "min"),
			"heard": []body{{"person_id": d.student.person, "how": "said_so"}}}).made()
	d.Clock(sunday.Add(time.Minute))
	d.recorded(d.instructor.post("/v1/dives/"+d.dive+"/times-in",
		body{"items": []body{{"id": d.start, "participant_id": d.sofia, "in_at": at(sunday)}}}))
	return d
}

func (d *descent) after(minutes float64) time.Time {
	return sunday.Add(time.Duration(minutes * float64(time.Minute)))
}

// reads logs a look at a moment of the dive, and gives the check's id.
func (d *descent) reads(minutes, bar float64) string {
	d.t.Helper()
	d.Clock(d.after(minutes))
	c := d.look(d.after(minutes), bar, float64(int(bar/10)*10)) // reported rounded down to 10 bar (common practice)
	d.recorded(d.instructor.post("/v1/sessions/"+d.open+"/gas-checks", body{"items": []body{c}}))
	return c["id"].(string)
}

// does records a response, and gives its id.
func (d *descent) does(minutes float64, participant, what string) string {
	d.t.Helper()
	d.Clock(d.after(minutes))
	id := newID()
	d.recorded(d.instructor.post("/v1/sessions/"+d.open+"/responses",
		body{"items": []body{{"id": id, "participant_id": participant, "what": what,
			"witnessed_at": at(d.after(minutes))}}}))
	return id
}

func (d *descent) watched() body {
	d.t.Helper()
	return divers(d.instructor.get("/v1/sessions/"+d.open+"/watch").want(http.StatusOK), d.sofia)
}

func (d *descent) logged() body {
	d.t.Helper()
	return divers(d.instructor.get("/v1/sessions/"+d.open+"/gas-log").want(http.StatusOK),
		d.sofia)["dives"].([]any)[0].(body)
}

// down takes the looks up to the turn pressure, and gives the check at it.
func (d *descent) down() (check string) {
	d.t.Helper()
	for _, m := range []float64{2, 4, 6, 8} {
		check = d.reads(m, d.turn+5*(8-m))
	}
	return check
}

// expected gives, of each response that a mark asks for, how it stands.
func expected(mark any) (out []any) {
	for _, e := range mark.(body)["expected"].([]any) {
		out = append(out, e.(body)["what"].(string)+" "+e.(body)["state"].(string))
	}
	return out
}

// A reading at the turn or low-gas pressure has reached it (common practice: the
// safe side is down). At the turn the group turns; low on gas is signalled, and
// the ascent begins.
func TestAMarkIsReachedAndAnswered(t *testing.T) {
	d := newDescent(t)
	require.Greater(t, d.turn, d.low)
	require.Empty(t, d.watched()["reached"])
	check := d.down()
	w := d.watched()
	turn := w["reached"].([]any)[0].(body)
	require.Equal(t, []any{"turn", check, of(d.turn, "bar"), of(d.turn, "bar"), "reading"},
		[]any{turn["mark"], turn["check_id"], turn["limit"], turn["found"], turn["from"]})
	require.Equal(t, []any{"turned pending"}, expected(turn))
	require.Equal(t, "turned", w["pending_response"])

	tiago := d.part(d.open, d.tiago)
	turned := d.does(9, tiago, "turned")
	w = d.watched()
	require.Nil(t, w["pending_response"], "her buddy turned, and with him the group")
	e := w["reached"].([]any)[0].(body)["expected"].([]any)[0].(body)
	require.Equal(t, []any{"done", of(60, "s"), turned, "2026-06-07T08:09:00Z"},
		[]any{e["state"], e["after"], e["ended_by"], e["ended_at"]})

	atLow := d.after(8 + (d.turn-d.low)/5).Sub(sunday).Minutes()
	d.reads(atLow, d.low)
	w = d.watched()
	require.Equal(t, []any{"signalled_low pending", "ascent_begun pending"}, expected(w["reached"].([]any)[1]))
	require.Equal(t, "signalled_low", w["pending_response"])
	require.Equal(t, []any{nil, "the low-gas pressure has been reached"}, []any{w["trend"], w["no_trend"]})
	d.does(atLow, d.sofia, "signalled_low")
	require.Equal(t, "ascent_begun", d.watched()["pending_response"])
	d.does(atLow+1, d.sofia, "ascent_begun")
	require.Nil(t, d.watched()["pending_response"])
	log := d.logged()
	require.Equal(t, []any{"turned done"}, expected(log["reached"].([]any)[0]))
	require.Equal(t, []any{"signalled_low done", "ascent_begun done"}, expected(log["reached"].([]any)[1]))
}

// What nobody answered stays pending until the dive ends, and is found then. A
// report counts where nobody saw the gauge.
func TestAMarkThatNobodyAnswered(t *testing.T) {
	d := newDescent(t)
	d.Clock(d.after(6))
	d.recorded(d.instructor.post("/v1/sessions/"+d.open+"/gas-checks",
		body{"items": []body{d.look(d.after(6), 0, float64(int(d.low/10)*10))}}))
	w := d.watched()
	require.Len(t, w["reached"], 2, "below low-gas is below turn too")
	require.Equal(t, "report", w["reached"].([]any)[1].(body)["from"])
	require.Equal(t, "signalled_low", w["pending_response"], "the gravest")
	d.Clock(d.after(8))
	end := newID()
	d.recorded(d.instructor.post("/v1/dives/"+d.dive+"/times-out",
		body{"items": []body{{"id": end, "time_in_id": d.start, "out_at": at(d.after(8))}}}))
	log := d.logged()
	require.Equal(t, []any{"signalled_low dive_ended", "ascent_begun dive_ended"},
		expected(log["reached"].([]any)[1]))
	require.Equal(t, end, log["reached"].([]any)[1].(body)["expected"].([]any)[0].(body)["ended_by"])
	var rules []any
	for _, f := range log["findings"].([]any) {
		rules = append(rules, f.(body)["rule"])
	}
	require.Contains(t, rules, "signal.response_not_seen")
}

// At one depth the pressure falls in a straight line: 5 bar a minute from the
// turn pressure come to the low-gas pressure after a fifth of the difference in
// minutes (arithmetic). One more reading on the same line moves nothing, and
// leaves less uncertain (any textbook of straight lines).
func TestTheTrendForetellsWhenGasIsLow(t *testing.T) {
	d := newDescent(t)
	d.reads(2, d.turn+30)
	require.Equal(t, []any{nil, "a trend needs two readings of the gauge at different times"},
		[]any{d.watched()["trend"], d.watched()["no_trend"]})
	d.reads(4, d.turn+20)
	d.reads(6, d.turn+10)
	low := d.after(8 + (d.turn-d.low)/5)
	instant := func(trend body, name string) time.Time {
		x, err := time.Parse(time.RFC3339, trend[name].(string))
		require.NoError(t, err)
		return x
	}
	spread := func(readings float64) time.Duration {
		w := d.watched()
		require.Nil(t, w["no_trend"])
		trend := w["trend"].(body)
		require.Equal(t, []any{of(5, "bar"), readings, []any{}, "known"},
			[]any{trend["falls_in_a_minute"], trend["readings"], trend["left_out"], trend["depth"]})
		require.WithinDuration(t, low, instant(trend, "low_gas_at"), 2*time.Second)
		require.True(t, instant(trend, "earliest_at").Before(low), "%v", trend)
		require.True(t, instant(trend, "latest_at").After(low), "%v", trend)
		return instant(trend, "latest_at").Sub(instant(trend, "earliest_at"))
	}
	three := spread(3)
	d.reads(8, d.turn)
	require.Less(t, spread(4), three)
}

// A look every two minutes was agreed; from minute 8 to minute 12 nobody looked,
// which is judged once the log is complete, and not before: an unlogged look is
// no lapse (common practice).
func TestALateCheckIsJudgedInACompleteLog(t *testing.T) {
	d := newDescent(t)
	before := d.down()
	require.Equal(t, "2026-06-07T08:10:00Z", d.watched()["due_at"])
	after := d.reads(12, d.turn-20)
	d.Clock(d.after(14))
	end := newID()
	d.recorded(d.instructor.post("/v1/dives/"+d.dive+"/times-out",
		body{"items": []body{{"id": end, "time_in_id": d.start, "out_at": at(d.after(14))}}}))
	require.Nil(t, d.watched()["due_at"], "out of the water")
	require.Empty(t, d.logged()["gaps"])
	d.recorded(d.instructor.post("/v1/sessions/"+d.open+"/log-completions",
		body{"items": []body{{"id": newID(), "dive_id": d.dive, "witnessed_at": at(d.after(14))}}}))
	log := d.logged()
	require.Equal(t, of(120, "s"), log["check_every"])
	require.Equal(t, []any{body{"from_at": "2026-06-07T08:08:00Z", "from_entry": before,
		"to_at": "2026-06-07T08:12:00Z", "to_entry": after, "length": of(240, "s")}}, log["gaps"])
	i := slices.IndexFunc(log["findings"].([]any),
		func(f any) bool { return f.(body)["rule"] == "signal.check_gap" })
	require.GreaterOrEqual(t, i, 0, "%v", log["findings"])
	f := log["findings"].([]any)[i].(body)
	require.Equal(t, []any{"2 min", "4 min"}, []any{f["limit"].(body)["text"], f["found"].(body)["text"]})

	// Somebody finds the look on a slate after all: the gap is no more.
	d.reads(10, d.turn-10)
	require.Empty(t, d.logged()["gaps"])
}

// Whoever watches is shown the same as whoever asks.
func TestTheLiveViewShowsMarksAndTrends(t *testing.T) {
	d := newDescent(t)
	d.down()
	server := d.station(t)
	r := d.assistant.watch(server, d.live(d.open))
	shown := func(f frame) body {
		for _, x := range f.event(t)["data"].(body)["sessions"].([]any)[0].(body)["divers"].([]any) {
			if x.(body)["participant_id"] == d.sofia {
				return x.(body)
			}
		}
		require.Fail(t, "not there", f.data)
		return nil
	}
	same := func(shown body) {
		t.Helper()
		asked := d.watched()
		for _, member := range []string{"due_at", "turn_pressure", "low_gas_pressure", "check_every",
			"pending_response", "trend", "no_trend", "findings"} {
			require.Equal(t, asked[member], shown[member], member)
		}
		require.Equal(t, asked["last"].(body)["check_id"], shown["last"].(body)["check_id"])
		for i, mark := range asked["reached"].([]any) {
			require.Equal(t, expected(mark), expected(shown["reached"].([]any)[i]))
		}
	}
	_, snapshot := r.until("snapshot")
	first := shown(snapshot)
	require.Equal(t, "turned", first["pending_response"])
	require.Equal(t, of(5, "bar"), first["trend"].(body)["falls_in_a_minute"])
	same(first)
	d.does(9, d.sofia, "turned")
	_, standing := r.until("standing")
	require.Nil(t, shown(standing)["pending_response"])
	same(shown(standing))
}

// A check of which nothing was seen is none: that somebody was asked and gave no
// answer is recorded only where it is said.
func TestACheckSaysWhatWasSeen(t *testing.T) {
	d := newDescent(t)
	d.Clock(d.after(3))
	to := "/v1/sessions/" + d.open + "/gas-checks"
	one := func(more body) answer {
		c := body{"id": newID(), "participant_id": d.sofia, "witnessed_at": at(d.after(2))}
		maps.Copy(c, more)
		return d.instructor.post(to, body{"items": []body{c}}).want(http.StatusOK)
	}
	before := d.everyRow()
	for pointer, more := range map[string]body{"/items/0": {},
		"/items/0/depth": {"depth": body{"value": 328.5, "unit": "ft"}, "no_answer": true}} {
		a := one(more)
		require.Equal(t, []any{"refused", pointer},
			[]any{a.at("items.0.status"), a.at("items.0.problem.findings.0.pointer")}, a.text)
	}
	require.Equal(t, before, d.everyRow())
	require.Equal(t, "recorded",
		one(body{"no_answer": true, "depth": body{"value": 100, "unit": "m"}}).at("items.0.status"))
}

// Nobody planned, nobody was told anything: the centre's floor speaks, to the crew
// and to whoever watches. A simulated low of a drill is shown and alarms nobody.
func TestTheFloorIsWatchedWithoutAPlan(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(sunday.Add(10 * time.Minute))
	to, sofia := "/v1/sessions/"+w.open, w.part(w.open, w.sofia)
	check := func(minute int, bar float64, more body) body {
		c := w.look(sunday.Add(time.Duration(minute)*time.Minute), bar, 0)
		maps.Copy(c, more)
		return w.instructor.post(to+"/gas-checks",
			body{"items": []body{c}}).want(http.StatusOK).list("items")[0]
	}
	rules := func(item body) (out []any) {
		for _, f := range item["findings"].([]any) {
			out = append(out, f.(body)["rule"])
		}
		return out
	}
	require.NotContains(t, rules(check(1, 120, nil)), "signal.low_gas_reached")
	drill := check(2, 40, body{"simulated": true})
	require.NotContains(t, rules(drill), "signal.low_gas_reached")
	d := divers(w.instructor.get(to+"/watch").want(http.StatusOK), sofia)
	require.Equal(t, []any{of(120, "bar"), drill["id"], of(40, "bar")},
		[]any{d["last"].(body)["reading"], d["simulated"].(body)["check_id"], d["simulated"].(body)["reading"]})
	require.Equal(t, []any{nil, nil, of(50, "bar"), "floor", nil},
		[]any{d["turn_pressure"], d["turn_set_by"], d["low_gas_pressure"], d["low_gas_set_by"],
			d["pending_response"]})
	server := w.station(t)
	_, snapshot := w.assistant.watch(server, w.live(w.open)).until("snapshot")
	require.Contains(t, snapshot.data, `"simulated":{"age"`, "the live view shows it as simulated")

	require.Contains(t, rules(check(3, 50, nil)), "signal.low_gas_reached")
	d = divers(w.instructor.get(to+"/watch").want(http.StatusOK), sofia)
	require.Equal(t, "signalled_low", d["pending_response"])
	require.Nil(t, d["simulated"])
	reached := d["reached"].([]any)[0].(body)
	require.Equal(t, []any{"low_gas", "floor", of(50, "bar")},
		[]any{reached["mark"], reached["set_by"], reached["limit"]})
	log := divers(w.instructor.get(to+"/gas-log").want(http.StatusOK), sofia)["dives"].([]any)[0].(body)
	require.Equal(t, "floor", log["low_gas_set_by"])
	require.Equal(t, []any{false, true, false},
		[]any{log["checks"].([]any)[0].(body)["simulated"], log["checks"].([]any)[1].(body)["simulated"],
			log["checks"].([]any)[2].(body)["simulated"]})
}
