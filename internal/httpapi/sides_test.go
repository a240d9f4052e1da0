package httpapi_test

import (
	"net/http"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// sides says on which side each operation stands: decisions about the future
// may be refused by the rules, what happened never is, and the rest keeps the
// books. Whoever moves an operation to the other side does it here too. A POST
// may read as well: it works something out and stores nothing.
var sides = map[string][]string{
	"read": {
		// gas plans
		"calculatePlan",
		// conventions, briefings
		"examineConvention", "encodeReading", "decodeGestures",
		// drill scripts, practice
		"writeDrillScript", "judgePracticeAnswer",
		// no-stop, days, breathing rates
		"calculateNoStop",
	},
	"plan": {
		"liftUnfitMark", "enrol", "activateEnrolment", "transferEnrolment",
		"planSession", "changeSession", "moveSession", "openSession", "openGroup", "changeGroup", "replaceInstructor",
		"addParticipant", "removeParticipant", "regroup", "place",
		"signOff", "voidSignOff", "complete",
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
		"changePerson", "recordPaper", "voidPaper", "markUnfit",
		"closeSession", "abandonSession", "changeParticipant", "callRoll", "reportConditions", "voidEntry",
		"addGuest", "guestLeaves", "countHeads", "recordIncident", "recordSessionIncident",
		"logTimesIn", "logTimesOut", "logGasChecks", "logDrillAttempts", "logTheoryResult",
		"acceptCredit", "voidCredit", "voidCompletion",
		// gas plans
		// no-stop, days, breathing rates
		// conventions, briefings
		"giveBriefing", "acknowledgeBriefing", "enterAcknowledgements",
		// drill scripts, practice
		// gas watch, what a student sees
		"logResponses", "completeLog",
		// live
		// batches from the water
		"sendBatch",
	},
	"upkeep": {
		"changeCentre", "setClock", "issueToken", "revokeToken",
		"addPerson", "takeInPeople", "giveRole", "takeRole",
		"createSite", "changeSite", "deleteSite",
		"createSyllabus", "renameSyllabus", "addSyllabusVersion",
		"createCourse", "changeCourse", "cancelCourse", "closeCourse", "withdrawEnrolment",
		"cancelSession", "deleteGroup", "createOuting", "changeOuting",
		// gas plans
		"planGas", "replanGas", "changeGasSettings",
		// no-stop, days, breathing rates
		// conventions, briefings
		// drill scripts, practice
		// gas watch, what a student sees
		// live
		"issueTicket",
		// batches from the water
		"dropHeldEntry", "judgeHeldEntry",
	},
}

func TestEveryOperationStandsOnItsSide(t *testing.T) {
	written := map[string][]string{}
	for _, op := range contract().operations {
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

// Whoever plans can ask first, and only what can be refused is asked about: an
// answer to a dry run has a decision's form.
func TestEveryPlanCanBeAskedAbout(t *testing.T) {
	for _, op := range contract().operations {
		var asks bool
		for _, p := range op.Parameters {
			asks = asks || p.Name == "dry_run"
		}
		side := op.side(t)
		require.True(t, asks || side != "plan", "%s takes no dry_run", op.OperationId)
		require.False(t, asks && (side == "fact" || side == "read"), "%s takes dry_run", op.OperationId)
	}
}

// A fact is never refused by the rules: 422 is there only for ids in a body
// that name nothing.
func TestNoFactIsRefusedByTheRules(t *testing.T) {
	s := open(t)
	every(t, func(op *operation) bool { return op.side(t) == "fact" && slices.Contains(op.statuses, "422") }, func(t *testing.T, op *operation) {
		a := op.send(s.boss.on(t), op.address(nil), op.example(t))
		require.NotEqual(t, http.StatusUnprocessableEntity, a.status, "%s", a.text)
	})
}
