package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

func inMetres(x float64) body  { return body{"value": x, "unit": "m"} }
func inMinutes(x float64) body { return body{"value": x, "unit": "min"} }
func inBar(x float64) body     { return body{"value": x, "unit": "bar"} }

// The figures are cells of the US Navy Diving Manual Rev 7, Tables 9-7, 9-8 and
// 9-6: 60 fsw, 40 min: H; 1:40 on the surface: G; 40 fsw: 64 + 45 = 109: L; and
// the 18 h of the DAN workshop of May 2002 for several dives.
func TestNoStopLimitsAreCalculated(t *testing.T) {
	s := open(t)
	ask := body{"dives": []body{
		{"key": "wreck", "depth": inMetres(18), "in_local": "2027-06-05T09:00", "under_time": inMinutes(40),
			"done": true},
		{"depth": inMetres(12), "in_local": "2027-06-05T11:20", "out_local": "2027-06-05T12:05"}}}
	a := s.student.post("/v1/no-stop/calculate", ask).want(http.StatusOK)
	require.Equal(t, []any{"H", "G", "L"},
		pick(a, "dives.0.group_after", "dives.1.group_before", "dives.1.group_after"))
	require.Equal(t, []any{inMinutes(100), inMinutes(64), inMinutes(109), inMinutes(163), inMinutes(99)},
		pick(a, "dives.1.surface_interval", "dives.1.residual_time", "dives.1.total_time", "dives.1.limit",
			"dives.1.longest"))
	require.Equal(t, []any{"2027-06-05T12:05", inMinutes(18 * 60), "2027-06-06T06:05", nil, nil},
		pick(a, "flying.from_local", "flying.workshop_interval", "flying.earliest_local", "flying.earliest_at",
			"flying.worked"))
	require.Len(t, a.list("going_up"), 10)
	require.Equal(t, "2", a.at("dives.1.key"))

	// The same by intervals, in feet: 18 m and 12 m are looked up in the same rows.
	byInterval := body{"dives": []body{{"depth": body{"value": 60, "unit": "ft"}, "under_time": inMinutes(40)},
		{"depth": body{"value": 40, "unit": "ft"}, "surface_interval": inMinutes(100),
			"under_time": inMinutes(45)}}}
	b := s.program.post("/v1/no-stop/calculate?worked=true", byInterval).want(http.StatusOK)
	require.Equal(t, []any{"L", nil, nil, inMinutes(18 * 60)},
		pick(b, "dives.1.group_after", "dives.1.in_local", "flying.earliest_local", "flying.wait"))
	require.Contains(t, b.at("dives.1.worked.0.source"), "9-8")

	// Table 9-8: group E at 40 fsw counts 45 min, which leaves 118 of 163.
	c := s.boss.post("/v1/no-stop/calculate",
		body{"look_up": body{"depth": body{"value": 40, "unit": "ft"}, "group": "E"}}).want(http.StatusOK)
	require.Equal(t, []any{float64(40), inMinutes(45), inMinutes(118), nil},
		pick(c, "looked_up.row_fsw", "looked_up.residual_time", "looked_up.longest", "flying"))
	c = s.boss.post("/v1/no-stop/calculate",
		body{"look_up": body{"depth": inMetres(18), "altitude": inMetres(301)}}).want(http.StatusOK)
	require.Nil(t, c.at("looked_up"))
	c.by("nostop.altitude_site")
	c = s.boss.post("/v1/no-stop/calculate", body{"look_up": body{"depth": inMetres(60)}}).want(http.StatusOK)
	require.Nil(t, c.at("looked_up"))
	c.by("nostop.too_deep")
}

func TestACalculationSaysWhatTheTablesForbid(t *testing.T) {
	s := open(t)
	dive := func(more body) body {
		d := body{"depth": inMetres(18), "in_local": "2027-06-05T09:00", "under_time": inMinutes(40)}
		for k, v := range more {
			d[k] = v
		}
		return d
	}
	calculate := func(more body, dives ...body) answer {
		ask := body{"dives": dives}
		for k, v := range more {
			ask[k] = v
		}
		return s.boss.post("/v1/no-stop/calculate", ask).want(http.StatusOK)
	}
	calculate(nil, dive(body{"under_time": inMinutes(64)})).by("nostop.limit_exceeded")
	calculate(nil, dive(body{"altitude": inMetres(301)})).by("nostop.altitude_site")
	calculate(body{"leave_local": "2027-06-05T20:00"}, dive(nil)).by("nostop.too_soon_up")
	// Table 9-6: group H may go up to 3000 ft at once; the same evening by road.
	require.Empty(t, calculate(body{"leave_local": "2027-06-05T20:00", "altitude": inMetres(900)},
		dive(nil)).at("findings"))
	calculate(body{"altitude": inMetres(3100)}, dive(nil)).by("nostop.too_high")
	calculate(body{"settings": body{"ascents_a_day": 2}}, dive(body{"ascents": 3})).by("nostop.many_ascents")
	calculate(body{"settings": body{"no_stop_margin": inMinutes(30)}}, dive(nil)).by("nostop.near_limit")
	a := calculate(nil, dive(body{"key": "wreck"}),
		dive(body{"key": "wreck", "done": true, "under_time": inMinutes(35)}))
	require.Len(t, a.list("dives"), 1, "as it was done, it replaces the planned one")
	require.Equal(t, inMinutes(35), a.at("dives.0.under_time"))
}

func TestWhatDoesNotFitTogetherIsPointedAt(t *testing.T) {
	s := open(t)
	full := body{"depth": inMetres(18), "in_local": "2027-06-05T09:00", "under_time": inMinutes(40)}
	short := body{"depth": inMetres(18), "under_time": inMinutes(40)}
	for name, c := range map[string]struct {
		ask     body
		pointer string
	}{
		"nothing": {body{"cabin": inMetres(2000)}, ""},
		"no end": {body{"dives": []body{{"depth": inMetres(18),
			"in_local": "2027-06-05T09:00"}}}, "/dives/0"},
		"two ends": {body{"dives": []body{{"depth": inMetres(18),
			"in_local": "2027-06-05T09:00", "under_time": inMinutes(40),
			"out_local": "2027-06-05T10:00"}}}, "/dives/0"},
		"an interval before the first": {body{"dives": []body{{"depth": inMetres(18),
			"surface_interval": inMinutes(60), "under_time": inMinutes(40)}}}, "/dives/0/surface_interval"},
		"no beginning":     {body{"dives": []body{full, short}}, "/dives/1"},
		"a clock too late": {body{"dives": []body{short, full}}, "/dives/1/in_local"},
		"an end by a clock without one": {body{"dives": []body{{"depth": inMetres(18),
			"out_local": "2027-06-05T10:00"}}}, "/dives/0/out_local"},
		"two planned ones of a key": {body{"dives": []body{{"key": "a", "depth": inMetres(9),
			"under_time": inMinutes(40)}, {"key": "a", "depth": inMetres(9), "surface_interval": inMinutes(60),
			"under_time": inMinutes(40)}}}, "/dives/1/key"},
		"no such day": {body{"dives": []body{{"depth": inMetres(18),
			"in_local": "2027-02-30T09:00", "under_time": inMinutes(40)}}}, "/dives/0/in_local"},
		"leaving without a clock": {body{"dives": []body{short}, "leave_local": "2027-06-05T09:00"},
			"/leave_local"},
		"a depth of nothing": {body{"look_up": body{"depth": inMetres(0)}}, "/look_up/depth"},
		"going up after no dive": {body{"look_up": body{"depth": inMetres(18)},
			"altitude": inMetres(2500)}, "/altitude"},
		"a cabin after no dive": {body{"look_up": body{"depth": inMetres(18)}, "cabin": inMetres(2500)},
			"/cabin"},
		"no such group": {body{"look_up": body{"depth": inMetres(9), "group": "P"}},
			"/look_up/group"},
	} {
		t.Run(name, func(t *testing.T) {
			a := s.boss.on(t).post("/v1/no-stop/calculate", c.ask).refused(http.StatusBadRequest,
				"invalid_request")
			require.Equal(t, c.pointer, strings.TrimSpace(given(a.at("findings.0.pointer"))))
		})
	}
}

// given writes null as nothing.
func given(v any) string {
	s, _ := v.(string)
	return s
}

func TestADayOfDivesIsReadByWhomItConcerns(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	path := func(c *client) string { return "/v1/people/" + c.person.String() + "/days/2026-06-07/dives" }
	a := w.instructor.get(path(w.instructor)).want(http.StatusOK)
	// Four hours for training dives 1 and 2, to 12 m each (the built-in syllabus).
	require.Equal(t, []any{"training_dive", "session_length", inMetres(12), inMinutes(60), nil},
		pick(a, "dives.0.depth_from", "dives.0.time_from", "dives.0.no_stop.depth",
			"dives.0.no_stop.under_time", "dives.0.time_in_id"))
	require.Len(t, a.list("earlier"), 1, "the pool on Saturday")
	require.Equal(t, "G", given(a.at("dives.0.no_stop.group_after")),
		"Table 9-7: 12 m are 40 fsw, and 60 min the next longer time of G")
	w.instructor.call(http.MethodGet, path(w.instructor), nil, "If-None-Match",
		a.header.Get("ETag")).want(http.StatusNotModified)
	w.program.get(path(w.student)).want(http.StatusOK)
	w.student.get(path(w.student)).want(http.StatusOK)
	w.student.get(path(w.instructor)).refused(http.StatusForbidden, "missing_role")
	w.boss.get("/v1/people/"+newID()+"/days/2026-06-07/dives").refused(http.StatusNotFound, "not_found")
	empty := w.manager.get("/v1/people/" + w.manager.person.String() +
		"/days/2026-06-07/dives").want(http.StatusOK)
	require.Equal(t, []any{nil, []any{}}, pick(empty, "flying", "dives"))
	w.boss.get("/v1/people/"+w.boss.person.String()+"/days/0001-01-01/dives").refused(http.StatusBadRequest,
		"invalid_request")
}

// A dive at 10 m at 20 L/min from a 12 L cylinder falls by 3.4 bar a minute by the
// ideal law; one gauge in five was misread by 40 bar.
func TestABreathingRateIsLearnedAndRead(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	path := "/v1/people/" + w.student.person.String() + "/breathing-rate"
	a := w.student.get(path).want(http.StatusOK)
	require.Equal(t, []any{true, float64(0), body{"value": float64(25), "unit": "L/min"}},
		pick(a, "novice", "dives_learned_from", "planned.litres"))
	require.InDelta(t, 0.89, a.at("planned.cubic_feet.value"), 0.001, "0.88 cu ft/min, rounded up")

	w.Clock(saturday.Add(2 * time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	sofia := w.part(w.confined, w.sofia)
	start := newID()
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": start, "participant_id": sofia, "in_at": at(saturday),
			"cylinder_size": body{"value": 12,
				"unit": "L"}, "cylinder_rating": inBar(200), "start_pressure": inBar(200)}}}))
	var checks []body
	for i, bar := range []float64{180, 163, 106, 129, 112} { // 106 ought to be 146
		checks = append(checks, body{"id": newID(), "participant_id": sofia, "dive_id": dive,
			"depth": inMetres(10), "reading": inBar(bar),
			"witnessed_at": at(saturday.Add(time.Duration(6+5*i) * time.Minute))})
	}
	w.recorded(w.assistant.post("/v1/sessions/"+w.confined+"/gas-checks", body{"items": checks}))
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": start, "out_at": at(saturday.Add(32 * time.Minute)),
			"depth": inMetres(10), "end_pressure": inBar(100)}}}))
	tiago := w.part(w.confined, w.tiago)
	other := newID()
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": other, "participant_id": tiago, "in_at": at(saturday)}}}))
	w.recorded(w.assistant.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": other, "out_at": at(saturday.Add(32 * time.Minute)),
			"depth": inMetres(5)}}}))

	a = w.student.get(path).want(http.StatusOK)
	require.Equal(t, []any{true, float64(1), "gas_checks", float64(7), "gas_check", inBar(106)},
		pick(a, "novice", "dives_learned_from", "dives.0.basis", "dives.0.readings", "dives.0.misread.0.what",
			"dives.0.misread.0.reading"))
	require.InDelta(t, 20, a.at("dives.0.rate.litres.value"), 2)
	require.Equal(t, float64(25), a.at("planned.litres.value"), "three dives in open water are needed for less")
	require.Contains(t, a.at("says"), "Novice's rate: a lower one needs 3 dives in open water")
	w.student.call(http.MethodGet, path, nil, "If-None-Match",
		a.header.Get("ETag")).want(http.StatusNotModified)

	w.student.get("/v1/people/"+w.instructor.person.String()+"/breathing-rate").refused(http.StatusForbidden,
		"missing_role")
	w.boss.get("/v1/people/"+newID()+"/breathing-rate").refused(http.StatusNotFound, "not_found")
	his := w.instructor.get("/v1/people/" + w.PersonOf(uuid.MustParse(w.tiago)).String() +
		"/breathing-rate").want(http.StatusOK)
	require.Equal(t, "the size of the cylinder was not recorded", his.at("unrated.0.because"))
}
