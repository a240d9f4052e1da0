package demo

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/pg/pgtest"
	"tankside/internal/review"
)

// reviewed judges every decision of the story's centre again.
func reviewed(t *testing.T, db *pgtest.DB, s *story) (all []review.Result) {
	t.Helper()
	err := app.NewServices(db.DB).Review.JudgeAll(t.Context(), s.centre, time.Time{},
		time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC), func(r review.Result) { all = append(all, r) })
	require.NoError(t, err)
	return all
}

// different returns the decisions that are not the same when judged again, by id, each
// with what differs.
func different(all []review.Result) map[string]string {
	out := map[string]string{}
	for _, r := range all {
		if r.Same() {
			continue
		}
		var why strings.Builder
		fmt.Fprintln(&why, r.Kind, r.Unjudged, r.Again.Differs)
		for _, d := range r.Differences {
			fmt.Fprintln(&why, d.Now, d.Finding.Severity, d.Finding.Message, d.Finding.Subjects, d.Why)
		}
		out[r.ID.String()] = why.String()
	}
	return out
}

// The whole story judged again, by what each decision was judged on: nothing differs,
// also after papers, a completion and credits were voided, and the centre's limits and
// demands were changed. What somebody alters who may do anything is found.
func TestTheStoryIsTheSameWhenJudgedAgain(t *testing.T) {
	db := pgtest.New(t)
	var out bytes.Buffer
	s, err := tell(t.Context(), Options{Out: &out}, db.AppURL, serve(t, db))
	require.NoError(t, err, out.String())
	s.decideTheRest()
	all := reviewed(t, db, s)
	require.Empty(t, different(all))
	kinds := map[string]int{}
	for _, r := range all {
		kinds[r.Kind]++
	}
	for _, k := range []string{"create_session", "move_session", "open_session", "create_group", "create_placements",
		"create_participant", "enrol", "confirm_plan", "sign_off", "complete"} {
		require.Positive(t, kinds[k], "the story decides nothing of the kind %s", k)
	}

	centre := s.must("Mara", get, "/v1/centre", nil)
	limits := func(places int) object {
		return object{"age_of_majority": 21, "student_papers": []string{"waiver", "insurance"},
			"own_rule_book": object{"title": "Few", "source": "decided by the instructors", "lines": []object{
				{"title": "everybody", "settings": []string{"open", "confined"}, "levels": []string{"entry_level"},
					"age_from": 10, "places": []int{places}}}}}
	}
	centre = s.must("Mara", patch, "/v1/centre", limits(3), "If-Match", centre.etag)
	s.must("Mara", patch, "/v1/centre", limits(1), "If-Match", centre.etag)
	require.Empty(t, different(reviewed(t, db, s)), "each is judged by the books and demands of its day")

	super, altered := asAnybody(t, db), map[string]string{}
	for name, alter := range map[string]string{
		"an age": `UPDATE decision SET judged_on = jsonb_set(judged_on, '{enrolment,age}', '9')
			WHERE id = (SELECT id FROM decision WHERE kind = 'enrol' ORDER BY id LIMIT 1) RETURNING id::text`,
		"what was found": `UPDATE decision SET findings = '[]'
			WHERE id = (SELECT id FROM decision WHERE kind <> 'open_session'
				AND findings::text ~ '"rule": "(ratio|gas|nostop|syllabus|roster)[.]' ORDER BY id LIMIT 1)
			RETURNING id::text`,
		"the students of a group": `UPDATE decision SET judged_on =
				jsonb_set(judged_on, '{session,groups,0,ages}', '[20,20,20,20,20,20,20,20,20,20,20,20,20,20]')
			WHERE id = (SELECT id FROM decision WHERE kind = 'open_session'
				AND judged_on #>> '{session,groups,0,setting}' = 'open' ORDER BY id LIMIT 1) RETURNING id::text`,
		"a start pressure of a plan": `UPDATE decision SET judged_on =
				jsonb_set(judged_on, '{gas_plan,input,divers,0,start,value}', '20')
			WHERE id = (SELECT id FROM decision WHERE kind = 'confirm_plan' ORDER BY id LIMIT 1) RETURNING id::text`,
		"the signer's papers": `UPDATE decision SET judged_on = jsonb_set(judged_on, '{completion,signer,papers}', '[]')
			WHERE id = (SELECT id FROM decision WHERE kind = 'complete' ORDER BY id LIMIT 1) RETURNING id::text`,
	} {
		var id string
		require.NoError(t, super.QueryRow(t.Context(), alter).Scan(&id), name)
		altered[name] = id
	}
	found := different(reviewed(t, db, s))
	for name, id := range altered {
		require.Contains(t, found, id, name)
	}
}
