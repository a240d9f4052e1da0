package migrate_test

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"os"
	osexec "os/exec"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
)

// envMigrate makes this test program one that migrates, for the test that kills it.
const envMigrate = "TANKSIDE_TEST_MIGRATE"

// slow takes a while in the middle of a migration.
var slow = fstest.MapFS{
	"000001_one.up.sql": {Data: []byte("CREATE TABLE one ()")},
	"000002_two.up.sql": {Data: []byte("CREATE TABLE two (); SELECT pg_sleep(1.5); CREATE TABLE three ()")},
}

func TestMain(m *testing.M) {
	url := os.Getenv(envMigrate)
	if url == "" {
		os.Exit(m.Run())
	}
	if err := migrate.UpFiles(context.Background(), url, slow); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// Whoever is killed in the middle of a migration leaves a schema that the next one
// goes on from, with nobody's help.
func TestKilledInTheMiddleOfAMigration(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	program, err := os.Executable()
	require.NoError(t, err)
	cmd := osexec.Command(program)
	cmd.Env = append(os.Environ(), envMigrate+"="+db.OwnerURL)
	cmd.Stderr = t.Output()
	require.NoError(t, cmd.Start())
	conn, err := pgx.Connect(t.Context(), db.SuperURL)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	require.Eventually(t, func() bool {
		var n int
		err := conn.QueryRow(t.Context(),
			"SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event = 'PgSleep'").Scan(&n)
		return err == nil && n == 1
	}, 20*time.Second, 10*time.Millisecond)
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait())
	requireVersion(t, db.OwnerURL, 1, false)

	require.NoError(t, migrate.UpFiles(t.Context(), db.OwnerURL, slow), "the next one goes on")
	requireVersion(t, db.OwnerURL, 2, false)
	require.Contains(t, pgtest.Schema(t, db.OwnerURL), "relation three")
}

// A reader who stays holds a migration up, and nobody else: it lets go of its place
// in the queue again and again, and says whom it waits for.
func TestALongReaderHoldsUpNobodyElse(t *testing.T) {
	t.Parallel()
	db := pgtest.Empty(t)
	files := fstest.MapFS{"000001_one.up.sql": {Data: []byte("CREATE TABLE one (); GRANT SELECT ON one TO tankside_app")}}
	require.NoError(t, migrate.UpFiles(t.Context(), db.OwnerURL, files))
	files["000002_two.up.sql"] = &fstest.MapFile{Data: []byte("ALTER TABLE one ADD more text")}
	reader, err := pgx.Connect(t.Context(), db.AppURL)
	require.NoError(t, err)
	defer reader.Close(context.Background())
	_, err = reader.Exec(t.Context(), "SET application_name = 'long report'; BEGIN; SELECT FROM one",
		pgx.QueryExecModeSimpleProtocol)
	require.NoError(t, err)

	var told bytes.Buffer
	log := slog.New(slog.NewTextHandler(&told, nil))
	err = migrate.UpFilesTold(t.Context(), db.OwnerURL, files, log, 3*time.Second)
	require.ErrorContains(t, err, "others still hold locks")
	require.ErrorContains(t, err, "long report")
	require.Contains(t, told.String(),
		fmt.Sprintf("process %d (role tankside_app, long report", reader.PgConn().PID()))
	requireVersion(t, db.OwnerURL, 1, false)

	moved := make(chan error, 1)
	go func() { moved <- migrate.UpFiles(t.Context(), db.OwnerURL, files) }()
	other, err := pgx.Connect(t.Context(), db.AppURL)
	require.NoError(t, err)
	defer other.Close(context.Background())
	longest := time.Duration(0)
	for began := time.Now(); time.Since(began) < 4*time.Second; time.Sleep(20 * time.Millisecond) {
		asked := time.Now()
		_, err := other.Exec(t.Context(), "SELECT FROM one")
		require.NoError(t, err)
		longest = max(longest, time.Since(asked))
	}
	require.Less(t, longest, 4*time.Second, "others wait no longer than the migration does at once")
	require.Empty(t, moved, "the reader is still there")
	_, err = reader.Exec(t.Context(), "COMMIT")
	require.NoError(t, err)
	require.NoError(t, <-moved)
	requireVersion(t, db.OwnerURL, 2, false)
}
