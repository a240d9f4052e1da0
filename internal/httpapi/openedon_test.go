package httpapi_test

import (
	"context"
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
)

// openedOn reads from what a session's opening was judged what told each person their
// low-gas pressure, by participant.
func (w *season) openedOn(session string) map[string]body {
	w.t.Helper()
	var text string
	require.NoError(w.t, w.DB.InTx(w.t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		text, err = pg.Row[string](ctx, tx,
			`SELECT (judged_on->'session')::text FROM decision WHERE kind = 'open_session' AND subject_id::text = @id`,
			pgx.StrictNamedArgs{"id": session})
		return err
	}))
	var on struct {
		Crew, Students []struct {
			ParticipantID string `json:"participant_id"`
			ToldBy        body   `json:"told_by"`
		}
	}
	require.NoError(w.t, json.Unmarshal([]byte(text), &on))
	out := map[string]body{}
	for _, p := range append(on.Crew, on.Students...) {
		out[p.ParticipantID] = p.ToldBy
	}
	return out
}

// The decision to open keeps which plan or which briefing told each person the
// low-gas pressure for the first dive. Who does not dive was told none.
func TestAnOpeningKeepsWhatToldEachPerson(t *testing.T) {
	w := ready(t)
	part := func(who string) string { return w.part(w.open, who) }
	assistant := part(w.assistant.person.String())
	w.instructor.patch("/v1/participants/"+assistant, body{"not_diving": true}).want(http.StatusOK)
	ask := w.everybody(10, 20)
	divers := ask["divers"].([]body) // the instructor, the assistant, Sofia, Tiago
	ask["divers"] = []body{divers[0], divers[2]}
	plan := w.planGas(ask).id()
	accepting(w.instructor, "/v1/plans/"+plan+"/confirm").want(http.StatusOK)
	briefing := w.telling(w.open, sunday.Add(-2*time.Hour), body{"pressures": body{"low": of(100, "bar")}}).id()
	accepting(w.instructor, "/v1/sessions/"+w.open+"/open").want(http.StatusOK)

	dive := w.instructor.get("/v1/sessions/" + w.open + "/dives").want(http.StatusOK).at("items.0.id")
	told := w.openedOn(w.open)
	for _, planned := range []string{w.instructor.person.String(), w.sofia} {
		require.Equal(t, body{"dive_id": dive, "plan_id": plan, "briefing_id": briefing}, told[part(planned)])
	}
	require.Equal(t, body{"dive_id": dive, "plan_id": nil, "briefing_id": briefing}, told[part(w.tiago)])
	require.Contains(t, told, assistant)
	require.Nil(t, told[assistant])
}
