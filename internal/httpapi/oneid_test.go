package httpapi_test

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/scenetest"
)

// namesake is a season in which things of different kinds are created under the
// same ids: a client chooses ids, and two things of different kinds may share one.
type namesake struct {
	*season
	known []string                   // ids that are taken by a thing of some kind; the first for every kind
	used  map[string]map[string]bool // ids by kind
	drawn map[string]bool            // operations that were drawn
	same  func() bool                // reports whether the next thing takes an id that is taken
	first string                     // the entry that was recorded first
	at    []string                   // addresses of what was created
}

// kindOf names the kind of what an operation creates, where several create one.
// Entries are of one kind, whatever was witnessed.
var kindOf = map[string]string{"createEnrolment": "enrolment", "transferEnrolment": "enrolment",
	"createGasPlan": "plan", "replaceGasPlan": "plan",
	"recordRollCalls": "entry", "recordConditions": "entry", "recordHeadCount": "entry",
	"recordIncident": "entry", "recordSessionIncident": "entry",
	"recordTimesIn": "entry", "recordTimesOut": "entry", "recordGasChecks": "entry",
	"recordDrillAttempts": "entry", "recordTheoryResult": "entry",
	"recordBriefing": "entry", "recordAcknowledgements": "entry", "recordResponses": "entry", "recordLogCompletion": "entry", "sendBatch": "entry"}

func newNamesake(t *testing.T, s *shop, picks []bool) *namesake {
	w := newSeason(t, s)
	n := &namesake{season: w, known: []string{newID()}, used: map[string]map[string]bool{},
		drawn: map[string]bool{}}
	next := 0
	n.same = func() bool { next++; return picks == nil || picks[next%len(picks)] }
	n.knows("createPerson", w.student.person.String(), w.instructor.person.String(),
		w.assistant.person.String())
	n.knows("createEnrolment", w.sofia, w.tiago)
	n.knows("createGroup", w.blue, w.openBlue)
	n.knows("createSession", w.confined, w.open)
	n.knows("createSite", w.pool, w.bay)
	n.knows("createParticipant", slices.Sorted(maps.Values(w.parts))...)
	return n
}

// knows notes ids that an operation has created things under.
func (n *namesake) knows(op string, ids ...string) {
	kind := cmp.Or(kindOf[op], op)
	if n.used[kind] == nil {
		n.used[kind] = map[string]bool{}
	}
	for _, id := range ids {
		n.used[kind][id] = true
		if !slices.Contains(n.known, id) {
			n.known = append(n.known, id)
		}
	}
}

// draw returns the id for what an operation creates: one that a thing of another
// kind has and none of this kind, or a new one.
func (n *namesake) draw(op string) string {
	n.t.Helper()
	n.drawn[op] = true
	id := newID()
	if n.same() {
		i := slices.IndexFunc(n.known, func(id string) bool { return !n.used[cmp.Or(kindOf[op], op)][id] })
		require.GreaterOrEqual(n.t, i, 0, "%s: no id of another kind is left", op)
		id = n.known[i]
	}
	n.knows(op, id)
	return id
}

// make creates a thing twice: the second time is answered as a repetition.
func (n *namesake) make(c *client, op, path string, ask body) string {
	n.t.Helper()
	ask["id"] = n.draw(op)
	made := c.post(path, ask)
	require.Equal(n.t, ask["id"], made.made(), op)
	n.at = append(n.at, made.header.Get("Location"))
	c.post(path, ask).want(http.StatusOK)
	return made.id()
}

// entry records a fact that is posted singly. Under the id of another entry it is
// refused, since entries are of one kind.
func (n *namesake) entry(c *client, op, path string, ask body) string {
	n.t.Helper()
	if ask["id"] = n.first; n.first != "" {
		c.post(path, ask).refused(http.StatusConflict, "id_reused")
	}
	n.first = cmp.Or(n.first, n.make(c, op, path, ask))
	return ask["id"].(string)
}

// item is entry for a fact that is posted in a list.
func (n *namesake) item(c *client, op, path string, ask body) string {
	n.t.Helper()
	post := func() answer { return c.post(path, body{"items": []body{ask}}).want(http.StatusOK) }
	if ask["id"] = n.first; n.first != "" && kindOf[op] == "entry" {
		require.Equal(n.t, "id_reused", post().at("items.0.problem.code"), op)
	}
	ask["id"] = n.draw(op)
	n.recorded(post())
	require.Equal(n.t, "already_recorded", post().at("items.0.status"), op)
	if kindOf[op] == "entry" {
		n.at, n.first = append(n.at, "/v1/entries/"+ask["id"].(string)), cmp.Or(n.first, ask["id"].(string))
	}
	return ask["id"].(string)
}

// crowd plans a pool session with eight students to a group and an assistant
// who makes room for the ninth, and fills the group.
func (n *namesake) crowd(session, group string) (assistant string) {
	n.t.Helper()
	second := n.as(n.Crew("Berta Second", "assistant"))
	assistant = n.make(n.manager, "createParticipant", "/v1/sessions/"+session+"/participants",
		body{"role": "assistant", "person_id": second.person,
			"group_id": group})
	for i := range 9 {
		student := n.Student(fmt.Sprintf("Student %d", i), "1995-05-05").String()
		e := n.manager.post("/v1/courses/"+n.course+"/enrolments", body{"person_id": student}).made()
		n.knows("createPerson", student)
		n.knows("createEnrolment", e)
		n.manager.post("/v1/sessions/"+session+"/participants",
			body{"role": "student", "enrolment_id": e, "group_id": group}).made()
	}
	return assistant
}

// books creates one of everything that is set up before anybody gets wet, and
// returns an enrolment.
func (n *namesake) books() (enrolment string) {
	n.t.Helper()
	person := n.make(n.manager, "createPerson", "/v1/people",
		body{"name": "Pia Person", "birth_on": "1990-01-01", "roles": []string{"student"}})
	paper := n.make(n.manager, "recordPaper", "/v1/people/"+person+"/papers",
		body{"kind": "medical", "outcome": "nothing_flagged", "issued_on": "2026-05-01"})
	token := body{"id": n.draw("createToken"), "program": "another page", "scopes": []string{"courses:read"}}
	n.manager.post("/v1/tokens", token).want(http.StatusCreated)
	n.make(n.manager, "createSite", "/v1/sites", pool())
	book := n.make(n.manager, "createSyllabus", "/v1/syllabuses",
		body{"title": "Another", "copy_of": n.syllabus})
	content := n.manager.get("/v1/syllabuses/" + book + "/versions/1").want(http.StatusOK).at("content").(body)
	content["title"] = "Another"
	n.make(n.manager, "createSyllabusVersion", "/v1/syllabuses/"+book+"/versions", body{"content": content})
	late := body{"title": "Late", "syllabus_id": n.syllabus, "starts_on": "2026-06-05", "ends_on": "2026-06-07"}
	course := n.make(n.manager, "createCourse", "/v1/courses", maps.Clone(late))
	enrolment = n.make(n.manager, "createEnrolment", "/v1/courses/"+course+"/enrolments",
		body{"person_id": person})
	n.make(n.boss, "createConvention", "/v1/conventions", house(body{}))
	outing := n.make(n.manager, "createOuting", "/v1/outings", body{"title": "Boat", "held_on": "2026-06-06"})
	n.make(n.manager, "recordGuest", "/v1/outings/"+outing+"/guests",
		body{"name": "Skipper", "part": "skipper"})

	moved := n.manager.post("/v1/courses/"+n.course+"/enrolments",
		body{"person_id": n.Student("Mia Moving", "1992-02-02")}).made()
	later := n.manager.post("/v1/courses", late).made()
	n.make(n.instructor, "transferEnrolment", "/v1/enrolments/"+moved+"/transfer", body{"course_id": later})

	credit := n.make(n.instructor, "recordCredit", "/v1/enrolments/"+enrolment+"/credits",
		body{"what": "skill", "code": "swim",
			"done_at_centre": "Far Bank Divers", "done_by": "T. Oakes", "done_on": "2026-04-01", "document": "referral, seen"})
	unfit := n.make(n.instructor, "recordUnfitMark", "/v1/people/"+person+"/unfit-marks",
		body{"unfit_on": "2026-06-06", "note": "a cold"})
	// What is taken back is taken back by its kind too.
	because := body{"reason": "the wrong one"}
	n.instructor.post("/v1/credits/"+credit+"/void", because).want(http.StatusOK)
	n.manager.post("/v1/papers/"+paper+"/void", because).want(http.StatusOK)
	n.instructor.post("/v1/unfit-marks/"+unfit+"/lift", because).want(http.StatusOK)
	record := n.manager.get("/v1/enrolments/" + enrolment + "/record").want(http.StatusOK)
	require.Len(n.t, record.list("ledger"), 2, "the credit and its void, and nothing of the person's")
	return enrolment
}

// safety insists that the facts of safety act: an assistant who does not turn up
// takes the group's clearance away, and the one who does gives it back.
func (n *namesake) safety() {
	n.t.Helper()
	session := n.make(n.manager, "createSession", "/v1/courses/"+n.course+"/sessions",
		body{"kind": "confined", "title": "Pool 2", "site_id": n.pool,
			"starts_local": "2026-06-06T14:00", "ends_local": "2026-06-06T16:00"})
	group := n.make(n.manager, "createGroup", "/v1/sessions/"+session+"/groups",
		body{"name": "red", "instructor_id": n.boss.person})
	assistant := n.crowd(session, group)
	cleared := func() any { return n.manager.get("/v1/groups/" + group).want(http.StatusOK).at("cleared") }
	call := func(attendance string, when time.Time) string {
		return n.item(n.boss, "recordRollCalls", "/v1/sessions/"+session+"/roll-calls",
			body{"participant_id": assistant, "attendance": attendance, "witnessed_at": at(when)})
	}
	require.Equal(n.t, true, cleared())
	absent := call("absent", saturday)
	require.Equal(n.t, false, cleared(), "nine students are too many without the assistant")
	call("present", saturday.Add(time.Minute))
	require.Equal(n.t, true, cleared())
	n.instructor.post("/v1/entries/"+absent+"/void", body{"reason": "the wrong one"}).want(http.StatusOK)
}

// dayAtThePool records one of everything that is witnessed, posted by itself.
func (n *namesake) dayAtThePool() {
	n.t.Helper()
	n.brief(n.confined, saturday)
	n.instructor.post("/v1/sessions/"+n.confined+"/open", nil).want(http.StatusOK)
	to := "/v1/sessions/" + n.confined
	sofia, seen := n.part(n.confined, n.sofia), at(saturday)
	outing := n.instructor.get(to).want(http.StatusOK).at("outing_id").(string)
	dive := "/v1/dives/" + n.instructor.get(to+"/dives").want(http.StatusOK).at("items.0.id").(string)
	n.entry(n.instructor, "recordConditions", to+"/conditions",
		body{"visibility": of(12, "m"), "witnessed_at": seen})
	n.entry(n.instructor, "recordHeadCount", "/v1/outings/"+outing+"/head-counts",
		body{"phase": "departure", "figure": 4, "counted_at": seen})
	n.entry(n.instructor, "recordIncident", "/v1/outings/"+outing+"/incidents",
		body{"what": "A cut on the foot.", "witnessed_at": seen})
	n.entry(n.instructor, "recordSessionIncident", to+"/incidents",
		body{"what": "A cut on the hand.", "witnessed_at": seen})
	n.entry(n.instructor, "recordTheoryResult", "/v1/enrolments/"+n.sofia+"/theory-results",
		body{"part": "planning", "percent": 86, "witnessed_at": seen})
	in := n.item(n.instructor, "recordTimesIn", dive+"/times-in",
		body{"participant_id": sofia, "in_at": seen, "start_pressure": of(200, "bar")})
	n.item(n.instructor, "recordTimesOut", dive+"/times-out",
		body{"time_in_id": in, "out_at": at(saturday.Add(20 * time.Minute)), "end_pressure": of(120, "bar")})
	n.item(n.instructor, "recordGasChecks", to+"/gas-checks",
		body{"participant_id": sofia, "reading": of(187, "bar"), "witnessed_at": seen})
	n.item(n.instructor, "recordDrillAttempts", to+"/drill-attempts",
		body{"participant_id": sofia, "skill": "swim", "met": true,
			"measures": []body{{"name": "swim-without-aids", "value": 200, "unit": "m"}}, "witnessed_at": seen})
	n.item(n.instructor, "recordResponses", to+"/responses",
		body{"participant_id": sofia, "what": "turned", "witnessed_at": seen})
	n.item(n.instructor, "recordLogCompletion", to+"/log-completions", body{"witnessed_at": seen})
	briefing := n.entry(n.instructor, "recordBriefing", to+"/briefings",
		body{"briefed_at": seen, "convention": "digits_bar", "check_every": nil,
			"pressures": body{"low": of(100, "bar")}, "heard": []body{}})
	n.item(n.instructor, "recordAcknowledgements", "/v1/briefings/"+briefing+"/acknowledgements",
		body{"person_id": n.student.person, "how": "said_so", "witnessed_at": seen})
}

// fromTheWater sends one of everything that a device keeps without coverage. A
// sign-off under the id of an entry is one of its own: its time is corrected by
// the clock of the device as every other's.
func (n *namesake) fromTheWater() {
	n.t.Helper()
	p := phone{season: n.season, of: n.instructor, off: -125 * time.Second, name: "phone 7"}
	sofia, seen := n.part(n.confined, n.tiago), saturday.Add(30*time.Minute)
	to := "/v1/sessions/" + n.confined
	outing := n.instructor.get(to).want(http.StatusOK).at("outing_id").(string)
	dive := n.instructor.get(to + "/dives").want(http.StatusOK).at("items.0.id").(string)
	sent := []body{
		entry("roll_call", n.confined,
			body{"participant_id": sofia, "attendance": "present", "witnessed_at": p.at(seen)}),
		entry("conditions", n.confined, body{"visibility": of(12, "m"), "witnessed_at": p.at(seen)}),
		entry("head_count", outing, body{"phase": "departure", "figure": 4, "counted_at": p.at(seen)}),
		entry("incident", n.confined, body{"what": "A cut on the hand.", "witnessed_at": p.at(seen)}),
		entry("time_in", dive,
			body{"participant_id": sofia, "in_at": p.at(seen), "start_pressure": of(200, "bar")}),
		entry("gas_check", n.confined,
			body{"participant_id": sofia, "reading": of(187, "bar"), "witnessed_at": p.at(seen)}),
		entry("drill_attempt", n.confined, body{"participant_id": sofia, "skill": "swim", "met": true,
			"measures":     []body{{"name": "swim-without-aids", "value": 200, "unit": "m"}},
			"witnessed_at": p.at(seen)}),
		entry("gas_response", n.confined,
			body{"participant_id": sofia, "what": "turned", "witnessed_at": p.at(seen)}),
		entry("log_completion", n.confined, body{"witnessed_at": p.at(seen)}),
	}
	for _, e := range sent {
		e["id"] = n.draw("sendBatch")
	}
	sent = append(sent, entry("time_out", dive,
		body{"time_in_id": sent[4]["id"], "out_at": p.at(seen.Add(20 * time.Minute)),
			"end_pressure": of(120, "bar")}))
	sent[9]["id"] = n.draw("sendBatch")
	sign := p.signed(seen.Add(time.Hour))
	sign["signed_at"], sign["id"] = p.at(seen.Add(time.Hour)), n.draw("createSignOffs")
	sent = append(sent, sign)
	clock := n.known[0] // a clock is named by its device, and may be named as anything
	p.Clock(saturday.Add(5 * time.Hour))
	sent[0]["clock"] = body{"id": clock, "ticks_ms": 1000}
	post := func() answer {
		return n.instructor.post("/v1/batches",
			body{"device_id": p.name, "sent_at": p.at(saturday.Add(5 * time.Hour)), "entries": sent,
				"clocks": []body{{"id": clock, "ticks_ms": 1000 + 4.5*3600*1000}}}).want(http.StatusOK)
	}
	n.recorded(post())
	for _, status := range statuses(post()) {
		require.Equal(n.t, "already_recorded", status)
	}
	for _, e := range sent[:10] {
		n.at = append(n.at, "/v1/entries/"+e["id"].(string))
	}
	kept := n.instructor.get("/v1/sign-offs/" + sign["id"].(string)).want(http.StatusOK)
	require.Equal(n.t, at(seen.Add(time.Hour)), kept.at("signed_at"), "by the true time")
}

// One id for as many kinds of thing as a draw picks: nothing is a defect, every
// thing is found again, what is repeated is known as a repetition, the ledger is
// whole, and the facts of safety act. The contract lists what has to be drawn.
func TestOneIDForThingsOfSeveralKinds(t *testing.T) {
	here := open(t)
	for seed := range 4 {
		picks := rapid.SliceOfN(rapid.Bool(), 64, 64).Example(seed)
		if seed == 0 { // first everything that may have the id of another thing
			picks = nil
		}
		n := newNamesake(t, openIn(t, scenetest.In(t, here.DB)), picks) // a centre of its own
		n.Clock(saturday)
		enrolment := n.books()
		n.safety()
		n.Clock(saturday.Add(4 * time.Hour))
		n.dayAtThePool()
		n.fromTheWater()
		n.item(n.instructor, "createSignOffs", "/v1/sessions/"+n.confined+"/sign-offs",
			body{"enrolment_id": n.sofia, "skill": "swim"})
		plan := n.make(n.instructor, "createGasPlan", "/v1/sessions/"+n.open+"/plans", n.everybody(10, 20))
		n.make(n.instructor, "replaceGasPlan", "/v1/plans/"+plan+"/replan",
			body{"reason": "short fill", "divers": []body{
				{"participant_id": n.part(n.open, n.tiago), "start": of(180, "bar")}}})
		n.credit(enrolment, true)
		n.make(n.instructor, "createCompletion", "/v1/enrolments/"+enrolment+"/completions", body{})

		for _, address := range n.at {
			n.boss.get(address).want(http.StatusOK)
		}
		require.ElementsMatch(t, creating(), slices.Collect(maps.Keys(n.drawn)),
			"operations that take an id by the contract, and those drawn here")
		whole, err := ledger.Verify(t.Context(), n.DB.DB, n.Centre, app.Ledger())
		require.NoError(t, err)
		whole.Problems = slices.DeleteFunc(whole.Problems, func(p ledger.Problem) bool {
			return p.Code == ledger.RowAdded && p.EntryKind == ledger.Paper // the scene gives its people papers by SQL
		})
		require.Empty(t, whole.Problems)
	}
}

// creating returns the operations whose body lets a client choose the id of what
// they create, by the contract.
func creating() (out []string) {
	for _, op := range theContract().operations {
		if op.RequestBody == nil {
			continue
		}
		if choosesID(op.RequestBody.Content.First().Value().Schema, 0) {
			out = append(out, op.OperationId)
		}
	}
	return out
}

// choosesID reports whether a body has a member id, of its own or of an item.
func choosesID(p *base.SchemaProxy, depth int) bool {
	if p == nil || depth > 6 {
		return false
	}
	s := p.Schema()
	for _, part := range slices.Concat(s.AllOf, s.OneOf, s.AnyOf) {
		if choosesID(part, depth+1) {
			return true
		}
	}
	if s.Items != nil && s.Items.IsA() && choosesID(s.Items.A, depth+1) {
		return true
	}
	if s.Properties == nil {
		return false
	}
	for name, member := range s.Properties.FromOldest() {
		if name == "id" || choosesID(member, depth+1) {
			return true
		}
	}
	return false
}
