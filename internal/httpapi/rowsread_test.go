package httpapi_test

import (
	"context"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// How many rows a request may read, scans and index entries together, in a database
// that was never analysed. Our choice: twice what is reached. Two million in a thousand
// requests would be 2,000.
const mostRowsRead = 1_000

// A database that was just made or restored has no statistics. What is read there for
// a day at the pool, in a centre of 364 people, is printed by table and index and held
// within a bound; run with -v to see it.
func TestRowsReadWithoutStatistics(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.populate(t)
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	before := w.rowsRead(t)
	const rounds = 25
	requests := 0
	t.Run("requests", func(t *testing.T) { // whose connections, once closed, have told what they read
		c := w.through(t, &trips{}).on(t)
		sofia, session := w.part(w.confined, w.sofia), "/v1/sessions/"+w.confined
		for i := range rounds {
			at := at(saturday.Add(time.Duration(i) * time.Minute))
			for range 5 {
				w.recorded(c.post(session+"/gas-checks",
					body{"items": []body{{"id": newID(), "participant_id": sofia,
						"reading":   of(float64(187-i), "bar"),
						"signalled": of(180, "bar"), "witnessed_at": at}}}))
			}
			w.recorded(c.post(session+"/roll-calls",
				body{"items": []body{{"id": newID(), "participant_id": sofia, "attendance": "present",
					"witnessed_at": at}}}))
			c.get(session + "/watch").want(http.StatusOK)
			c.get("/v1/people/" + w.instructor.person.String() + "/days/2026-06-06").want(http.StatusOK)
			requests += 8
		}
	})
	all := 0.0
	for table, after := range w.rowsRead(t) {
		if n := after - before[table]; n > 0 {
			t.Logf("%-40s %9.0f", table, n)
			all += n
		}
	}
	t.Logf("%d requests read %.0f rows, %.0f each", requests, all, all/float64(requests))
	require.LessOrEqual(t, all/float64(requests), float64(mostRowsRead))
}

// populate brings the centre to 364 people, each of whom takes part in one session of
// long ago, as students of thirty courses do.
func (w *season) populate(t *testing.T) {
	t.Helper()
	for i := range 30 {
		session := w.Session(uuid.MustParse(w.course), "confined", fmt.Sprintf("2026-05-%02dT09:00:00Z", i+1),
			"closed")
		w.Exec(`WITH p AS (
				INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at, updated_at)
				SELECT @centre, gen_random_uuid(), 'Guest ' || n, '1990-01-01', 'bar', '', @now, @now
					FROM generate_series(1, 12) n RETURNING id),
			e AS (
				INSERT INTO enrolment (centre_id, id, course_id, person_id, state, body_digest, created_at, updated_at)
				SELECT @centre, gen_random_uuid(), @course, p.id, 'completed', '', @now, @now FROM p
					RETURNING id, person_id)
			INSERT INTO participant (centre_id, id, session_id, person_id, enrolment_id, role, gauge_unit,
				during, body_digest, created_at, updated_at)
			SELECT @centre, gen_random_uuid(), s.id, e.person_id, e.id, 'student', 'bar', s.during, '', @now, @now FROM e, session s WHERE s.id = @session`,
			pgx.NamedArgs{"course": w.course, "session": session})
	}
}

// rowsRead returns, by table, the rows that scans read so far, and by index its entries
// that were read, as the server has counted them.
func (w *season) rowsRead(t *testing.T) map[string]float64 {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), w.DB.SuperURL)
	require.NoError(t, err)
	defer func() { _ = conn.Close(context.WithoutCancel(t.Context())) }()
	out := map[string]float64{}
	rows, err := conn.Query(t.Context(), `SELECT relname, seq_tup_read::float8
		FROM pg_stat_user_tables
		UNION ALL
		SELECT indexrelname, idx_tup_read::float8
		FROM pg_stat_user_indexes`)
	require.NoError(t, err)
	var table string
	var n float64
	_, err = pgx.ForEachRow(rows, []any{&table, &n}, func() error { out[table] = n; return nil })
	require.NoError(t, err)
	return out
}
