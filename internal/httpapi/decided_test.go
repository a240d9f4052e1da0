package httpapi_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"testing"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"
)

// decidedMembers are the members of every answer of an operation that takes
// dry_run, done or not.
var decidedMembers = []string{"decision", "result"}

// A client that is generated reads one type, whatever it asked: so each success of
// an operation that takes dry_run has the one shape, and no other answer has.
func TestEveryDecisionHasOneShape(t *testing.T) {
	t.Parallel()
	n := 0
	for _, op := range theContract().operations {
		takes := false
		for _, p := range op.Parameters {
			takes = takes || p.Name == "dry_run"
		}
		for _, status := range []string{"200", "201", "204"} {
			answer := op.Responses.Codes.GetOrZero(status)
			if answer == nil {
				continue
			}
			var schema *base.Schema
			if content := answer.Content; content != nil && content.GetOrZero("application/json") != nil {
				schema = content.GetOrZero("application/json").Schema.Schema()
			}
			is := schema != nil && slices.Equal(schema.Required, decidedMembers) &&
				len(schema.OneOf)+len(schema.AnyOf) == 0
			require.Equal(t, takes, is, "%s %s", op.OperationId, status)
			if takes {
				n++
			}
		}
	}
	require.Greater(t, n, 25)
}

func TestADecisionStandsBesideTheResultDoneOrNot(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	to := "/v1/courses/" + w.course + "/enrolments"
	ask := body{"id": newID(), "person_id": s.Student("Gil Guest", "1990-01-01")}
	child := body{"person_id": s.Student("Carla Child", "2020-01-01")}
	members := func(a answer) (decision, result any) {
		t.Helper()
		var all body
		require.NoError(t, json.Unmarshal(a.whole, &all))
		require.Len(t, all, len(decidedMembers))
		return all["decision"], all["result"]
	}
	allowed := body{"allowed": true, "findings": []any{}}

	decision, result := members(w.manager.post(to+"?dry_run=true", ask).want(http.StatusOK))
	require.Equal(t, []any{allowed, nil}, []any{decision, result})
	made := w.manager.post(to, ask).want(http.StatusCreated)
	decision, result = members(made)
	require.Equal(t, allowed, decision)
	require.Equal(t, ask["id"], result.(body)["id"])
	require.NotEmpty(t, made.header.Get("ETag"))
	decision, again := members(w.manager.post(to, ask).want(http.StatusOK))
	require.Equal(t, []any{allowed, result}, []any{decision, again}, "sent again")

	asked := w.manager.post(to+"?dry_run=true", child).want(http.StatusOK)
	decision, result = members(asked)
	require.Equal(t, []any{false, nil}, []any{decision.(body)["allowed"], result})
	require.Empty(t, asked.header.Get("ETag")+asked.header.Get("Location"))
	require.Equal(t, decision.(body)["findings"],
		w.manager.post(to, child).refused(http.StatusUnprocessableEntity, "rules_refused").at("findings"))
}

// What a dry run finds is what the request would be refused with, word for word.
func TestADryRunFindsWhatTheRefusalDoes(t *testing.T) {
	w := newSeason(t, open(t))
	to := "/v1/sessions/" + w.confined + "/participants"
	ask := body{"role": "student", "enrolment_id": newID(), "group_id": w.blue}
	refused := w.manager.post(to, ask).refused(http.StatusUnprocessableEntity,
		"unknown_reference").list("findings")
	require.NotEmpty(t, refused)
	require.Contains(t, refused[0]["subjects"], body{"type": "session", "id": w.confined})
	dry := w.manager.post(to+"?dry_run=true", ask).want(http.StatusOK)
	require.Equal(t, false, dry.at("allowed"))
	require.Equal(t, refused, dry.list("findings"))
}
