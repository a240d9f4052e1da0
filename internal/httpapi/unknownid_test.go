package httpapi_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
)

// referring gives the pointers of the members of a body that are ids of
// something else: not the id that a creation brings, nor the subjects of
// cautions. Of a list it is the first item.
func referring(p *base.SchemaProxy, at string) []string {
	s := p.Schema()
	var out []string
	for _, one := range s.OneOf {
		out = append(out, referring(one, at)...)
	}
	if s.Properties != nil {
		for name, member := range s.Properties.FromOldest() {
			if name != "id" && name != "subject_id" {
				out = append(out, referring(member, at+"/"+name)...)
			}
		}
	}
	if s.Items != nil && s.Items.IsA() {
		out = append(out, referring(s.Items.A, at+"/0")...)
	}
	if s.Format == "uuid" && at != "" {
		out = append(out, at)
	}
	return out
}

// known makes the ids of an example those of things that there are.
func known(v any, name string, ids map[string][]string) any {
	switch x := v.(type) {
	case map[string]any:
		for k := range x {
			x[k] = known(x[k], k, ids)
		}
	case []any:
		for i := range x {
			x[i] = known(x[i], strings.TrimSuffix(name, "s"), ids)
		}
	case string:
		if _, err := time.Parse(time.RFC3339, x); err == nil {
			return at(saturday)
		}
		if list := ids[references[strings.TrimSuffix(name, "_id")]]; len(list) > 0 &&
			regexp.MustCompile(`^[0-9a-f-]{36}$`).MatchString(x) {
			return list[0]
		}
		if name == "id" {
			return newID()
		}
	}
	return v
}

// foreign gives an id of the sort that a pointer asks for, of another centre.
func foreign(t testing.TB, pointer string, ids map[string][]string) string {
	t.Helper()
	name := strings.TrimSuffix(strings.TrimSuffix(pointer, "/0"), "s")
	list := ids[references[strings.TrimSuffix(name[strings.LastIndex(name, "/")+1:], "_id")]]
	require.NotEmpty(t, list, "references does not know of what %s is an id", pointer)
	return list[0]
}

// put sets the value at a pointer and makes what is missing on the way.
func put(v any, steps []string, value any) any {
	if len(steps) == 0 {
		return value
	}
	if steps[0] == "0" {
		list, _ := v.([]any)
		if len(list) == 0 {
			list = []any{nil}
		}
		list[0] = put(list[0], steps[1:], value)
		return list
	}
	object, _ := v.(map[string]any)
	if object == nil {
		object = map[string]any{}
	}
	object[steps[0]] = put(object[steps[0]], steps[1:], value)
	return object
}

// fuller are bodies for what an example does not show.
func (w *season) fuller(operation, pointer string) map[string]any {
	switch operation + pointer {
	case "createToken/person_id":
		return body{"scopes": []any{"courses:read"}}
	case "recordHeadCount/by_name/0/guest_id", "recordHeadCount/by_name/0/person_id":
		return body{"phase": "return", "figure": 1, "counted_by": w.instructor.person,
			"counted_at": at(saturday), "by_name": []any{body{}}}
	case "createSyllabus/copy_of":
		return body{"title": "Another"}
	case "createParticipant/enrolment_id":
		return body{"role": "student"}
	case "recordIncident/people/0/person_id", "recordSessionIncident/people/0/person_id":
		return body{"what": "seasick", "witnessed_at": at(saturday), "people": []any{body{"part": "ill"}}}
	case "recordRollCalls/items/0/unexpected/person_id", "recordRollCalls/items/0/unexpected/group_id":
		return body{"items": []any{body{"id": newID(), "attendance": "present", "witnessed_at": at(saturday),
			"unexpected": body{"person_id": w.Crew("Cora Crew", "assistant").String(), "role": "assistant"}}}}
	case "recordRollCalls/items/0/unexpected/enrolment_id":
		return body{"items": []any{body{"id": newID(), "attendance": "present", "witnessed_at": at(saturday),
			"unexpected": body{"person_id": w.Student("Theo Student", "1990-01-01").String(),
				"role": "student"}}}}
	case "recordTimesOut/items/0/witnessed_by":
		start := newID()
		dive := w.instructor.get("/v1/sessions/" + w.confined + "/dives").want(http.StatusOK).ids()[0]
		w.recorded(w.instructor.post("/v1/dives/"+dive+"/times-in",
			body{"items": []body{{"id": start, "participant_id": w.part(w.confined, w.sofia),
				"in_at": at(saturday)}}}))
		return body{"items": []any{body{"id": newID(), "time_in_id": start,
			"out_at": at(saturday.Add(30 * time.Minute))}}}
	case "recordDrillAttempts/items/0/dive_id", "recordDrillAttempts/items/0/witnessed_by":
		return body{"items": []any{body{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"skill": "swim", "met": true, "witnessed_at": at(saturday)}}}
	case "replaceGasPlan/divers/0/participant_id":
		return body{"reason": "a guest",
			"divers": []any{body{"start": of(200, "bar"), "cylinder": body{"water_volume": of(12, "L")}}}}
	case "replaceGasPlan/leave_out/0":
		return body{"reason": "stays ashore"}
	case "recordAcknowledgements/items/0/witnessed_by":
		return body{"items": []any{body{"id": newID(), "person_id": w.student.person, "how": "said_so",
			"witnessed_at": at(saturday)}}}
	case "sendBatch/entries/0/session_id":
		return w.batched("gas_check", "session_id",
			body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true,
				"witnessed_at": at(saturday)})
	case "sendBatch/entries/0/dive_id":
		return w.batched("time_in", "dive_id",
			body{"participant_id": w.part(w.confined, w.sofia), "in_at": at(saturday)})
	case "sendBatch/entries/0/outing_id":
		return w.batched("head_count", "outing_id",
			body{"phase": "departure", "figure": 4, "counted_at": at(saturday)})
	case "recordTheoryResult/session_id", "recordTheoryResult/witnessed_by":
		return body{"part": syllabus.BuiltIn().Theory[0].Code, "percent": 90, "witnessed_at": at(saturday)}
	}
	return nil
}

// batched is a batch of one entry, whose place is still to be named.
func (w *season) batched(kind, place string, content body) body {
	return body{"device_id": "phone 7", "sent_at": at(saturday),
		"entries": []any{body{"id": newID(), "kind": kind, place: newID(), "body": content}}}
}

// unpointed are members whose unknown ids are answered otherwise, and why.
var unpointed = map[string]string{
	"calculateGasPlan/divers/0/participant_id": "a calculation is about divers by their keys, and stores nothing: it looks nobody up",
	"createSignOffs/items/0/evidence/0":        "what is no attempt of the student does not count as evidence: the rule says which counts",
}

// pointedOut tells whether an answer, or its first item, points to a member or
// to the list that it stands in.
func pointedOut(a answer, pointer string) bool {
	var v struct {
		Code     string
		Findings []struct{ Rule, Pointer string }
		Items    []struct {
			Problem *struct {
				Findings []struct{ Rule, Pointer string }
			}
		}
	}
	if json.Unmarshal(a.text, &v) != nil {
		return false
	}
	found := v.Findings
	if a.status == http.StatusOK && len(v.Items) == 1 && v.Items[0].Problem != nil {
		found = v.Items[0].Problem.Findings
	} else if a.status != http.StatusUnprocessableEntity {
		return false
	}
	for _, f := range found {
		// In a batch, each entry is pointed into by itself.
		if f.Rule == "contract.unknown_reference" && f.Pointer != "" &&
			strings.HasPrefix(strings.TrimPrefix(pointer, "/entries/0"), f.Pointer) {
			return true
		}
	}
	return false
}

// An id in a body that names nothing in the centre is the caller's mistake: 422,
// or one item's refusal among many, with a pointer to it; never our defect, and
// never taken for something. Each body is tried at every address of its kind.
func TestAnIDThatNamesNothingIsPointedOut(t *testing.T) {
	w := newSeason(t, open(t))
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	ids := w.everyID()
	elsewhere := newSeason(t, openIn(t, scenetest.In(t, w.DB))).oneOfEach()
	refers := func(op *operation) []string {
		if !op.takesJSON() {
			return nil
		}
		return referring(op.RequestBody.Content.First().Value().Schema, "")
	}
	every(t, func(op *operation) bool { return len(refers(op)) > 0 }, func(t *testing.T, op *operation) {
		for _, pointer := range refers(op) {
			pointed, last := false, answer{}
			for _, id := range append([]string{newID()}, ids[strings.Split(op.path, "/")[2]]...) {
				content := w.fuller(op.OperationId, pointer)
				if content == nil {
					content, _ = known(op.example(t), "", ids).(map[string]any)
				}
				if op.path == "/v1/sessions/{id}/participants" {
					delete(content, "id")
				}
				sent := put(content, strings.Split(pointer, "/")[1:], foreign(t, pointer, elsewhere))
				to, headers := op.address(map[string]string{"id": id}), []string(nil)
				if op.method == http.MethodPatch {
					headers = []string{"If-Match", w.boss.get(to).header.Get("ETag")}
				}
				last = op.send(w.boss.on(t), to, sent, headers...)
				pointed = pointed || pointedOut(last, pointer)
			}
			if _, otherwise := unpointed[op.OperationId+pointer]; !otherwise {
				assert.True(t, pointed, "%s %s: %d %s", op.OperationId, pointer, last.status, last.text)
			}
		}
	})
}
