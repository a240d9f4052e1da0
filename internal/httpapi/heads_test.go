package httpapi_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// boat is an outing of two open-water sessions on Sunday, each with a group of
// its own instructor, everybody briefed; second is the further session.
type boat struct {
	*season
	outing, second string
	ana            *client // in charge of the second group
}

func newBoat(t *testing.T) *boat {
	t.Helper()
	w := newSeason(t, open(t))
	w.credit(w.sofia, true)
	w.credit(w.tiago, true)
	b := &boat{season: w, outing: w.manager.post("/v1/outings",
		body{"title": "Sunday boat", "held_on": "2026-06-07"}).made()}
	w.manager.patch("/v1/sessions/"+w.open, body{"outing_id": b.outing}).want(http.StatusOK)
	other := w.manager.post("/v1/courses",
		body{"title": "July", "syllabus_id": w.syllabus, "starts_on": "2026-06-05",
			"ends_on": "2026-06-07"}).made()
	w.manager.post("/v1/courses/"+other+"/sessions",
		body{"kind": "confined", "title": "Pool 2", "site_id": w.pool,
			"starts_local": "2026-06-06T14:00", "ends_local": "2026-06-06T15:00"}).made()
	b.second = w.manager.post("/v1/courses/"+other+"/sessions",
		body{"kind": "open", "title": "Bay 2", "site_id": w.bay, "outing_id": b.outing,
			"starts_local": "2026-06-07T09:00", "ends_local": "2026-06-07T13:00", "training_dives": []int{1,
				2}}).made()
	b.ana = w.as(w.Crew("Ana Instructor", "instructor"))
	w.manager.post("/v1/sessions/"+b.second+"/groups",
		body{"name": "red", "instructor_id": b.ana.person}).made()
	w.Clock(sunday)
	w.brief(w.open, sunday)
	w.Brief(uuid.MustParse(b.second))
	return b
}

// counts enters somebody's own count of the boat.
func (b *boat) counts(who *client, more body) answer {
	b.t.Helper()
	ask := body{"id": newID(), "phase": "departure", "counted_at": at(sunday)}
	for k, v := range more {
		ask[k] = v
	}
	return who.post("/v1/outings/"+b.outing+"/head-counts", ask).want(http.StatusCreated)
}

// Queensland 2011: a head count before departure by two people (seen). That an
// alarm stops the next session is our choice.
func TestAHeadCountAlarmHoldsUntilEverybodyIsFound(t *testing.T) {
	b := newBoat(t)
	opens := []func() answer{
		func() answer { return b.instructor.post("/v1/sessions/"+b.open+"/open", nil) },
		func() answer { return b.ana.post("/v1/sessions/"+b.second+"/open", nil) },
	}
	for _, open := range opens { // several sessions, and nobody counted
		open().refused(http.StatusUnprocessableEntity, "cautions_open").by("roster.heads_not_counted")
	}
	a := b.counts(b.instructor, body{"figure": 6}) // five are on the list
	require.Equal(t, []any{"alarm", 5.0, 5.0, b.instructor.person.String()},
		[]any{a.at("state"), a.at("on_list"), a.at("expected"), a.at("recorded_by")})
	a.by("roster.head_count_alarm")
	for _, open := range opens {
		f := open().refused(http.StatusUnprocessableEntity, "rules_refused").by("roster.heads_not_settled")
		require.Contains(t, f["message"], "6 counted, 5 on the list")
	}
	day := b.instructor.get("/v1/people/" + b.instructor.person.String() +
		"/days/2026-06-07").want(http.StatusOK)
	require.Contains(t, day.rules("sessions.0.findings"), "roster.heads_not_settled",
		"what its opening would find")
	incident := body{"what": "A passenger of the next boat was on board.", "ends_alarm": true,
		"witnessed_at": at(sunday)}
	b.instructor.post("/v1/outings/"+b.outing+"/incidents", incident).made()
	opens[0]().refused(http.StatusUnprocessableEntity, "rules_refused").by("roster.heads_not_settled")

	// One person's figure, whoever it is said to be of, is one person's.
	b.counts(b.instructor, body{"figure": 5, "counted_at": at(sunday.Add(time.Minute))})
	a = b.counts(b.instructor,
		body{"figure": 5, "counted_by": b.ana.person, "counted_at": at(sunday.Add(time.Minute))})
	require.Equal(t, []any{"counted_once", b.ana.person.String(), b.instructor.person.String()},
		[]any{a.at("state"), a.at("counted_by"), a.at("recorded_by")})
	a = b.counts(b.program, body{"figure": 5, "counted_by": b.ana.person,
		"counted_at": at(sunday.Add(time.Minute))})
	require.Equal(t, []any{"counted_once", nil}, []any{a.at("state"), a.at("recorded_by")},
		"a program witnesses nothing")
	opens[1]().refused(http.StatusUnprocessableEntity, "rules_refused").by("roster.heads_not_settled")
	require.Equal(t, "agreed",
		b.counts(b.ana, body{"figure": 5, "counted_at": at(sunday.Add(2 * time.Minute))}).at("state"))
	for _, open := range opens {
		require.Equal(t, "under_way", open().want(http.StatusOK).at("state"))
	}
}

// After a dive one is missing: who goes in all the same is recorded with it, and
// so is the end of the session.
func TestWhatHappensDuringAnAlarmIsRecordedWithIt(t *testing.T) {
	b := newBoat(t)
	b.counts(b.instructor, body{"figure": 5})
	b.counts(b.ana, body{"figure": 5})
	b.instructor.post("/v1/sessions/"+b.open+"/open", nil).want(http.StatusOK)
	b.Clock(sunday.Add(3 * time.Hour))
	dives := b.manager.get("/v1/sessions/" + b.open + "/dives").want(http.StatusOK)
	first, second := dives.list("items")[0]["id"].(string), dives.list("items")[1]["id"].(string)
	in := func(dive, who string, minute int) (string, answer) {
		id := newID()
		return id, b.recorded(b.instructor.post("/v1/dives/"+dive+"/times-in",
			body{"items": []body{{"id": id, "participant_id": b.part(b.open, who),
				"in_at": at(sunday.Add(time.Duration(minute) * time.Minute))}}}))
	}
	out := func(dive, start string, minute int) {
		b.recorded(b.instructor.post("/v1/dives/"+dive+"/times-out",
			body{"items": []body{{"id": newID(), "time_in_id": start,
				"out_at": at(sunday.Add(time.Duration(minute) * time.Minute))}}}))
	}
	sofia, a := in(first, b.sofia, 10)
	require.NotContains(t, a.rules("items.0.findings"), "roster.heads_not_settled")
	tiago, _ := in(first, b.tiago, 10)
	out(first, tiago, 30)
	// Sofia is still in the water: four are expected, and she is named.
	a = b.counts(b.instructor,
		body{"phase": "after_dive", "figure": 4, "counted_at": at(sunday.Add(35 * time.Minute))})
	require.Equal(t, []any{"counted_once", 1.0, 5.0, 4.0, "Sofia Student"},
		[]any{a.at("state"), a.at("dive_number"), a.at("on_list"), a.at("expected"), a.at("in_water.0.name")})
	out(first, sofia, 40)
	a = b.counts(b.ana, body{"phase": "after_dive", "dive_number": 1, "figure": 4,
		"counted_at": at(sunday.Add(45 * time.Minute))})
	require.Equal(t, "alarm", a.at("state"))
	require.Contains(t, a.by("roster.head_count_alarm")["message"], "after dive 1: 4 counted, 5 on the list")

	start, a := in(second, b.tiago, 60)
	require.Contains(t, a.rules("items.0.findings"), "roster.heads_not_settled")
	require.Contains(t, b.manager.get("/v1/entries/"+start).want(http.StatusOK).rules("findings"),
		"roster.heads_not_settled")
	require.NotContains(t, b.manager.get("/v1/entries/"+sofia).want(http.StatusOK).rules("findings"),
		"roster.heads_not_settled")
	out(second, start, 90)
	b.ana.post("/v1/sessions/"+b.second+"/open", nil).refused(http.StatusUnprocessableEntity,
		"rules_refused").by("roster.heads_not_settled")
	b.instructor.post("/v1/sessions/"+b.open+"/close", nil).want(http.StatusOK).by("roster.heads_not_settled")
	b.instructor.post("/v1/sessions/"+b.open+"/close", nil).want(http.StatusOK).by("roster.heads_not_settled")
	v := b.manager.get("/v1/outings/" + b.outing).want(http.StatusOK)
	require.Equal(t, []any{"agreed", "alarm", "not_counted"},
		[]any{v.at("head_counts.0.state"), v.at("head_counts.1.state"), v.at("head_counts.2.state")})
}

// Before the return a time in without a time out is an alarm, whatever is
// counted; and one of the crew alone counts twice, the second time by name.
func TestEverybodyIsNamedBeforeTheReturn(t *testing.T) {
	b := newBoat(t)
	guest := b.manager.post("/v1/outings/"+b.outing+"/guests",
		body{"name": "Old Bento", "part": "skipper"}).made()
	b.counts(b.instructor, body{"phase": "return", "figure": 6})
	var named []body
	for _, p := range b.manager.get("/v1/outings/" + b.outing).want(http.StatusOK).list("aboard") {
		if p["guest_id"] != nil {
			named = append(named, body{"guest_id": p["guest_id"],
				"accounted_for": "Ashore with the fuel; the harbour office sees him."})
			continue
		}
		named = append(named, body{"person_id": p["person_id"]})
	}
	short := b.counts(b.instructor,
		body{"phase": "return", "figure": 4, "by_name": named[1:], "counted_at": at(sunday.Add(time.Minute))})
	require.Equal(t, "alarm", short.at("state"))
	require.Contains(t, short.by("roster.head_count_alarm")["message"], "Not named: ")
	a := b.counts(b.instructor,
		body{"phase": "return", "figure": 5, "by_name": named, "counted_at": at(sunday.Add(2 * time.Minute))})
	require.Equal(t, "named", a.at("state"))
	require.Len(t, a.list("by_name"), 6)
	b.instructor.post("/v1/sessions/"+b.open+"/open", nil).want(http.StatusOK)

	dive := b.manager.get("/v1/sessions/" + b.open +
		"/dives").want(http.StatusOK).list("items")[0]["id"].(string)
	start := newID()
	b.recorded(b.instructor.post("/v1/dives/"+dive+"/times-in",
		body{"items": []body{{"id": start, "participant_id": b.part(b.open, b.sofia),
			"in_at": at(sunday.Add(3 * time.Minute))}}}))
	a = b.counts(b.instructor,
		body{"phase": "return", "figure": 5, "by_name": named, "counted_at": at(sunday.Add(4 * time.Minute))})
	require.Equal(t, "alarm", a.at("state"))
	require.Contains(t, a.by("roster.head_count_alarm")["message"], "No time out is logged of Sofia Student.")
	b.Clock(sunday.Add(time.Hour))
	b.recorded(b.instructor.post("/v1/dives/"+dive+"/times-out",
		body{"items": []body{{"id": newID(), "time_in_id": start, "out_at": at(sunday.Add(200 * time.Second))}}}))
	require.Equal(t, "named",
		b.manager.get("/v1/outings/" + b.outing + "/head-counts").want(http.StatusOK).list("items")[3]["state"])

	to := "/v1/outings/" + b.outing + "/head-counts"
	count := func(more body) body {
		ask := body{"phase": "return", "figure": 6, "counted_at": at(sunday)}
		for k, v := range more {
			ask[k] = v
		}
		return ask
	}
	b.instructor.post(to, count(body{"dive_number": 1})).refused(http.StatusBadRequest, "invalid_request")
	b.instructor.post(to, count(body{"by_name": []body{{"guest_id": guest,
		"person_id": b.instructor.person}}})).refused(http.StatusBadRequest, "invalid_request")
	b.instructor.post(to, count(body{"by_name": []body{{"guest_id": guest},
		{"guest_id": guest}}})).refused(http.StatusBadRequest, "invalid_request")
	b.instructor.post(to, count(body{"by_name": []body{{"guest_id": newID()}}})).refused(http.StatusUnprocessableEntity, "unknown_reference")
	b.instructor.post(to, count(body{"by_name": []body{{"person_id": guest}}})).refused(http.StatusUnprocessableEntity, "unknown_reference")
}

// Whoever left early is looked for until somebody says that they are not aboard.
func TestWhoLeftEarlyIsLookedForUntilSaidNotAboard(t *testing.T) {
	b := newBoat(t)
	list := func() int {
		return len(b.manager.get("/v1/outings/" +
			b.outing).want(http.StatusOK).list("aboard"))
	}
	say := func(more body) answer {
		ask := body{"id": newID(), "participant_id": b.part(b.open, b.tiago), "attendance": "left_early",
			"witnessed_at": at(sunday)}
		for k, v := range more {
			ask[k] = v
		}
		return b.instructor.post("/v1/sessions/"+b.open+"/roll-calls",
			body{"items": []body{ask}}).want(http.StatusOK)
	}
	b.recorded(say(nil))
	require.Equal(t, 5, list())
	b.recorded(say(body{"aboard": false}))
	require.Equal(t, 4, list())
	require.Equal(t, "invalid_request",
		say(body{"attendance": "present", "aboard": false}).at("items.0.problem.code"))
}

// What a student saw, whoever of the crew heard it reports.
func TestAnIncidentIsWitnessedByCrewOrAManager(t *testing.T) {
	b := newBoat(t)
	to, ask := "/v1/outings/"+b.outing+
		"/incidents", body{"what": "A cut on the foot.", "witnessed_at": at(sunday),
		"witnessed_by": b.student.person}
	a := b.instructor.post(to, ask).refused(http.StatusUnprocessableEntity, "unknown_reference")
	require.Contains(t, a.at("detail"), "crew of the centre, nor a manager")
	ask["witnessed_by"] = b.assistant.person
	a = b.instructor.post(to, ask).want(http.StatusCreated)
	require.Equal(t, []any{b.assistant.person.String(), b.instructor.person.String()},
		[]any{a.at("witnessed_by"), a.at("recorded_by")})
}

func TestWhoeverFellIllAndIsReplacedStaysOnTheList(t *testing.T) {
	b := newBoat(t)
	b.assistant.post("/v1/people/"+b.instructor.person.String()+"/unfit-marks",
		body{"unfit_on": "2026-06-07"}).made()
	rui := b.Crew("Rui Instructor", "instructor")
	b.manager.post("/v1/groups/"+b.openBlue+"/replace-instructor", body{"person_id": rui}).want(http.StatusOK)
	ill := b.manager.get("/v1/participants/" + b.part(b.open, b.instructor.person.String())).want(http.StatusOK)
	require.Equal(t, []any{"absent", "instructor", b.openBlue},
		[]any{ill.at("attendance"), ill.at("role"), ill.at("group_id")})
}
