package httpapi_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// sides says on which side each operation stands: decisions about the future
// may be refused by the rules, what happened never is, and the rest keeps the
// books. Whoever moves an operation to the other side does it here too. A POST
// may read as well: it works something out and stores nothing.
//
// Taking back (voiding, lifting a mark) is a fact, of whatever was decided or
// witnessed: somebody who may do it has done it, with a reason, and no rule asks
// whether they should have, only who they are (403). What rested on it stands,
// flagged. Accepting a credit is one too: somebody stands for having seen what
// another centre wrote, and the rules judge by it later.
var sides = map[string][]string{
	"read": {
		// gas plans
		"calculateGasPlan",
		// conventions, briefings
		"examineConvention", "encodeReading", "decodeGestures",
		// drill scripts, practice
		"writeDrillScript", "judgePracticeAnswer",
		// no-stop, days, breathing rates
		"calculateNoStop",
	},
	"decision": {
		"createEnrolment", "activateEnrolment", "transferEnrolment",
		"createSession", "changeSession", "moveSession", "openSession", "createGroup", "changeGroup",
		"replaceInstructor",
		"createParticipant", "removeParticipant", "moveParticipants", "createPlacements",
		"createSignOffs", "createCompletion",
		// gas plans
		"confirmGasPlan",
		// no-stop, days, breathing rates
		// conventions, briefings
		"createConvention", "changeConvention",
		// drill scripts, practice
		// gas watch, what a student sees
		// live
		// batches from the water
	},
	"fact": {
		"changePerson", "recordPaper", "voidPaper", "recordUnfitMark", "liftUnfitMark",
		"closeSession", "abandonSession", "changeParticipant", "recordRollCalls", "recordConditions",
		"voidEntry",
		"recordGuest", "guestLeaves", "recordHeadCount", "recordIncident", "recordSessionIncident",
		"recordTimesIn", "recordTimesOut", "recordGasChecks", "recordDrillAttempts", "recordTheoryResult",
		"recordCredit", "voidCredit", "voidSignOff", "voidCompletion",
		// gas plans
		"withdrawGasPlan",
		// no-stop, days, breathing rates
		// conventions, briefings
		"recordBriefing", "acknowledgeBriefing", "recordAcknowledgements",
		// drill scripts, practice
		// gas watch, what a student sees
		"recordResponses", "recordLogCompletion",
		// live
		// batches from the water
		"sendBatch",
	},
	"upkeep": {
		"changeCentre", "setClock", "createToken", "revokeToken",
		"createPerson", "importPeople", "giveRole", "takeRole",
		"createSite", "changeSite", "deleteSite",
		"createSyllabus", "renameSyllabus", "createSyllabusVersion",
		"createCourse", "changeCourse", "cancelCourse", "closeCourse", "withdrawEnrolment",
		"cancelSession", "deleteGroup", "createOuting", "changeOuting",
		// gas plans
		"createGasPlan", "replaceGasPlan", "changeGasSettings",
		// no-stop, days, breathing rates
		// conventions, briefings
		// drill scripts, practice
		// gas watch, what a student sees
		// live
		"createTicket",
		// batches from the water
		"dropHeldEntry", "judgeHeldEntry",
	},
}

func TestEveryOperationStandsOnItsSide(t *testing.T) {
	written := map[string][]string{}
	for _, op := range theContract().operations {
		side := op.side(t)
		if op.method == http.MethodGet {
			require.Equal(t, "read", side, op.OperationId)
			continue
		}
		written[side] = append(written[side], op.OperationId)
	}
	require.Len(t, written, len(sides))
	for side, ids := range sides {
		require.ElementsMatch(t, ids, written[side], side)
	}
}

// noRule are the facts that no rule could speak against, and why.
var noRule = map[string]string{
	"liftUnfitMark":          "taken back by an instructor other than who is marked: a lifted mark speaks against nothing",
	"voidCredit":             "taken back: what rests on it is flagged on reading and blocks completion",
	"voidSignOff":            "taken back: it notes what rests on it",
	"voidCompletion":         "taken back: it answers what was found at the completion",
	"recordCredit":           "what was done elsewhere is judged where it is asked for",
	"recordGuest":            "whoever is aboard is aboard: only a head count judges it",
	"guestLeaves":            "whoever has gone has gone: only a head count judges it",
	"recordIncident":         "recorded without any precondition",
	"recordSessionIncident":  "recorded without any precondition",
	"abandonSession":         "whoever breaks off is right to",
	"changeParticipant":      "it says which gauge somebody has, and who of the crew does not dive",
	"recordAcknowledgements": "who has heard a briefing has heard it: what speaks against the briefing stands with that",
	"recordTheoryResult":     "a result below the pass mark is noted, and the student tries again",
	"recordLogCompletion":    "it says that nothing is missing: the gaps are found on reading the log",
}

// takesSide notes whether a rule refused the operation, or had to let it be.
// A rule is one of diving, of the house or of the books, not of the contract;
// asking first proves nothing. A fact that is refused by a rule is a breach.
func (op *operation) takesSide(r *http.Request, answer *http.Response) error {
	if op.method == http.MethodGet || r.URL.Query().Get("dry_run") == "true" ||
		!strings.HasSuffix(answer.Header.Get("Content-Type"), "json") {
		return nil
	}
	text, err := io.ReadAll(answer.Body)
	answer.Body = io.NopCloser(bytes.NewReader(text))
	if err != nil {
		return err
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		return err
	}
	done := answer.StatusCode/100 == 2
	refused := answer.StatusCode == http.StatusConflict || answer.StatusCode == http.StatusUnprocessableEntity
	seen.Lock()
	defer seen.Unlock()
	for _, f := range ruled(v, !done) {
		switch {
		case done && f.inProblem:
			seen.refused[op.OperationId] = seen.refused[op.OperationId] || f.severity == "forbidden"
		case done:
			seen.against[op.OperationId] = seen.against[op.OperationId] || f.severity != "note"
		case refused && f.severity == "forbidden":
			seen.refused[op.OperationId] = true
			if side, has := op.Extensions.Get("x-side"); has && side.Value == "fact" {
				return fmt.Errorf("%s is a fact and was refused by %s", op.OperationId, f.rule)
			}
		}
	}
	return nil
}

// said is one finding in an answer: whether it stands in a problem, the
// answer itself or that of one item.
type said struct {
	rule, severity string
	inProblem      bool
}

// ruled gives the findings of an answer, wherever they stand in it.
func ruled(v any, inProblem bool) (out []said) {
	switch x := v.(type) {
	case []any:
		for _, y := range x {
			out = append(out, ruled(y, inProblem)...)
		}
	case map[string]any:
		rule, isOne := x["rule"].(string)
		if severity, has := x["severity"].(string); has && isOne {
			if !strings.HasPrefix(rule, "contract.") {
				out = append(out, said{rule, severity, inProblem})
			}
			return out
		}
		if x["problem"] != nil {
			return ruled(x["problem"], true)
		}
		for _, y := range x {
			out = append(out, ruled(y, inProblem)...)
		}
	}
	return out
}

// oneSided lists the decisions that no rule was seen to refuse, and the facts of which
// what was seen does not fit what is said of them: recorded against a rule, or
// that there is none.
func oneSided() (out []string) {
	for _, op := range theContract().operations {
		switch side, _ := op.Extensions.Get("x-side"); {
		case side.Value == "decision" && !seen.refused[op.OperationId]:
			out = append(out, op.OperationId+" is a decision, and no rule was seen to refuse it")
		case side.Value == "fact" && !seen.against[op.OperationId] && noRule[op.OperationId] == "":
			out = append(out, op.OperationId+" is a fact, and was never seen recorded against a rule")
		case seen.against[op.OperationId] && noRule[op.OperationId] != "":
			out = append(out, op.OperationId+" is listed as a fact that no rule speaks against, and one did")
		}
	}
	return out
}

func TestWhatNoRuleSpeaksAgainstIsAFact(t *testing.T) {
	for id := range noRule {
		require.Contains(t, sides["fact"], id)
	}
}

func TestARuleIsHeardWhereverItSpeaks(t *testing.T) {
	var v any
	require.NoError(t, json.Unmarshal([]byte(`{"findings": [{"rule": "a.b", "severity": "caution"}, {"rule": "contract.x", "severity": "forbidden"}],
		"items": [{"status": "refused", "problem": {"findings": [{"rule": "c.d", "severity": "forbidden"}]}, "findings": [{"rule": "c.d", "severity": "forbidden"}]}]}`), &v))
	require.ElementsMatch(t, []said{{"a.b", "caution", false}, {"c.d", "forbidden", true}}, ruled(v, false))
}

// asked are facts that can be asked about all the same, since the contract of /v1
// promised it when it still had them among the plans.
var asked = []string{"liftUnfitMark", "voidSignOff"}

// Whoever plans can ask first, and only what can be refused is asked about: an
// answer to a dry run has a decision's form.
func TestEveryDecisionCanBeAskedAbout(t *testing.T) {
	for _, op := range theContract().operations {
		var asks bool
		for _, p := range op.Parameters {
			asks = asks || p.Name == "dry_run"
		}
		side := op.side(t)
		require.True(t, asks || side != "decision", "%s takes no dry_run", op.OperationId)
		may := side == "decision" || side == "upkeep" || slices.Contains(asked, op.OperationId)
		require.True(t, may || !asks, "%s takes dry_run", op.OperationId)
	}
}

// A fact is never refused by the rules: 422 is there only for ids in a body
// that name nothing.
func TestNoFactIsRefusedByTheRules(t *testing.T) {
	s := open(t)
	every(t, func(op *operation) bool { return op.side(t) == "fact" && slices.Contains(op.statuses, "422") },
		func(t *testing.T, op *operation) {
			a := op.send(s.boss.on(t), op.address(nil), op.example(t))
			require.NotEqual(t, http.StatusUnprocessableEntity, a.status, "%s", a.text)
		})
}

// What the other tests do not bring about: plans that a rule refuses.
func TestPlansAreRefused(t *testing.T) {
	w := newSeason(t, open(t))
	full := w.aCourse(body{"syllabus_id": w.syllabus, "starts_on": "2026-07-03", "ends_on": "2026-07-05",
		"places": 1}).made()
	w.manager.post("/v1/courses/"+full+"/enrolments",
		body{"person_id": w.Student("Carla Student", "1990-01-01")}).made()
	pool, ana := "/v1/sessions/"+w.confined, w.Crew("Ana Assistant", "assistant")
	before := w.everyRow()
	for rule, ask := range map[string]func() answer{
		"courses.full": func() answer {
			return w.manager.post("/v1/enrolments/"+w.sofia+"/transfer", body{"course_id": full})
		},
		"roster.double_booked": func() answer { // everybody is at the bay then
			return w.manager.post(pool+"/move",
				body{"starts_local": "2026-06-07T10:00", "ends_local": "2026-06-07T11:00"})
		},
		"ratio.above_lowered_limit": func() answer {
			return w.instructor.patch(pool,
				body{"places_lowered": 1})
		},
		"roster.not_qualified": func() answer {
			return w.manager.post(pool+"/groups", body{"name": "red", "instructor_id": ana})
		},
	} {
		ask().refused(http.StatusUnprocessableEntity, "rules_refused").by(rule)
		require.Equal(t, before, w.everyRow(), "%s changed something", rule)
	}
}

// And facts that are recorded although a rule speaks against them. In open water
// at entry level 8 students to an instructor, 10 with one assistant (three
// organisations' manuals, seen), who teaches on papers that stand.
func TestFactsAreNeverRefused(t *testing.T) {
	w := newSeason(t, open(t))
	var more []string
	for i := range 7 {
		more = append(more, w.manager.post("/v1/courses/"+w.course+"/enrolments",
			body{"person_id": w.Student(fmt.Sprintf("Student %d", i), "1990-01-01")}).made())
	}
	w.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": more, "session_ids": []string{w.open}, "group_name": "blue"}).want(http.StatusOK)
	for _, paper := range w.manager.get("/v1/people/" + w.assistant.person.String() +
		"/papers").want(http.StatusOK).list("items") {
		if paper["kind"] == "teaching_status" {
			a := w.manager.post("/v1/papers/"+paper["id"].(string)+"/void",
				body{"reason": "of somebody else"}).want(http.StatusOK)
			require.Equal(t, []any{8.0, 9.0},
				[]any{a.by("ratio.too_many_students")["limit"].(body)["value"],
					a.by("ratio.too_many_students")["found"].(body)["value"]})
		}
	}
	require.Equal(t, false, w.manager.get("/v1/groups/"+w.openBlue).at("cleared"))

	w.Clock(saturday) // and nobody has opened the session
	a := w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/drill-attempts",
		body{"items": []body{{"id": newID(), "participant_id": w.part(w.confined, w.sofia),
			"skill": "swim", "met": false, "reason": "tired", "witnessed_at": at(saturday)}}}))
	require.Contains(t, a.rules("items.0.findings"), "training.session_not_under_way")
}
