package live_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/fault"
	"tankside/internal/live"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// quay is a centre with sessions under way, a student in each, and hubs on its
// database, as several instances of the service have them.
type quay struct {
	*scenetest.Fixture
	t        *testing.T
	by       actor.Actor // of the manager
	waterlog *waterlog.Service
	sessions []uuid.UUID
	parts    []uuid.UUID // the student of each
	hubs     []*live.Hub
}

func newQuay(t *testing.T, sessions, hubs int) *quay {
	t.Helper()
	q := &quay{Fixture: scenetest.New(t), t: t}
	q.by, q.waterlog = q.As(q.Manager), desk.New(q.DB.DB, centre.New(q.DB.DB), people.New(q.DB.DB),
		courses.New(q.DB.DB)).Waterlog()
	course := q.Course(syllabus.BuiltIn())
	for i := range sessions {
		session := q.Session(course, "confined", fmt.Sprintf("2026-06-%02dT08:00:00Z", i+1), "under_way")
		group := q.Group(session, "blue", q.Manager)
		student := q.Student(fmt.Sprintf("Student %d", i), "1995-05-05")
		enrolment := q.Enrol(course, student)
		q.sessions = append(q.sessions, session)
		q.parts = append(q.parts, q.Participant(session, &group, student, &enrolment, "student"))
	}
	q.Exec(`UPDATE token SET expires_at = clock_timestamp() + interval '1 hour', scopes = '{training:read}'`, nil)
	// What the scene itself set off is no part of a test.
	q.Super(`DELETE FROM live_event; DELETE FROM live_head`)
	for range hubs {
		q.hubs = append(q.hubs, q.hub(q.DB.DB))
	}
	return q
}

// hub gives a hub that tells numbers and types, and stops with the test.
func (q *quay) hub(db *pg.DB) *live.Hub {
	h := live.New(live.Options{DB: db, Streams: 100, Log: slog.New(slog.NewTextHandler(q.t.Output(), nil)),
		Tell: func(_ context.Context, _ *pg.Tx, events []live.Event) (out [][]byte, err error) {
			for _, e := range events {
				out = append(out, fmt.Appendf(nil, "%s %d %s", e.SessionID, e.Seq, e.Type))
			}
			return out, nil
		},
		Stand: func(_ context.Context, _ *pg.Tx, sessions []uuid.UUID) (out []json.RawMessage, err error) {
			for _, id := range sessions {
				out = append(out, json.RawMessage(id.String()))
			}
			return out, nil
		},
		Holders: access.New(db).Holders,
	})
	q.t.Cleanup(h.Stop)
	return h
}

// check logs one gas check in session n, and says whether it was recorded.
func (q *quay) check(n int) error {
	reading := units.Read(150, units.UnitBar)
	out, err := q.waterlog.LogGasChecks(q.Context(), q.by, q.sessions[n],
		[]waterlog.GasCheck{{ID: uuid.New(), ParticipantID: q.parts[n], Reading: &reading, WitnessedAt: time.Now()}})
	if err == nil && out[0].Refusal != nil {
		err = out[0].Refusal
	}
	return err
}

// log is what somebody was told: the numbers of each session, in their order.
type log map[uuid.UUID][]int64

func (l log) add(t *testing.T, m live.Message) {
	var session, what string
	var n int64
	_, err := fmt.Sscan(string(m.Text), &session, &n, &what)
	require.NoError(t, err, "%q", m.Text)
	l[uuid.MustParse(session)] = append(l[uuid.MustParse(session)], n)
}

// whole tells whether a log has 1 to n of each session.
func (l log) whole(sessions []uuid.UUID, n int) bool {
	for _, id := range sessions {
		if len(l[id]) < n {
			return false
		}
	}
	return true
}

func (q *quay) listen(h *live.Hub, after string, sessions ...uuid.UUID) *live.Listener {
	q.t.Helper()
	l, err := h.Listen(q.Context(), q.by, live.Subscription{Sessions: sessions, After: after,
		Scope: access.TrainingRead})
	require.NoError(q.t, err)
	return l
}

// next gives the next message that is not about how sessions stand.
func (q *quay) next(l *live.Listener) live.Message {
	q.t.Helper()
	for {
		m, more, why, err := l.Next(q.t.Context(), 10*time.Second)
		require.NoError(q.t, err)
		require.True(q.t, more, "%s", why)
		if m.What != live.Standing {
			return m
		}
	}
}

// Four sessions are written to from eight goroutines at once. Twenty listeners,
// ten on each of two instances, lose their connection again and again and come
// back with where they were, to either instance. Each of them is told
// everything, once, in the order of the session.
func TestEverybodyIsToldEverythingOnceAndInOrder(t *testing.T) {
	q := newQuay(t, 4, 2)
	quiet := goleak.IgnoreCurrent()
	const writers, each, watchers = 8, 40, 20
	total := writers * each / len(q.sessions)
	logs := make([]log, watchers)
	var watching, writing sync.WaitGroup
	for i := range logs {
		logs[i] = log{}
		first := q.listen(q.hubs[i%2], "", q.sessions...)
		watching.Go(func() { q.watch(first, logs[i], total, rand.New(rand.NewPCG(uint64(i), 7))) })
	}
	for w := range writers {
		writing.Go(func() {
			for n := range each {
				if err := q.check((w + n) % len(q.sessions)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()
	watching.Wait()
	for i, l := range logs {
		for _, id := range q.sessions {
			require.Len(t, l[id], total, "listener %d", i)
			for n, seq := range l[id] {
				require.EqualValues(t, n+1, seq, "listener %d", i)
			}
		}
	}
	for _, h := range q.hubs {
		h.Stop()
	}
	goleak.VerifyNone(t, quiet)
}

// watch reads until everything was told, breaking off now and then.
func (q *quay) watch(l *live.Listener, told log, total int, dice *rand.Rand) {
	at, deadline := "", time.Now().Add(time.Minute)
	for !told.whole(q.sessions, total) && time.Now().Before(deadline) {
		if dice.IntN(25) == 0 && at != "" {
			l.Close()
			var err error
			if l, err = q.hubs[dice.IntN(len(q.hubs))].Listen(q.Context(), q.by,
				live.Subscription{Sessions: q.sessions, After: at, Scope: access.TrainingRead}); err != nil {
				q.t.Error(err)
				return
			}
		}
		m, more, why, err := l.Next(q.t.Context(), time.Second)
		if err != nil || !more {
			q.t.Errorf("was let go: %s %v", why, err)
			return
		}
		if m.Position != "" {
			at = m.Position
		}
		if m.What == live.Happened {
			told.add(q.t, m)
		}
	}
	l.Close()
}

func TestAStreamBeginsWithASnapshotAndGoesOnFromThere(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 2, 1)
	require.NoError(t, q.check(0))
	l := q.listen(q.hubs[0], "", q.sessions...)
	defer l.Close()
	m := q.next(l)
	require.Equal(t, live.Snapshot, m.What)
	require.Len(t, m.Sessions, 2)
	require.NotEmpty(t, m.Position)
	require.NoError(t, q.check(1))
	require.NoError(t, q.check(0))
	told := log{}
	for range 2 {
		told.add(t, q.next(l))
	}
	require.Equal(t, log{q.sessions[0]: {2}, q.sessions[1]: {1}}, told, "what the snapshot shows is not told again")
}

// A position of other sessions, one that lies ahead of everything, as after a
// restored backup, and what is no position at all: whoever comes with one is
// told to begin anew, and nothing is lost.
func TestAPositionThatMeansNothingHereGivesASnapshot(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 2, 1)
	require.NoError(t, q.check(0))
	one := q.listen(q.hubs[0], "", q.sessions[0])
	defer one.Close()
	position := q.next(one).Position
	for _, after := range []string{"", "7", "x.1.2", position[:len(position)-1] + "99", position + ".1",
		position[:len(position)-1] + "-1"} {
		l := q.listen(q.hubs[0], after, q.sessions[0])
		require.Equal(t, live.Snapshot, q.next(l).What, after)
		l.Close()
	}
	l := q.listen(q.hubs[0], position, q.sessions[1])
	require.Equal(t, live.Snapshot, q.next(l).What, "another session's")
	l.Close()
	require.NoError(t, q.check(0))
	l = q.listen(q.hubs[0], position, q.sessions[0])
	defer l.Close()
	require.Equal(t, live.Happened, q.next(l).What, "this one is known")
}

func TestWhoMissedTooMuchBeginsAnew(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	at := q.next(l).Position
	l.Close()
	tell := func(n int) {
		q.Exec(`SELECT live_tell(@centre, @session, 'gas_check', @session, NULL, @now) FROM generate_series(1, @n)`, map[string]any{"session": q.sessions[0], "n": n})
	}
	tell(999)
	l = q.listen(q.hubs[0], at, q.sessions[0])
	require.Equal(t, live.Happened, q.next(l).What, "999 events are still told")
	l.Close()
	tell(1)
	l = q.listen(q.hubs[0], at, q.sessions[0])
	require.Equal(t, live.Snapshot, q.next(l).What, "a thousand are not")
	l.Close()
}

func TestARevokedTokenWatchesNoLonger(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	stays := q.listen(q.hubs[0], "", q.sessions[0])
	began := time.Now()
	q.Exec(`UPDATE token SET revoked_at = clock_timestamp() WHERE person_id = @p`, map[string]any{"p": q.Manager})
	for _, l := range []*live.Listener{l, stays} {
		require.Equal(t, live.TokenEnded, q.letGo(l))
	}
	require.Less(t, time.Since(began), 5*time.Second)
}

// letGo reads until the listener is let go, and says why.
func (q *quay) letGo(l *live.Listener) live.Reason {
	q.t.Helper()
	for range 1000 {
		_, more, why, err := l.Next(q.t.Context(), 10*time.Second)
		require.NoError(q.t, err)
		if !more {
			return why
		}
	}
	require.Fail(q.t, "was not let go")
	return ""
}

func TestWhoMayNoLongerWatchIsLetGo(t *testing.T) {
	t.Parallel()
	for _, change := range []string{
		`UPDATE token SET scopes = '{sessions:read}' WHERE person_id = @p`, // training:read is gone
		`DELETE FROM person_role WHERE person_id = @p`,
	} {
		q := newQuay(t, 1, 1)
		l := q.listen(q.hubs[0], "", q.sessions...)
		q.Exec(change, map[string]any{"p": q.Manager})
		require.Equal(t, live.NoRight, q.letGo(l), change)
	}
}

// Somebody who does not read holds nobody up, and is let go before what waits
// for them grows without bound; with their position they lose nothing.
func TestWhoDoesNotReadIsLetGo(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	slow := q.listen(q.hubs[0], "", q.sessions[0])
	at := q.next(slow).Position
	quick := q.listen(q.hubs[0], "", q.sessions[0])
	defer quick.Close()
	q.next(quick)
	for range 6 {
		q.Exec(`SELECT live_tell(@centre, @session, 'gas_check', @session, NULL, @now) FROM generate_series(1, 100)`, map[string]any{"session": q.sessions[0]})
		for range 100 {
			require.Equal(t, live.Happened, q.next(quick).What)
		}
	}
	require.Equal(t, live.TooSlow, q.letGo(slow))
	again := q.listen(q.hubs[0], at, q.sessions[0])
	defer again.Close()
	told := log{}
	for range 600 {
		told.add(t, q.next(again))
	}
	require.EqualValues(t, 600, told[q.sessions[0]][599])
}

// A view that silently stands still would be worse than none: who watches is
// told that nothing can be read, and afterwards what was missed and how things
// stand.
func TestWhoWatchesIsToldWhenNothingCanBeRead(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	defer l.Close()
	q.next(l)
	q.Super(`REVOKE SELECT ON live_event FROM tankside_app`)
	require.NoError(t, q.check(0), "writing goes on")
	m := q.next(l)
	require.Equal(t, live.Stalled, m.What)
	require.WithinDuration(t, time.Now(), m.At, 10*time.Second)
	q.Super(`GRANT SELECT ON live_event TO tankside_app`)
	require.Equal(t, live.Happened, q.next(l).What)
	m, _, _, err := l.Next(t.Context(), 10*time.Second)
	require.NoError(t, err)
	require.Equal(t, live.Standing, m.What)
}

// The question that is asked ten times a second looks at what is new and not at
// the season: joined freely, the planner read every event of the centre.
func TestAskingCostsWhatIsNewAndNotTheSeason(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 4, 0)
	for _, session := range q.sessions {
		q.Exec(`SELECT live_tell(@centre, @session, 'gas_check', @session, NULL, @now) FROM generate_series(1, 5000)`, map[string]any{"session": session})
	}
	q.Super(`ANALYZE live_event`)
	var plan []struct {
		Plan struct {
			Rows    float64 `json:"Actual Rows"`
			Hits    int     `json:"Shared Hit Blocks"`
			Fetches int     `json:"Shared Read Blocks"`
		}
	}
	require.NoError(t, q.DB.InTx(t.Context(), q.Centre, func(ctx context.Context, tx *pg.Tx) error {
		text, err := pg.Row[[]byte](ctx, tx, `EXPLAIN (ANALYZE, BUFFERS, FORMAT JSON) `+live.EventsSQL, map[string]any{"sessions": q.sessions,
			"after": []int64{4990, 4990, 4990, 4990}, "until": []int64(nil), "most": 1000})
		require.NoError(t, err)
		return json.Unmarshal(text, &plan)
	}))
	require.EqualValues(t, 40, plan[0].Plan.Rows)
	require.Less(t, plan[0].Plan.Hits+plan[0].Plan.Fetches, 60, "all events of the centre fill some 470 pages")
}

func TestAStoppedHubLetsEverybodyGoAndNobodyIn(t *testing.T) {
	t.Parallel()
	q := newQuay(t, 1, 1)
	l := q.listen(q.hubs[0], "", q.sessions[0])
	q.hubs[0].Stop()
	require.Equal(t, live.Stopping, q.letGo(l))
	l.Close()
	_, err := q.hubs[0].Listen(t.Context(), q.by, live.Subscription{Sessions: q.sessions, Scope: access.TrainingRead})
	require.ErrorIs(t, err, fault.Unavailable.Err())
}
