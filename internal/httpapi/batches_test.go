package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// phone is a device whose clock is off.
type phone struct {
	*season
	of   *client
	off  time.Duration // what its clock reads beyond the true time
	name string
}

// time writes a true instant as the phone's clock gives it.
func (p phone) at(t time.Time) string { return at(t.Add(p.off)) }

// send sends entries now.
func (p phone) send(now time.Time, entries ...body) answer {
	p.t.Helper()
	p.Clock(now)
	return p.of.post("/v1/batches",
		body{"device_id": p.name, "sent_at": p.at(now), "entries": entries}).want(http.StatusOK)
}

// judged has the background's work done.
func (s *shop) judged() {
	s.t.Helper()
	require.NoError(s.t, s.services.Offline.WorkOff(s.t.Context(), s.Centre))
}

// statuses gives what became of each entry.
func statuses(a answer) (out []any) {
	for _, r := range a.list("items") {
		out = append(out, r["status"])
	}
	return out
}

func entry(kind, id string, content body) body {
	name := map[string]string{"time_in": "dive_id", "time_out": "dive_id", "head_count": "outing_id"}[kind]
	if name == "" {
		name = "session_id"
	}
	return body{"id": newID(), "kind": kind, name: id, "body": content}
}

func TestAPhoneWithoutCoverageSendsTheDayLaterAndTwice(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	p := phone{season: w, of: w.assistant, off: -125 * time.Second, name: "phone 7"}
	sofia := w.part(w.confined, w.sofia)
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	outing := w.instructor.get("/v1/sessions/" + w.confined).want(http.StatusOK).at("outing_id").(string)
	seen := saturday.Add(30 * time.Minute)
	in := entry("time_in", dive,
		body{"participant_id": sofia, "in_at": p.at(seen), "start_pressure": body{"value": 200, "unit": "bar"}})
	all := []body{
		entry("roll_call", w.confined,
			body{"participant_id": sofia, "attendance": "present", "witnessed_at": p.at(seen)}),
		entry("conditions", w.confined,
			body{"visibility": body{"value": 12, "unit": "m"}, "witnessed_at": p.at(seen)}),
		entry("head_count", outing, body{"phase": "departure", "figure": 4, "counted_at": p.at(seen)}),
		{"id": newID(), "kind": "incident", "outing_id": outing,
			"body": body{"what": "A cut on the foot.", "oxygen_from_at": p.at(seen),
				"witnessed_at": p.at(seen)}},
		{"id": newID(), "kind": "incident", "session_id": w.confined,
			"body": body{"what": "A cut on the hand.", "witnessed_at": p.at(seen.Add(time.Minute))}},
		in,
		entry("time_out", dive, body{"time_in_id": in["id"], "out_at": p.at(seen.Add(20 * time.Minute)),
			"end_pressure": body{"value": 120, "unit": "bar"}}),
		entry("gas_check", w.confined,
			body{"participant_id": sofia, "reading": body{"value": 187, "unit": "bar"},
				"signalled": body{"value": 180, "unit": "bar"}, "witnessed_at": p.at(seen)}),
		entry("drill_attempt", w.confined, body{"participant_id": sofia, "skill": "swim", "met": true,
			"measures":     []body{{"name": "swim-without-aids", "value": 200, "unit": "m"}},
			"witnessed_at": p.at(seen)}),
		entry("gas_response", w.confined,
			body{"participant_id": sofia, "what": "turned", "witnessed_at": p.at(seen)}),
		entry("log_completion", w.confined, body{"witnessed_at": p.at(seen.Add(time.Hour))}),
	}
	a := p.send(saturday.Add(5*time.Hour), all...)
	require.EqualValues(t, 125, a.at("correction_s"))
	for i, r := range a.list("items") {
		require.Equal(t, "recorded", r["status"], "%s: %v", all[i]["kind"], r["problem"])
		require.Equal(t, all[i]["id"], r["id"])
	}
	for _, status := range statuses(p.send(saturday.Add(6*time.Hour), append(all, in)...)) {
		require.Equal(t, "already_recorded", status)
	}
	check := w.instructor.get("/v1/entries/" + all[7]["id"].(string)).want(http.StatusOK)
	require.Equal(t, []any{at(seen), "phone 7", p.at(seen), 125.0},
		pick(check, "witnessed_at", "device_id", "device_at", "correction_s"))
	require.Equal(t, w.assistant.person.String(), check.at("recorded_by"))
	log := w.instructor.get("/v1/sessions/" + w.confined + "/dives").want(http.StatusOK)
	require.Equal(t, at(seen), log.at("items.0.log.0.in_at"))
	require.Equal(t, at(seen.Add(20*time.Minute)), log.at("items.0.log.0.out_at"))
	require.Equal(t, at(seen),
		w.instructor.get("/v1/outings/"+outing+"/incidents").want(http.StatusOK).at("items.0.oxygen_from_at"))
	require.Empty(t, w.instructor.get("/v1/held-entries").want(http.StatusOK).ids())
	require.Len(t, w.instructor.get("/v1/held-entries?state=recorded&session_id="+
		w.confined).want(http.StatusOK).ids(), 9)
	gas := w.instructor.get("/v1/sessions/" + w.confined + "/gas-log").want(http.StatusOK)
	require.Equal(t, []any{true, at(seen.Add(time.Hour))},
		pick(gas, "log_complete", "completions.0.witnessed_at"))
	w.student.get("/v1/held-entries").refused(http.StatusForbidden, "missing_role")
}

// A refusal touches no other entry, and is kept with its reason: what breaks
// the schema of the single post, a time ahead of the clock, what the token may not.
func TestOnlyWhatIsOutOfBoundsOrNotPermittedIsRefused(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia, now := w.part(w.confined, w.sofia), saturday.Add(5*time.Hour)
	p := phone{season: w, of: w.assistant, off: 40 * time.Minute, name: "phone 3"}
	check := func(change func(body)) body {
		e := entry("gas_check", w.confined,
			body{"participant_id": sofia, "reading": body{"value": 150, "unit": "bar"},
				"witnessed_at": p.at(saturday.Add(time.Hour))})
		change(e)
		return e
	}
	content := func(e body) body { return e["body"].(body) }
	wrong := []body{
		check(func(e body) { content(e)["reading"] = body{"value": 18, "unit": "m"} }),
		check(func(e body) { content(e)["colour"] = "red" }),
		check(func(e body) { content(e)["reading"] = body{"value": 900, "unit": "bar"} }),
		check(func(e body) { content(e)["witnessed_at"] = p.at(now.Add(6 * time.Minute)) }),
		check(func(e body) { content(e)["id"] = newID() }),
		check(func(e body) { delete(content(e), "reading") }),
		check(func(e body) { delete(e, "session_id") }),
		check(func(e body) { e["signed_at"] = at(saturday) }),
		entry("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": "swim"}),
	}
	signed := entry("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": "swim"})
	signed["signed_at"] = p.at(saturday.Add(time.Hour)) // an assistant's token carries no sign-offs:write
	right := check(func(body) {})
	a := p.send(now, append(wrong, signed, right)...)
	for i, r := range a.list("items")[:len(wrong)] {
		require.Equal(t, "refused", r["status"], wrong[i])
		require.Equal(t, "invalid_request", r["problem"].(body)["code"], wrong[i])
	}
	require.Equal(t, []any{"refused", "missing_scope"}, pick(a, "items.9.status", "items.9.problem.code"))
	require.Equal(t, "recorded", a.at("items.10.status"), "none undoes another")
	kept := w.instructor.get("/v1/held-entries?state=refused").want(http.StatusOK)
	require.Len(t, kept.ids(), len(wrong)+1)
	for _, k := range kept.list("items") {
		require.NotNil(t, k["problem"])
		require.NotEmpty(t, k["body"])
	}
	// The same id for another entry: what was recorded stands.
	other := check(func(e body) { e["id"], content(e)["no_answer"] = right["id"], true })
	require.Equal(t, "id_reused", p.send(now, other).at("items.0.problem.code"))
	w.student.post("/v1/batches",
		body{"device_id": "x", "sent_at": at(now),
			"entries": []body{right}}).refused(http.StatusForbidden, "missing_scope")
	w.assistant.post("/v1/batches",
		body{"device_id": "x", "sent_at": at(now),
			"entries": []body{}}).refused(http.StatusBadRequest, "invalid_request")
}

// The instructor's phone comes first: the time out and the sign-off wait for the
// assistant's, which has the time in and the attempt.
func TestWhatIsHeldStandsWhenItsCureArrives(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia, now, seen := w.part(w.confined, w.sofia), saturday.Add(5*time.Hour), saturday.Add(time.Hour)
	dive := w.instructor.get("/v1/sessions/" + w.confined +
		"/dives").want(http.StatusOK).at("items.0.id").(string)
	hers, his := phone{season: w, of: w.instructor, name: "hers"}, phone{season: w, of: w.assistant,
		off: time.Hour, name: "his"}
	sign := func(skill string) body {
		e := entry("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": skill})
		e["signed_at"] = at(now.Add(-time.Hour))
		return e
	}
	start, swim := newID(), sign("swim")
	out := entry("time_out", dive, body{"time_in_id": start, "out_at": at(seen.Add(time.Hour))})
	guest := s.Student("Gil Guest", "1990-01-01")
	enrolled := w.manager.post("/v1/courses/"+w.course+"/enrolments", body{"person_id": guest}).made()
	arrived := uuid.NewSHA1(uuid.MustParse(w.confined), guest[:]).String() // as the contract says
	check := entry("gas_check", w.confined,
		body{"participant_id": arrived, "no_answer": true, "witnessed_at": at(seen)})
	a := hers.send(now, swim, out, check)
	require.Equal(t, []any{"held", "held", "held"}, statuses(a))
	require.Equal(t, []any{"rules_refused", "unknown_reference", "unknown_reference"},
		pick(a, "items.0.problem.code", "items.1.problem.code", "items.2.problem.code"))
	list := w.assistant.get("/v1/held-entries").want(http.StatusOK)
	require.Len(t, list.ids(), 3)
	for _, h := range list.list("items") {
		require.Equal(t, "Ines Instructor", h["person_name"])
		for _, f := range h["problem"].(body)["findings"].([]any) {
			require.NotEmpty(t, f.(body)["cures"], "%v", f)
		}
	}
	require.Empty(t, w.instructor.get("/v1/sessions/"+w.confined+"/sign-offs").ids())
	attempt := entry("drill_attempt", w.confined, body{"participant_id": sofia, "skill": "swim", "met": true,
		"measures": []body{{"name": "swim-without-aids", "value": 200,
			"unit": "m"}}, "witnessed_at": his.at(seen)})
	in := entry("time_in", dive, body{"participant_id": sofia, "in_at": his.at(seen)})
	in["id"] = start
	came := entry("roll_call", w.confined,
		body{"unexpected": body{"person_id": guest, "role": "student", "enrolment_id": enrolled,
			"group_id": w.blue},
			"attendance": "present", "witnessed_at": his.at(seen)})
	require.Equal(t, []any{"recorded", "recorded", "recorded"}, statuses(his.send(now, attempt, in, came)))
	w.judged()
	require.Empty(t, w.instructor.get("/v1/held-entries").ids(), "all three stand now")
	require.Equal(t, []any{"already_recorded", "already_recorded", "already_recorded"},
		statuses(hers.send(now, swim, out, check)))
	signed := w.instructor.get("/v1/sign-offs/" + swim["id"].(string)).want(http.StatusOK)
	require.Equal(t, at(now.Add(-time.Hour)), signed.at("signed_at"), "when she signed, not when it arrived")
}

func TestAHeldEntryIsDroppedOrCuredByAPerson(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	now := saturday.Add(5 * time.Hour)
	p := phone{season: w, of: w.instructor, name: "hers"}
	sign := entry("sign_off", w.confined, body{"enrolment_id": w.sofia, "skill": "swim"})
	sign["signed_at"] = at(now)
	lost := entry("time_out", newID(), body{"time_in_id": newID(), "out_at": at(now)})
	require.Equal(t, []any{"held", "held"}, statuses(p.send(now, sign, lost)))
	held := map[any]string{}
	for _, h := range w.instructor.get("/v1/held-entries").list("items") {
		held[h["entry_id"]] = h["id"].(string)
	}
	drop := "/v1/held-entries/" + held[lost["id"]] + "/drop"
	w.program.post(drop, body{"reason": "no such dive"}).refused(http.StatusForbidden, "missing_role")
	w.assistant.post(drop, body{"reason": "no such dive"}).refused(http.StatusForbidden, "missing_role")
	for range 2 {
		require.Equal(t, []any{"dropped", "no such dive"},
			pick(w.manager.post(drop, body{"reason": "no such dive"}).want(http.StatusOK), "state",
				"drop_reason"))
	}
	require.Equal(t, []any{"refused", "dropped"},
		pick(p.send(now, lost), "items.0.status", "items.0.problem.code"))
	again := "/v1/held-entries/" + held[sign["id"]]
	require.Equal(t, "held", w.assistant.post(again+"/judge", nil).want(http.StatusOK).at("state"))
	w.student.post(again+"/judge", nil).refused(http.StatusForbidden, "missing_scope")
	w.swum(saturday.Add(time.Hour)) // a single post cures it
	require.Equal(t, "recorded", w.assistant.post(again+"/judge", nil).want(http.StatusOK).at("state"))
	w.instructor.post(again+"/drop", body{"reason": "too late"}).refused(http.StatusConflict, "wrong_state")
	require.Len(t, w.instructor.get("/v1/held-entries?state=dropped").ids(), 1)
}

// What went out alone, and whose answer was lost, is sent again in a batch.
func TestASinglePostAndABatchOfTheSameEntryAreOne(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	report := body{"visibility": body{"value": 12, "unit": "m"}, "witnessed_at": at(saturday)}
	e := entry("conditions", w.confined, report)
	report["id"] = e["id"]
	w.assistant.post("/v1/sessions/"+w.confined+"/conditions", report).made()
	check := entry("gas_check", w.confined,
		body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true, "witnessed_at": at(saturday)})
	check["body"].(body)["id"] = check["id"]
	w.recorded(w.assistant.post("/v1/sessions/"+w.confined+"/gas-checks",
		body{"items": []body{check["body"].(body)}}))
	p := phone{season: w, of: w.assistant, off: -time.Hour, name: "his"}
	require.Equal(t, []any{"already_recorded", "already_recorded"},
		statuses(p.send(saturday.Add(2*time.Hour), e, check)))
}
