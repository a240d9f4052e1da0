package dayview_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

const everything = dayview.Everything

// weekend is a centre with sessions on one day, each with two groups, crew and
// students.
type weekend struct {
	*scenetest.Fixture
	token    uuid.UUID
	sessions []uuid.UUID
	persons  []uuid.UUID
	parts    map[uuid.UUID][]uuid.UUID // by session
	dives    map[uuid.UUID][]uuid.UUID
}

func newWeekend(t *testing.T, sessions int) *weekend {
	t.Helper()
	w := &weekend{Fixture: scenetest.New(t), token: uuid.New(), parts: map[uuid.UUID][]uuid.UUID{},
		dives: map[uuid.UUID][]uuid.UUID{}}
	w.Exec(`INSERT INTO token (centre_id, id, person_id, hash, scopes, issued_at, expires_at, body_digest)
		VALUES (@centre, @id, @person, '', '{}', @now, @now, '')`, pgx.NamedArgs{"id": w.token, "person": w.Manager})
	course := w.Course(syllabus.BuiltIn())
	for i := range 4 {
		person := w.Student(fmt.Sprintf("Student %d", i), "1990-01-01")
		w.persons = append(w.persons, person)
	}
	var enrolments []uuid.UUID
	for _, p := range w.persons {
		enrolments = append(enrolments, w.Enrol(course, p))
	}
	for i := range sessions {
		s := w.Session(course, "open", fmt.Sprintf("2026-06-06T%02d:00:00Z", 8+i%12), "planned", 1, 2)
		w.sessions, w.dives[s] = append(w.sessions, s), w.Dives(s)
		w.Exec(`UPDATE participant SET booked = false`, nil)
		group := w.Group(s, "blue", w.Manager)
		w.Exec(`UPDATE participant SET booked = false`, nil)
		for k, p := range w.persons {
			w.parts[s] = append(w.parts[s], w.Participant(s, &group, p, &enrolments[k], "student"))
			w.Exec(`UPDATE participant SET booked = false`, nil)
		}
	}
	return w
}

// read reads sessions as the service's role.
func (w *weekend) read(t *testing.T, q dayview.Query) (out []dayview.View) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = dayview.Read(ctx, tx, q)
		return err
	}))
	return out
}

// entry writes the header of an entry, voided or not.
func (w *weekend) entry(kind string, session uuid.UUID, part *uuid.UUID, at time.Time, voided bool) uuid.UUID {
	id := uuid.New()
	w.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id, witnessed_at, recorded_at, body_digest)
		VALUES (@centre, @id, @kind, @session, @part, @by, @token, @at, @now, '')`,
		pgx.NamedArgs{"id": id, "kind": kind, "session": session, "part": part, "by": w.Manager,
			"token": w.token, "at": at})
	if voided {
		w.Exec(`INSERT INTO entry_void (centre_id, entry_id, reason, voided_by, token_id, voided_at) VALUES (@centre, @id, 'wrong', @by, @token, @now)`,
			pgx.NamedArgs{"id": id, "by": w.Manager, "token": w.token})
	}
	return id
}

// random puts briefings, acknowledgements, plans and roll calls into a session, some
// voided or withdrawn, in no order.
func (w *weekend) random(r *rand.Rand, session uuid.UUID) {
	at := func() time.Time { return time.Date(2026, 6, 6, 6, r.IntN(20), 0, 0, time.UTC) }
	for range 1 + r.IntN(5) {
		b := w.entry("briefing", session, nil, at(), r.IntN(4) == 0)
		w.Exec(`INSERT INTO briefing (centre_id, id, session_id, convention, content, check_every_s) VALUES (@centre, @id, @session, '{}', '{}', @every)`,
			pgx.NamedArgs{"id": b, "session": session, "every": 60 * (1 + r.IntN(3))})
		for _, p := range w.persons {
			if r.IntN(4) == 0 {
				continue
			}
			w.Exec(`INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest) VALUES (@centre, @id, @person, 'bar',
				jsonb_build_array(jsonb_build_object('dive_id', null, 'plan_id', null, 'start', null, 'turn', null, 'low', jsonb_build_object('value', @low::int, 'unit', 'bar'))), @digest)`,
				pgx.NamedArgs{"id": b, "person": p, "low": 50 + r.IntN(50), "digest": []byte{byte(r.IntN(2))}})
			if r.IntN(3) > 0 {
				w.Exec(`INSERT INTO acknowledgement (centre_id, id, briefing_id, person_id, how) VALUES (@centre, @id, @briefing, @person, 'said_so')`,
					pgx.NamedArgs{"id": w.entry("acknowledgement", session, nil, at(), r.IntN(4) == 0),
						"briefing": b, "person": p})
			}
		}
	}
	for turn := range r.IntN(5) {
		plan := uuid.New()
		var dive *uuid.UUID
		if i := r.IntN(3); i < 2 {
			dive = &w.dives[session][i]
		}
		args := pgx.NamedArgs{"id": plan, "session": session, "dive": dive, "turn": turn + 1, "by": w.Manager,
			"token": w.token, "at": at()}
		w.Exec(`INSERT INTO gas_plan (centre_id, id, session_id, dive_id, asked, input, result, findings, token_id, planned_at, body_digest)
			VALUES (@centre, @id, @session, @dive, '{}', '{}', '{"people": []}', '[]', @token, @at, '')`, args)
		w.Exec(`INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
			VALUES (@centre, @id, @session, @dive, @turn, '[]', '[]', @by, @token, @at)`, args)
		for _, p := range w.parts[session] {
			if r.IntN(3) > 0 {
				w.Exec(`INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low, turn, start)
					VALUES (@centre, @id, @part, @low, '(120,bar)', '(200,bar)')`,
					pgx.NamedArgs{"id": plan, "part": p, "low": units.Read(float64(50+r.IntN(50)), units.UnitBar)})
			}
		}
		if r.IntN(3) == 0 {
			w.Exec(`INSERT INTO gas_plan_withdrawn (centre_id, plan_id, session_id, reason, token_id, withdrawn_at)
				VALUES (@centre, @id, @session, 'wrong', @token, @at)`, args)
		}
	}
	for _, p := range w.parts[session] {
		for range r.IntN(3) {
			w.Exec(`INSERT INTO roll_call (centre_id, id, participant_id, attendance) VALUES (@centre, @id, @part, 'present')`,
				pgx.NamedArgs{"id": w.entry("roll_call", session, &p, at(), r.IntN(3) == 0), "part": p})
		}
		if r.IntN(2) == 0 {
			in := w.entry("time_in", session, &p, at(), r.IntN(4) == 0)
			w.Exec(`INSERT INTO time_in (centre_id, id, dive_id, participant_id) VALUES (@centre, @id, @dive, @part)`,
				pgx.NamedArgs{"id": in, "dive": w.dives[session][0], "part": p})
			for range r.IntN(3) {
				w.Exec(`INSERT INTO time_out (centre_id, id, time_in_id) VALUES (@centre, @id, @start)`,
					pgx.NamedArgs{"id": w.entry("time_out", session, &p, at().Add(time.Hour), r.IntN(3) == 0),
						"start": in})
			}
		}
	}
}

// lines returns what a statement finds for a session, as text, sorted by it.
func (w *weekend) lines(t *testing.T, sql string, session uuid.UUID) (out []string) {
	t.Helper()
	require.NoError(t, w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Rows[string](ctx, tx, `SELECT x FROM (`+sql+`) q (x) ORDER BY x COLLATE "C"`,
			pgx.StrictNamedArgs{"session": session})
		return err
	}))
	return append([]string{}, out...)
}

// What follows from the rows read is what the views of the schema find, which say
// the same in SQL.
func TestTheModelAgreesWithTheViews(t *testing.T) {
	t.Parallel()
	w := newWeekend(t, 12)
	r := rand.New(rand.NewPCG(11, 30))
	for _, s := range w.sessions {
		w.random(r, s)
	}
	stamp := `to_char(%s AT TIME ZONE 'UTC', 'HH24:MI:SS')`
	clock := func(at time.Time) string { return at.UTC().Format(time.TimeOnly) }
	views := w.read(t, dayview.Query{Sessions: w.sessions, Want: everything})
	require.Len(t, views, len(w.sessions))
	briefed, planned := 0, 0
	for _, v := range views {
		got := map[string][]string{}
		for _, p := range v.Participants {
			if at := v.BriefedAt(p.PersonID); at != nil {
				newest, _ := v.Newest(p.PersonID)
				got["briefed"] = append(got["briefed"],
					fmt.Sprint(p.ID, " ", newest.BriefingID, " ", clock(*at), " ", *newest.CheckEveryS))
			}
			if b, told := v.Newest(p.PersonID); told {
				got["told"] = append(got["told"],
					fmt.Sprint(p.ID, " ", b.BriefingID, " ", b.FiguresFor(nil).Low.Value))
			}
		}
		for _, p := range v.Record() {
			got["pressures"] = append(got["pressures"],
				fmt.Sprint(p.ParticipantID, " ", p.PlanID, " ", p.LowPressure.Value))
		}
		for _, c := range v.Calls {
			got["calls"] = append(got["calls"],
				fmt.Sprint(c.ID, " ", c.ParticipantID, " ", clock(c.At), " ", c.Voided))
		}
		for _, in := range v.Log {
			out := ""
			if in.OutAt != nil {
				out = clock(*in.OutAt)
			}
			got["log"] = append(got["log"],
				fmt.Sprint(in.ID, " ", in.ParticipantID, " ", clock(in.InAt), " ", out))
		}
		for what, sql := range map[string]string{
			"briefed": briefings + `SELECT participant_id || ' ' || briefing_id || ' ' || ` +
				fmt.Sprintf(stamp, "briefed_at") + ` || ' ' || check_every_s
				FROM briefed_since WHERE centre_id = app_centre() AND session_id = @session`,
			"told": briefings + `SELECT participant_id || ' ' || briefing_id || ' ' || low_value::int
				FROM told_pressure WHERE centre_id = app_centre() AND session_id = @session`,
			"pressures": `SELECT participant_id || ' ' || plan_id || ' ' || (low).value::int FROM plans_pressure
				WHERE centre_id = app_centre() AND session_id = @session`,
			"calls": `SELECT r.id || ' ' || r.participant_id || ' ' || ` +
				fmt.Sprintf(stamp, "e.witnessed_at") + ` || ' ' || (e.voided_at IS NOT NULL)
				FROM roll_call r JOIN journal_entry e USING (centre_id, id) WHERE e.session_id = @session`,
			"log": `SELECT start_id || ' ' || participant_id || ' ' || ` + fmt.Sprintf(stamp, "in_at") +
				` || ' ' || COALESCE(` + fmt.Sprintf(stamp, "out_at") + `, '')
				FROM waterlog_dive WHERE centre_id = app_centre() AND session_id = @session`,
		} {
			require.ElementsMatch(t, w.lines(t, sql, v.ID), got[what], "%s of %s", what, v.ID)
		}
		briefed, planned = briefed+len(got["briefed"]), planned+len(got["pressures"])
	}
	require.Greater(t, briefed, 5, "the scenes have something to find")
	require.Greater(t, planned, 5)
}

func TestASessionIsReadWithEverythingInOneRoundTrip(t *testing.T) {
	t.Parallel()
	w := newWeekend(t, 2)
	w.Brief(w.sessions[0])
	wire := pgtest.NewWire(t, w.DB.AppURL)
	db, err := pg.Open(t.Context(), wire.URL)
	require.NoError(t, err)
	defer db.Close()
	for _, counted := range []bool{false, true} { // what is prepared once is not counted
		require.NoError(t, db.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
			before := wire.Sends.Load()
			all, err := dayview.Read(ctx, tx, dayview.Query{Sessions: w.sessions, Want: everything})
			require.Len(t, all, 2)
			if counted {
				require.EqualValues(t, 1, wire.Sends.Load()-before)
			}
			return err
		}))
	}
}

func TestSessionsAreFoundByIDByDiveAndByDay(t *testing.T) {
	t.Parallel()
	w := newWeekend(t, 2)
	first, day := w.sessions[0], time.Date(2026, 6, 6, 0, 0, 0, 0, time.UTC)
	v := w.read(t, dayview.Query{Dive: &w.dives[first][1], Want: everything})
	require.Len(t, v, 1)
	require.Equal(t, first, v[0].ID)
	require.Len(t, v[0].Participants, 5)
	require.Equal(t, dayview.InCharge, v[0].Participants[0].Role, "who is in charge comes first")
	require.Len(t, v[0].People, 5)
	require.Equal(t, 36, v[0].People[w.persons[0]].Age, "on the day of the session")
	require.Len(t, v[0].People[w.persons[0]].Papers, 2)
	require.Len(t, v[0].Dives, 2)
	require.Equal(t, "18 m", v[0].Site.MaxDepth.String())
	require.Len(t, w.read(t, dayview.Query{Person: &w.persons[0], On: &day}), 2)
	next := day.AddDate(0, 0, 1)
	require.Empty(t, w.read(t, dayview.Query{Person: &w.persons[0], On: &next}))
	rui := w.Crew("Rui", "assistant")
	also := w.read(t, dayview.Query{Sessions: []uuid.UUID{first, first}, Also: []uuid.UUID{rui},
		Want: dayview.People})
	require.Len(t, also, 1, "asked for twice, read once")
	require.Len(t, also[0].People, 6)
	require.True(t, also[0].People[rui].Is("assistant"))
	err := w.DB.InTx(t.Context(), w.Centre, func(ctx context.Context, tx *pg.Tx) error {
		_, err := dayview.One(ctx, tx, uuid.New(), everything)
		return err
	})
	require.ErrorIs(t, err, fault.NotFound.Err())
	other := scenetest.In(t, w.DB)
	require.NoError(t, w.DB.InTx(t.Context(), other.Centre, func(ctx context.Context, tx *pg.Tx) error {
		all, err := dayview.Read(ctx, tx, dayview.Query{Sessions: w.sessions, Want: everything})
		require.Empty(t, all, "another centre sees nothing")
		return err
	}))
}

func TestAMarkCountsOnItsDayUntilItIsLifted(t *testing.T) {
	t.Parallel()
	w := newWeekend(t, 1)
	unfit := func() bool {
		return w.read(t, dayview.Query{Sessions: w.sessions,
			Want: dayview.People})[0].People[w.persons[0]].Unfit
	}
	mark := func(day string) uuid.UUID {
		id := uuid.New()
		w.Exec(`INSERT INTO unfit_mark (centre_id, id, person_id, on_day, marked_by, marked_at, body_digest)
			VALUES (@centre, @id, @person, @day, @by, @now, '')`, pgx.NamedArgs{"id": id, "person": w.persons[0], "day": day, "by": w.Manager})
		return id
	}
	mark("2026-06-05")
	require.False(t, unfit())
	id := mark("2026-06-06")
	require.True(t, unfit())
	w.Exec(`INSERT INTO unfit_lift (centre_id, mark_id, reason, lifted_by, lifted_at) VALUES (@centre, @id, 'better', @by, @now)`, pgx.NamedArgs{"id": id, "by": w.Manager, "token": w.token})
	require.False(t, unfit())
}
