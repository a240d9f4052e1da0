package offline_test

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/journal"
	"tankside/internal/offline"
	"tankside/internal/page"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/sessions"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// worker returns the service of an instance's background, as its role.
func (d *day) worker(t *testing.T) *offline.Service {
	t.Helper()
	db, err := pg.Open(t.Context(), d.DB.WorkerURL+"&pool_max_conns=3")
	require.NoError(t, err)
	t.Cleanup(db.Close)
	return offline.New(db, desk.New(db, centre.New(db), people.New(db), courses.New(db)))
}

// behind runs the background of some instances until the test is over.
func behind(t *testing.T, instances ...*offline.Service) {
	t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan struct{})
	for _, s := range instances {
		go func() {
			s.Background(ctx, slog.New(slog.NewTextHandler(t.Output(), nil)))
			ended <- struct{}{}
		}()
	}
	t.Cleanup(func() {
		stop()
		for range instances {
			<-ended
		}
	})
}

// state returns what became of the entry with an id.
func (d *day) state(t *testing.T, entry uuid.UUID) (out string) {
	t.Helper()
	require.NoError(t, d.DB.InTx(t.Context(), d.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		out, err = pg.Row[string](ctx, tx, `SELECT state FROM water_entry WHERE entry_id = @id`,
			pgx.StrictNamedArgs{"id": entry})
		return err
	}))
	return out
}

// waiting keeps a time in, a time out that ends it, and sends the time out alone.
func (d *day) waiting(t *testing.T) (in offline.BatchEntry, out uuid.UUID) {
	t.Helper()
	abel := &device{name: "another of Abel's", by: d.phones[2].by}
	at := time.Date(2026, 6, 6, 9, 30, 0, 0, time.UTC)
	start := d.keep(abel, journal.TimeIn, d.pool, func(id uuid.UUID, i *journal.Item) {
		*i = &waterlog.TimeIn{ID: id, ParticipantID: d.parts["tom"], InAt: at}
	})
	out = d.keep(abel, journal.TimeOut, d.pool, func(id uuid.UUID, i *journal.Item) {
		*i = &waterlog.TimeOut{ID: id, StartID: start, OutAt: at.Add(20 * time.Minute)}
	})
	a, err := abel.send(d.Context(), d.offline, abel.kept[1:])
	require.NoError(t, err)
	require.Equal(t, offline.OnHold, a.Results[0].Status)
	return abel.kept[0], out
}

// What an entry waits for is posted by itself, and the background of one of two
// instances judges the entry again within a moment, as the role that finds centres.
func TestTheBackgroundJudgesWhatAWriteWakes(t *testing.T) {
	d := newDay(t)
	in, out := d.waiting(t)
	behind(t, d.worker(t), d.worker(t))
	_, err := d.desk.LogTimesIn(t.Context(), d.phones[2].by, d.pool,
		[]waterlog.TimeIn{*in.Item.(*waterlog.TimeIn)})
	require.NoError(t, err)
	require.Eventually(t, func() bool { return d.state(t, out) == "recorded" }, 10*time.Second,
		20*time.Millisecond)
}

// A write that an entry does not wait for leaves it alone: nothing is due.
func TestAWriteWakesThoseAloneThatWaitForIt(t *testing.T) {
	d := newDay(t)
	_, out := d.waiting(t)
	require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	due := func() int {
		n := 0
		require.NoError(t, d.DB.InTx(t.Context(), d.Centre, func(ctx context.Context, tx *pg.Tx) (err error) {
			n, err = pg.Row[int](ctx, tx, `SELECT count(*) FROM water_due WHERE due_at <= clock_timestamp()`,
				nil)
			return err
		}))
		return n
	}
	require.Zero(t, due())
	_, err := d.desk.Waterlog().LogGasChecks(t.Context(), d.phones[2].by, d.confined,
		[]waterlog.GasCheck{{ID: uuid.New(), ParticipantID: d.parts["sara"],
			Reading: new(units.Read(150, units.UnitBar)), WitnessedAt: time.Date(2026, 6, 6, 9, 31, 0, 0,
				time.UTC)}})
	require.NoError(t, err)
	d.Student("Wanda", "1990-01-01")
	require.Zero(t, due(), "a gas check and a person are nothing that a time out waits for")
	require.Equal(t, "held", d.state(t, out))
}

// An instance that received a batch and ended before it judged it loses nothing, nor
// does one that took what was due and ended before it judged that.
func TestAKilledInstanceLosesNothing(t *testing.T) {
	d := newDay(t)
	abel := d.phones[2]
	d.Super(`CREATE FUNCTION stop() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RAISE EXCEPTION USING ERRCODE = ''57P01''; END';
		CREATE TRIGGER stop BEFORE INSERT ON entry FOR EACH STATEMENT EXECUTE FUNCTION stop()`)
	_, err := abel.send(d.Context(), d.offline, abel.kept[:1])
	require.Error(t, err, "the server ends the connection before anything is judged")
	require.Equal(t, "held", d.state(t, abel.kept[0].EntryID))
	d.Super(`UPDATE water_due SET due_at = clock_timestamp()`)
	require.Error(t, d.worker(t).WorkOff(t.Context(), d.Centre), "taken, and not judged either")
	d.Super(`DROP TRIGGER stop ON entry`)
	d.Super(`UPDATE water_due SET due_at = due_at - interval '1 minute'`) // the lease has ended
	require.NoError(t, d.worker(t).WorkOff(t.Context(), d.Centre))
	require.Equal(t, "recorded", d.state(t, abel.kept[0].EntryID))
}

// What waited for 30 days is listed for a person and judged no more by itself. It is
// judged when somebody asks, dropped with a reason, or sent again.
func TestWhatWaitedTooLongExpiresAndIsNotLost(t *testing.T) {
	d := newDay(t)
	in, out := d.waiting(t)
	require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	age := func(days string) {
		d.Super(`UPDATE water_batch SET received_at = received_at - interval '` + days + ` days'`)
		d.Super(`UPDATE water_due SET due_at = clock_timestamp()`)
		require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	}
	age("29")
	require.Equal(t, "held", d.state(t, out))
	age("2")
	require.Equal(t, "expired", d.state(t, out))
	list, _, err := d.offline.HeldEntries(t.Context(), d.by, []string{"expired"}, nil, page.Request{Limit: 10})
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.NotEmpty(t, list[0].Why().Findings[0].Cures)
	_, err = d.desk.LogTimesIn(t.Context(), d.phones[2].by, d.pool,
		[]waterlog.TimeIn{*in.Item.(*waterlog.TimeIn)})
	require.NoError(t, err)
	require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	require.Equal(t, "expired", d.state(t, out), "not by itself")
	h, err := d.offline.JudgeHeld(t.Context(), d.by, list[0].ID)
	require.NoError(t, err)
	require.Equal(t, "recorded", h.State)
}

// What is held of a session counts before it is closed, without the background: a roll
// call that came before the person it names existed.
func TestWhatIsHeldOfASessionIsJudgedBeforeItsGate(t *testing.T) {
	d := newDay(t)
	abel := &device{name: "another of Abel's", by: d.phones[2].by}
	late := uuid.New()
	call := d.keep(abel, journal.RollCall, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &sessions.NewRollCallEntry{ID: id, Attendance: sessions.Present,
			WitnessedAt: time.Date(2026, 6, 6, 9, 5, 0, 0, time.UTC),
			Unexpected:  &sessions.Unexpected{PersonID: late, Role: sessions.Assistant}}
	})
	_, err := abel.send(d.Context(), d.offline, abel.kept)
	require.NoError(t, err)
	require.Equal(t, "held", d.state(t, call))
	d.Exec(`INSERT INTO person (centre_id, id, name, birth_on, gauge_unit, body_digest, created_at, updated_at)
		VALUES (@centre, @id, 'Lars Late', '1990-01-01', 'bar', '', @now, @now)`, pgx.NamedArgs{"id": late})
	d.Exec(`INSERT INTO person_role (centre_id, person_id, role) VALUES (@centre, @id, 'assistant')`,
		pgx.NamedArgs{"id": late})
	closed := func(session uuid.UUID) {
		require.NoError(t, d.offline.AtGate(t.Context(), d.by, session, func(ctx context.Context) error {
			_, _, err := d.sessions.CloseSession(ctx, d.by, session, false, nil)
			return err
		}))
	}
	closed(d.open)
	require.Equal(t, "held", d.state(t, call), "another session's gate asks nothing of it")
	closed(d.confined)
	require.Equal(t, "recorded", d.state(t, call))
}

// Nothing of another centre is seen by the background's role within a centre's scope,
// and outside of one nothing but which centres have something due.
func TestTheBackgroundIsBoundToOneCentreAtATime(t *testing.T) {
	d := newDay(t)
	d.waiting(t)
	db, err := pg.Open(t.Context(), d.DB.WorkerURL)
	require.NoError(t, err)
	defer db.Close()
	count := func(centre uuid.UUID, table string) (n int) {
		require.NoError(t, db.InTx(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) (err error) {
			n, err = pg.Row[int](ctx, tx, `SELECT count(*) FROM `+table, nil)
			return err
		}))
		return n
	}
	for _, table := range []string{"water_due", "water_wait", "water_entry", "person"} {
		require.Positive(t, count(d.Centre, table), table)
		require.Zero(t, count(uuid.New(), table), table)
	}
	require.NoError(t, db.Probe(t.Context(), func(ctx context.Context, conn *pgx.Conn) error {
		for table, want := range map[string]bool{"water_due": true, "water_wait": false, "water_entry": false,
			"person": false} {
			var some bool
			require.NoError(t, conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM `+table+`)`).Scan(&some))
			require.Equal(t, want, some, table)
		}
		return nil
	}))
}
