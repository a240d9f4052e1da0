package httpapi_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// trips is a tracer that lists what is sent to the database: a statement by
// itself or a batch, each a round trip.
type trips struct {
	mu   sync.Mutex
	list []string
}

// TraceQueryStart implements pgx.QueryTracer.
func (r *trips) TraceQueryStart(ctx context.Context, _ *pgx.Conn, d pgx.TraceQueryStartData) context.Context {
	r.note([]string{d.SQL})
	return ctx
}

// TraceQueryEnd implements pgx.QueryTracer.
func (*trips) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

// TraceBatchStart implements pgx.BatchTracer.
func (r *trips) TraceBatchStart(ctx context.Context, _ *pgx.Conn, d pgx.TraceBatchStartData) context.Context {
	var all []string
	for _, q := range d.Batch.QueuedQueries {
		all = append(all, q.SQL)
	}
	r.note(all)
	return ctx
}

// TraceBatchQuery implements pgx.BatchTracer.
func (*trips) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

// TraceBatchEnd implements pgx.BatchTracer.
func (*trips) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

func (r *trips) note(statements []string) {
	for i, sql := range statements {
		short := strings.Join(strings.Fields(sql), " ")
		statements[i] = short[:min(len(short), 90)]
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.list = append(r.list, fmt.Sprintf("%2d: %s", len(statements), strings.Join(statements, " | ")))
}

// take returns the round trips since it was asked last.
func (r *trips) take() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := r.list
	r.list = nil
	return out
}

// A round trip costs as much as several statements by key, and a phone at the
// water waits for every one of them. What the dearest decisions may take is our
// choice, authentication included; the statements that a connection prepares once
// are not counted.
func TestRoundTripsOfDecisions(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	everybody, skills := w.crowded(), []string{"kit-check", "water-entry"}
	seen := &trips{}
	counted := w.through(t, seen)
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia, confined := w.part(w.confined, w.sofia), "/v1/sessions/"+w.confined
	eight := func() {
		var items []body
		for _, e := range everybody {
			items = append(items, body{"id": newID(), "enrolment_id": e, "skill": skills[0]})
		}
		skills = skills[1:]
		w.recorded(counted.post(confined+"/sign-offs", body{"items": items}))
	}
	batch := func() {
		seen := at(saturday.Add(30 * time.Minute))
		w.recorded(counted.post("/v1/batches",
			body{"device_id": "phone 7", "sent_at": at(saturday.Add(time.Hour)), "entries": []body{
				entry("roll_call", w.confined,
					body{"participant_id": sofia, "attendance": "present", "witnessed_at": seen}),
				entry("gas_check", w.confined,
					body{"participant_id": sofia, "reading": of(187, "bar"), "signalled": of(180, "bar"),
						"witnessed_at": seen}),
				entry("drill_attempt", w.confined, body{"participant_id": sofia, "skill": "swim", "met": true,
					"measures": []body{{"name": "swim-without-aids", "value": 200,
						"unit": "m"}}, "witnessed_at": seen})}}))
	}
	check := func() {
		w.recorded(counted.post(confined+"/gas-checks",
			body{"items": []body{{"id": newID(), "participant_id": sofia, "reading": of(187, "bar"),
				"signalled": of(180, "bar"), "witnessed_at": at(saturday.Add(40 * time.Minute))}}}))
	}
	confirm := func() {
		to := "/v1/plans/" + w.planGas(w.everybody(10, 20)).id() + "/confirm"
		accept := cautionsOf(w.instructor.post(to+"?dry_run=true",
			nil).want(http.StatusOK)) // by another way, which is not counted
		counted.post(to, body{"accept": accept}).want(http.StatusOK)
	}
	for _, x := range []struct {
		name string
		most int
		ask  func()
	}{
		{"a sign-off of eight", 5, eight},
		{"a batch with roll call, check and attempt", 12, batch},
		{"a confirmed plan", 6, confirm},
		{"a gas check", 5, check},
		{"a person's day", 4, func() {
			counted.get("/v1/people/" + w.instructor.person.String() + "/days/2026-06-06").want(http.StatusOK)
		}},
	} {
		x.ask() // what is prepared once is prepared
		seen.take()
		x.ask()
		list := seen.take()
		t.Logf("%s: %d round trips\n%s", x.name, len(list), strings.Join(list, "\n"))
		require.LessOrEqual(t, len(list), x.most, x.name)
	}
}

// cautionsOf accepts every caution of an answer.
func cautionsOf(a answer) []body {
	a.t.Helper()
	accept := []body{}
	for _, f := range a.list("findings") {
		if f["severity"] == "caution" {
			accept = append(accept, body{"rule": f["rule"], "subject_id": f["subjects"].([]any)[0].(body)["id"],
				"reason": "looked at, and taken on"})
		}
	}
	return accept
}

// through returns the instructor, whose requests go to a server of their own that
// is traced.
func (w *season) through(t *testing.T, tracer pgx.QueryTracer) *client {
	t.Helper()
	wire := pgtest.NewWire(t, w.DB.AppURL) // of one connection, so that all is prepared on it
	db, err := pg.OpenTraced(t.Context(), wire.URL, tracer)
	require.NoError(t, err)
	t.Cleanup(db.Close)
	v, log := app.NewServices(db), slog.New(slog.NewTextHandler(t.Output(),
		&slog.HandlerOptions{Level: slog.LevelWarn}))
	hub := app.NewHub(db, v, config.StreamLimit, 0, log)
	t.Cleanup(hub.Stop)
	handler, err := httpapi.New(httpapi.Options{Services: v, DryRun: app.NewServices(db.DryRun()),
		Live: hub, Rules: app.Rules(), Ready: db.Ping, Limits: ample, Log: log})
	require.NoError(t, err)
	out := *w.instructor
	out.http = &http.Client{Transport: checked{handler}}
	return &out
}

// crowded enrols six students more, so that the blue group has eight, and returns
// all enrolments.
func (w *season) crowded() []string {
	w.t.Helper()
	more := []string{}
	for i := range 6 {
		person := w.Student(fmt.Sprintf("Student %d", i+1), "1994-04-04")
		more = append(more, w.manager.post("/v1/courses/"+w.course+"/enrolments",
			body{"person_id": person}).made())
	}
	w.manager.post("/v1/courses/"+w.course+"/placements",
		body{"enrolment_ids": more, "group_name": "blue"}).want(http.StatusOK)
	return append(more, w.sofia, w.tiago)
}
