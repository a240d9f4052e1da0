package pg_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// bottles is a table as the migrations make them, so that these tests lean on
// no feature's table.
const bottles = `
	CREATE TABLE bottle (
		centre_id uuid NOT NULL, id int NOT NULL, label text NOT NULL, litres int NOT NULL, filled_at timestamptz,
		PRIMARY KEY (centre_id, id),
		CONSTRAINT bottle_label_once UNIQUE (centre_id, label) DEFERRABLE INITIALLY DEFERRED,
		CONSTRAINT bottle_holds_something CHECK (litres > 0), CONSTRAINT bottle_can_be_lifted CHECK (litres < 100));
	ALTER TABLE bottle ENABLE ROW LEVEL SECURITY;
	CREATE POLICY bottle_centre ON bottle USING (centre_id = app_centre()) WITH CHECK (centre_id = app_centre());
	GRANT SELECT, INSERT, UPDATE, DELETE ON bottle TO tankside_app`

const insert = "INSERT INTO bottle (centre_id, id, label, litres) VALUES (@centre, @id, @label, @litres)"

type bundle struct {
	*pgtest.DB
	here, there uuid.UUID
}

func setUp(t *testing.T) bundle {
	b := bundle{DB: pgtest.New(t), here: uuid.New(), there: uuid.New()}
	owner(t, b, bottles)
	b.MapConstraints(map[string]func() *fault.Fault{
		"bottle_label_once":      func() *fault.Fault { return fault.New(fault.Conflict, "label_taken", "This label is taken.") },
		"bottle_holds_something": func() *fault.Fault { return fault.New(fault.Refused, "empty", "A cylinder holds something.") },
	})
	return b
}

func owner(t *testing.T, b bundle, sql string) {
	conn, err := pgx.Connect(t.Context(), b.OwnerURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err)
}

func put(centre uuid.UUID, id int, label string, litres int) func(context.Context, *pg.Tx) error {
	return func(ctx context.Context, tx *pg.Tx) error {
		_, err := tx.Do(ctx, insert, pgx.StrictNamedArgs{"centre": centre, "id": id, "label": label, "litres": litres})
		return err
	}
}

func count(t *testing.T, b bundle, centre uuid.UUID) (n int) {
	require.NoError(t, b.InTx(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) (err error) {
		n, err = pg.Row[int](ctx, tx, "SELECT count(*) FROM bottle", nil) // no WHERE: the policy is all there is
		return err
	}))
	return n
}

func TestAForgottenWhereShowsOneCentre(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	require.NoError(t, b.InTx(t.Context(), b.here, put(b.here, 1, "A", 12)))
	require.NoError(t, b.InTx(t.Context(), b.there, put(b.there, 1, "A", 12)))
	require.NoError(t, b.InTx(t.Context(), b.there, put(b.there, 2, "B", 15)))
	require.Equal(t, 1, count(t, b, b.here))
	require.Equal(t, 2, count(t, b, b.there))
	require.Equal(t, 0, count(t, b, uuid.New()), "a centre that has nothing")

	err := b.InTx(t.Context(), b.here, put(b.there, 3, "C", 10))
	require.Equal(t, fault.Internal, fault.KindOf(err), "a row cannot be written into another centre")
	require.ErrorContains(t, err, "row-level security")
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		n, err := tx.Do(ctx, "DELETE FROM bottle", nil)
		require.EqualValues(t, 1, n)
		return err
	}))
	require.Equal(t, 2, count(t, b, b.there))
}

// A setting that SET LOCAL made once reads ” afterwards on the same
// connection, and no longer null. Both must show nothing, and neither may fail.
func TestScopeDoesNotLeakIntoTheNextUseOfAConnection(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	one, err := pg.Open(t.Context(), b.AppURL+"&pool_max_conns=1")
	require.NoError(t, err)
	defer one.Close()
	require.NoError(t, one.InTx(t.Context(), b.here, put(b.here, 1, "A", 12)))
	require.NoError(t, one.InTx(t.Context(), b.there, func(ctx context.Context, tx *pg.Tx) error {
		n, err := pg.Row[int](ctx, tx, "SELECT count(*) FROM bottle", nil)
		require.Zero(t, n)
		return err
	}))

	conn, err := pgx.Connect(t.Context(), b.AppURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	for _, use := range []string{"before any scope", "after a scope"} {
		var setting *string
		var rows int
		require.NoError(t, conn.QueryRow(t.Context(), "SELECT current_setting('app.centre', true), (SELECT count(*) FROM bottle)").
			Scan(&setting, &rows))
		require.Zero(t, rows, use)
		if use == "after a scope" {
			require.NotNil(t, setting, "the setting has come to read '', the case that this test is about")
			require.Empty(t, *setting)
		}
		_, err := conn.Exec(t.Context(), "BEGIN; SELECT set_config('app.centre', '"+b.here.String()+"', true); COMMIT")
		require.NoError(t, err)
	}
}

func TestNowIsReadOnceInUTC(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	before := time.Now()
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.Equal(t, b.here, tx.Centre)
		require.WithinRange(t, tx.Now, before.Add(-time.Minute), time.Now().Add(time.Minute))
		require.Equal(t, time.UTC, tx.Now.Location())
		at := time.Date(2026, 7, 1, 10, 0, 0, 0, time.FixedZone("", 2*3600))
		args := pgx.StrictNamedArgs{"at": at}
		got, err := pg.Row[time.Time](ctx, tx, "SELECT @at::timestamptz", args)
		require.NoError(t, err)
		require.Equal(t, at.UTC(), got)
		all, err := pg.Row[[]time.Time](ctx, tx, "SELECT ARRAY[@at::timestamptz]", args)
		require.NoError(t, err)
		require.Equal(t, []time.Time{at.UTC()}, all)
		span, err := pg.Row[pgtype.Range[time.Time]](ctx, tx, "SELECT tstzrange(@at, NULL)", args)
		require.NoError(t, err)
		require.Equal(t, at.UTC(), span.Lower)
		return nil
	}))
}

func TestBrokenConstraintsComeBackAsTheirFaults(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   func(b bundle) func(context.Context, *pg.Tx) error
		kind fault.Kind
		code string
	}{
		{"by a statement", func(b bundle) func(context.Context, *pg.Tx) error { return put(b.here, 2, "B", 0) }, fault.Refused, "empty"},
		{"at commit", func(b bundle) func(context.Context, *pg.Tx) error { return put(b.here, 2, "A", 12) }, fault.Conflict, "label_taken"},
		{"an id that is taken", func(b bundle) func(context.Context, *pg.Tx) error { return put(b.here, 1, "B", 12) }, fault.Conflict, "id_reused"},
		{"one that nobody explained", func(b bundle) func(context.Context, *pg.Tx) error { return put(b.here, 2, "B", 100) }, fault.Internal, "internal"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			b := setUp(t)
			require.NoError(t, b.InTx(t.Context(), b.here, put(b.here, 1, "A", 12)))
			for name, run := range map[string]func(context.Context, uuid.UUID, func(context.Context, *pg.Tx) error) error{
				"InTx": b.InTx, "DryRun": b.DryRun().InTx} {
				err := run(t.Context(), b.here, c.in(b))
				var f *fault.Fault
				require.ErrorAs(t, err, &f, name)
				require.Equal(t, c.kind, f.Kind, name)
				require.Equal(t, c.code, f.Code, name)
				var cause *pgconn.PgError
				require.ErrorAs(t, err, &cause, "the cause is kept for the log")
				require.NotContains(t, f.Message, "bottle", "nothing of the tables is shown")
			}
			require.Equal(t, 1, count(t, b, b.here))
		})
	}
}

func TestAFaultOfTheUseCaseComesBackAsItIs(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	refused := fault.NoSuch("cylinder")
	err := b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.NoError(t, put(b.here, 1, "A", 12)(ctx, tx))
		return refused
	})
	require.Same(t, refused, err)
	require.Zero(t, count(t, b, b.here), "and what it wrote is gone")
}

func TestTryLeavesNothing(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	require.NoError(t, b.DryRun().InTx(t.Context(), b.here, put(b.here, 1, "A", 12)))
	require.Zero(t, count(t, b, b.here))
}

func TestAFailedStatementCannotBePassedOver(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	err := b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		_ = put(b.here, 1, "A", 0)(ctx, tx)
		return nil
	})
	require.Equal(t, fault.Internal, fault.KindOf(err))
	require.ErrorIs(t, err, pgx.ErrTxCommitRollback)
}

func TestASavepointIsTakenBackAlone(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.NoError(t, put(b.here, 1, "A", 12)(ctx, tx))
		require.Error(t, b.Savepoint(ctx, tx, put(b.here, 2, "B", 0)))
		require.NoError(t, b.Savepoint(ctx, tx, put(b.here, 3, "C", 10)))
		_, err := tx.Begin(ctx)
		require.Error(t, err, "a part is begun by Savepoint")
		require.Error(t, tx.Commit(ctx), "InTx commits, nobody else")
		require.Error(t, tx.Rollback(ctx))
		return nil
	}))
	require.Equal(t, 2, count(t, b, b.here))
}

func TestAPanicGivesTheConnectionBackAndKeepsNothing(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	one, err := pg.Open(t.Context(), b.AppURL+"&pool_max_conns=1")
	require.NoError(t, err)
	defer one.Close()
	require.Panics(t, func() {
		_ = one.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
			_ = put(b.here, 1, "A", 12)(ctx, tx)
			panic("a defect")
		})
	})
	require.NoError(t, one.Ping(t.Context()))
	require.Zero(t, count(t, b, b.here))
}

func TestACallerWhoLeavesKeepsNothing(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	ctx, cancel := context.WithCancel(t.Context())
	err := b.InTx(ctx, b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.NoError(t, put(b.here, 1, "A", 12)(ctx, tx))
		cancel()
		_, err := tx.Do(ctx, "SELECT 1", nil)
		return err
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, fault.Unavailable, fault.KindOf(err))
	require.Zero(t, count(t, b, b.here))
}

func TestATransactionWithinATransactionIsADefect(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	err := b.InTx(t.Context(), b.here, func(ctx context.Context, _ *pg.Tx) error {
		return b.InTx(ctx, b.here, put(b.here, 1, "A", 12))
	})
	require.Equal(t, fault.Internal, fault.KindOf(err))
	require.ErrorContains(t, err, "hand the Tx on instead")
	require.Zero(t, count(t, b, b.here))
}

func TestRows(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	type bottle struct {
		ID     int
		Label  string
		Volume int `db:"litres"`
	}
	require.NoError(t, b.InTx(t.Context(), b.here, func(ctx context.Context, tx *pg.Tx) error {
		require.NoError(t, put(b.here, 1, "A", 12)(ctx, tx))
		require.NoError(t, put(b.here, 2, "B", 15)(ctx, tx))
		const all = "SELECT id, label, litres FROM bottle ORDER BY id"
		got, err := pg.Rows[bottle](ctx, tx, all, nil)
		require.NoError(t, err)
		require.Equal(t, []bottle{{1, "A", 12}, {2, "B", 15}}, got)
		_, err = pg.Row[bottle](ctx, tx, all, nil)
		require.ErrorIs(t, err, pgx.ErrTooManyRows)

		const byID = "SELECT id, label, litres FROM bottle WHERE id = @id"
		second, err := pg.Row[bottle](ctx, tx, byID, pgx.StrictNamedArgs{"id": 2})
		require.NoError(t, err)
		require.Equal(t, bottle{2, "B", 15}, second)
		_, err = pg.Row[bottle](ctx, tx, byID, pgx.StrictNamedArgs{"id": 9})
		require.ErrorIs(t, err, pgx.ErrNoRows)
		_, there, err := pg.OptionalRow[bottle](ctx, tx, byID, pgx.StrictNamedArgs{"id": 9})
		require.NoError(t, err)
		require.False(t, there)
		_, there, err = pg.OptionalRow[bottle](ctx, tx, byID, pgx.StrictNamedArgs{"id": 1})
		require.NoError(t, err)
		require.True(t, there)

		_, err = pg.Row[bottle](ctx, tx, byID, nil)
		require.Error(t, err, "an argument that is missing")
		_, err = pg.Row[bottle](ctx, tx, byID, pgx.StrictNamedArgs{"id": 1, "other": 2})
		require.Error(t, err, "an argument that is not used")
		labels, err := pg.Rows[string](ctx, tx, "SELECT label FROM bottle ORDER BY id", nil)
		require.NoError(t, err)
		require.Equal(t, []string{"A", "B"}, labels)
		nothing, err := pg.Row[pgtype.Timestamptz](ctx, tx, "SELECT filled_at FROM bottle WHERE id = 1", nil)
		require.NoError(t, err)
		require.False(t, nothing.Valid)
		return nil
	}))
}

func TestOpenRefusesWhoeverPoliciesDoNotBind(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	super, err := pgx.Connect(t.Context(), b.SuperURL)
	require.NoError(t, err)
	defer super.Close(context.Background())
	tag := strings.ReplaceAll(uuid.NewString(), "-", "") // roles are the server's, not the database's
	passes, belongs := "passes_"+tag, "belongs_"+tag
	_, err = super.Exec(t.Context(), "CREATE ROLE "+passes+" LOGIN BYPASSRLS PASSWORD 'x'; CREATE ROLE "+belongs+
		" LOGIN PASSWORD 'x' IN ROLE tankside_owner")
	require.NoError(t, err)
	t.Cleanup(func() {
		conn, err := pgx.Connect(context.Background(), b.SuperURL)
		require.NoError(t, err)
		defer conn.Close(context.Background())
		_, err = conn.Exec(context.Background(), "DROP ROLE "+passes+"; DROP ROLE "+belongs)
		require.NoError(t, err)
	})
	as := func(role string) string {
		config, err := pgx.ParseConfig(b.AppURL)
		require.NoError(t, err)
		before, after, ok := strings.Cut(b.AppURL, "@")
		require.True(t, ok)
		require.Contains(t, before, config.User)
		return "postgres://" + role + ":x@" + after
	}
	for _, c := range []struct{ name, url, want string }{
		{"superuser", b.SuperURL, "passes by row-level security"},
		{"BYPASSRLS", as(passes), "passes by row-level security"},
		{"owner", b.OwnerURL, "owns tables"},
		{"member of the owner", as(belongs), "owns tables"},
	} {
		t.Run(c.name, func(t *testing.T) {
			db, err := pg.Open(t.Context(), c.url)
			require.ErrorContains(t, err, c.want)
			require.ErrorContains(t, err, "connect as tankside_app")
			require.Nil(t, db)
		})
	}
	_, err = pg.Open(t.Context(), "postgres://tankside_app@127.0.0.1:1/tankside?connect_timeout=1")
	require.Error(t, err, "nobody answers")
}

func TestExplainedListsTheConstraints(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	b.MapConstraints(map[string]func() *fault.Fault{"bottle_label_once": func() *fault.Fault { return fault.NoSuch("x") }})
	require.Equal(t, []string{"bottle_holds_something", "bottle_label_once"}, b.MappedConstraints())
}

var errOther = errors.New("something else")

func TestAnythingElseIsInternalWithItsCauseHidden(t *testing.T) {
	t.Parallel()
	b := setUp(t)
	err := b.InTx(t.Context(), b.here, func(context.Context, *pg.Tx) error { return errOther })
	require.ErrorIs(t, err, errOther)
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, fault.Internal, f.Kind)
	require.NotContains(t, f.Message, errOther.Error())
}
