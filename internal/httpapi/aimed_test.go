package httpapi_test

import (
	"context"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/httpapi"
	"tankside/internal/offline"
	"tankside/internal/pg"
)

// counted counts the statements that a database is sent.
type counted struct{ statements atomic.Int64 }

func (c *counted) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	c.statements.Add(1)
	return ctx
}

func (*counted) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (*counted) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return ctx
}

func (c *counted) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {
	c.statements.Add(1)
}

func (*counted) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

// cost is what some requests took.
type cost struct{ statements, rows int64 }

// costs counts what requests take on connections of their own: the statements, and the
// rows that they read by index or by scan. The server adds a session's rows to its
// count when the session ends.
func (w *season) costs(do func()) (out cost) {
	w.t.Helper()
	read := func() (n int64) {
		conn, err := pgx.Connect(w.t.Context(), w.DB.SuperURL)
		require.NoError(w.t, err)
		defer conn.Close(w.t.Context())
		require.Eventually(w.t, func() bool {
			var open int
			require.NoError(w.t, conn.QueryRow(w.t.Context(), `SELECT count(*) FROM pg_stat_activity
				WHERE datname = current_database() AND application_name = 'counted'`).Scan(&open))
			return open == 0
		}, 10*time.Second, 10*time.Millisecond)
		require.NoError(w.t, conn.QueryRow(w.t.Context(),
			`SELECT sum(seq_tup_read + COALESCE(idx_tup_fetch, 0))::bigint FROM pg_stat_user_tables`).Scan(&n))
		return n
	}
	before, t := read(), &counted{}
	db, err := pg.OpenTraced(w.t.Context(), w.DB.AppURL+"&pool_max_conns=4&application_name=counted", t)
	require.NoError(w.t, err)
	services := app.NewServices(db)
	services.Offline.Bound(offline.Bounds{Held: 1e9, CentreHeld: 1e9})
	handler, err := httpapi.New(httpapi.Options{Services: services, DryRun: app.NewServices(db.DryRun()),
		Live: w.hub, Rules: app.Rules(), Ready: db.Ping,
		Limits: ample, Log: slog.New(slog.DiscardHandler)})
	require.NoError(w.t, err)
	was := w.instructor.http
	counting := &http.Client{Transport: checked{handler}}
	w.instructor.http, w.boss.http = counting, counting
	defer func() { w.instructor.http, w.boss.http = was, was }()
	do()
	db.Close()
	return cost{t.statements.Load(), read() - before}
}

// A write costs the same with nothing and with 20,000 entries held that do not wait for
// it: people, a session, a gas check, a batch. Before held entries said what they wait
// for, each write judged all that was held in the centre: 300 entries made 18
// statements 4,823.
func TestAWriteCostsTheSameHoweverMuchIsHeld(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	s.services.Offline.Bound(offline.Bounds{Held: 1e9, CentreHeld: 1e9})
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia := w.part(w.confined, w.sofia)
	n := 0
	writes := map[string]func(){
		"a person": func() {
			n++
			w.boss.post("/v1/people",
				body{"name": fmt.Sprintf("Person %d", n), "birth_on": "1990-01-01",
					"roles": []string{"student"}}).made()
		},
		"a gas check": func() {
			w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/gas-checks",
				body{"items": []body{{"id": newID(), "participant_id": sofia,
					"no_answer": true, "witnessed_at": at(saturday)}}}))
		},
		"a batch": func() {
			w.instructor.post("/v1/batches",
				body{"device_id": "hers", "sent_at": at(saturday),
					"entries": []body{entry("gas_check", w.confined,
						body{"participant_id": sofia, "no_answer": true,
							"witnessed_at": at(saturday)})}}).want(http.StatusOK)
		},
	}
	measure := func() map[string]cost {
		out := map[string]cost{}
		for _, name := range slices.Sorted(maps.Keys(writes)) { // always as much before each
			do := writes[name]
			do() // what is read once
			out[name] = w.costs(func() {
				for range 5 {
					do()
				}
			})
		}
		return out
	}
	first := measure()
	none := measure()
	w.hold(20_000)
	many := measure()
	require.Empty(t, w.dueNow())
	for name := range writes {
		t.Logf("%s, five times: %+v and %+v with nothing held, %+v with 20,000", name, first[name], none[name],
			many[name])
		// Now and then that a token was used is noted.
		require.LessOrEqual(t, many[name].statements, none[name].statements+2, name)
		// A session's gas checks become more meanwhile, and the next one is judged beside
		// them. Looking at all that is held would read 20,000 rows for each of the five.
		grew := max(none[name].rows-first[name].rows, 0)
		require.LessOrEqual(t, many[name].rows, none[name].rows+2*grew+2000, "%s: rows read", name)
	}
}

// hold has entries held that name sessions and people whom nobody knows.
func (w *season) hold(n int) {
	w.t.Helper()
	w.instructor.post("/v1/batches",
		body{"device_id": "lost", "sent_at": at(saturday), "entries": []body{entry("gas_check", newID(),
			body{"participant_id": newID(), "reading": of(150, "bar"),
				"witnessed_at": at(saturday)})}}).want(http.StatusOK)
	w.Super(fmt.Sprintf(`INSERT INTO water_entry (centre_id, id, entry_id, batch_id, kind, session_id, body, item, state, device_at)
		SELECT w.centre_id, gen_random_uuid(), gen_random_uuid(), w.batch_id, w.kind, gen_random_uuid(),
			w.body, w.item, 'held', w.device_at
		FROM (SELECT * FROM water_entry WHERE state = 'held' LIMIT 1) w, generate_series(2, %d)`, n))
	w.Super(`INSERT INTO water_wait (centre_id, kind, id, water_id)
		SELECT w.centre_id, k.kind, CASE k.kind WHEN 'session' THEN w.session_id ELSE gen_random_uuid() END, w.id
		FROM water_entry w, (VALUES ('session'), ('participant'), ('person')) k (kind)
		WHERE w.state = 'held' ON CONFLICT DO NOTHING`)
}

// dueNow returns the kinds of what is due.
func (w *season) dueNow() (out []string) {
	w.t.Helper()
	require.NoError(w.t, w.DB.InTx(w.t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Rows[string](ctx, tx,
			`SELECT kind FROM water_due WHERE kind <> 'batch' AND due_at <= clock_timestamp()`, pgx.StrictNamedArgs{})
		return err
	}))
	return out
}
