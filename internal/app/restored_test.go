package app_test

import (
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/centre"
	"tankside/internal/config"
	"tankside/internal/desk"
	"tankside/internal/pg/localpg"
	"tankside/internal/pg/pgtest"
	"tankside/internal/ratio"
)

// office calls the service on one database, as the manager.
type office struct {
	t       *testing.T
	handler http.Handler
	secret  string
}

func opened(t *testing.T, url, secret string) office {
	t.Helper()
	a, err := app.New(t.Context(), config.Config{Database: config.Secret(url)}, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	t.Cleanup(a.Close)
	return office{t, a.Handler(), secret}
}

func (o office) call(method, path, body string) (status int, answer map[string]any) {
	o.t.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Header.Set("Authorization", "Bearer "+o.secret)
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	o.handler.ServeHTTP(w, r)
	require.NoError(o.t, json.Unmarshal(w.Body.Bytes(), &answer), w.Body.String())
	return w.Code, answer
}

func (o office) add(name string) {
	o.t.Helper()
	status, answer := o.call(http.MethodPost, "/v1/people", `{"name": "`+name+
		`", "birth_on": "1990-01-01", "roles": ["student"]}`)
	require.Equal(o.t, http.StatusCreated, status, answer)
}

// since reads who changed since a token, and the token that continues it.
func (o office) since(token string) (names []string, next string) {
	o.t.Helper()
	status, answer := o.call(http.MethodGet, "/v1/people?updated_since="+url.QueryEscape(token), "")
	require.Equal(o.t, http.StatusOK, status, answer)
	for _, item := range answer["items"].([]any) {
		names = append(names, item.(map[string]any)["name"].(string))
	}
	return names, answer["updated_token"].(string)
}

// tool runs one of PostgreSQL's programs.
func tool(t *testing.T, name string, args ...string) {
	t.Helper()
	cmd, err := localpg.Tool(t.Context(), name, args...)
	require.NoError(t, err)
	said, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s: %s", name, said)
}

// A database is dumped and restored into a fresh cluster, whose transactions
// begin low: under the numbers of the old one, nothing that is written there would
// be told to whoever comes with a token from before.
func TestATokenFromBeforeARestoreIsGone(t *testing.T) {
	t.Parallel()
	before := pgtest.New(t)
	centre, manager, err := desk.CreateCentre(t.Context(), before.DB, desk.NewCentre{
		Settings: centre.Settings{Name: "Kelp Point", TimeZone: "UTC", GaugeUnit: "bar", AgeOfMajority: 18,
			RuleBooks: ratio.GeneralPractice()},
		Manager: "Mara Quill", ManagerBirthOn: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	require.NotZero(t, centre.ID)
	old := opened(t, before.AppURL, manager.Secret)
	use(t, before.SuperURL, 20_000)
	old.add("Ines Prado")
	_, token := old.since(first(old))

	file := filepath.Join(t.TempDir(), "dump")
	tool(t, "pg_dump", "--format=custom", "--file="+file, before.OwnerURL)
	fresh, err := localpg.Start(t.Context(), localpg.Options{Database: "elsewhere"})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, fresh.Stop()) })
	require.NoError(t, os.Chmod(file, 0o644))
	tool(t, "pg_restore", "--exit-on-error", "--no-owner", "--dbname="+fresh.URL(localpg.Owner, "elsewhere"),
		file)
	require.Less(t, use(t, fresh.URL(localpg.Super, "elsewhere"), 1), use(t, before.SuperURL, 1)-5_000,
		"the transactions begin low")

	moved := opened(t, fresh.URL(localpg.App, "elsewhere"), manager.Secret)
	moved.add("Nuno Reis")
	status, problem := moved.call(http.MethodGet, "/v1/people?updated_since="+url.QueryEscape(token), "")
	require.Equal(t, http.StatusGone, status, problem)
	require.Equal(t, "position_gone", problem["code"])
	require.Contains(t, problem["detail"], "Read the list without updated_since")

	token = first(moved)
	moved.add("Rui Tamen")
	names, token := moved.since(token)
	require.Equal(t, []string{"Rui Tamen"}, names, "and not whatever the old cluster numbered higher")
	names, _ = moved.since(token)
	require.Empty(t, names)
	names, _ = old.since(first(old))
	require.Empty(t, names, "the old one goes on with its own")
}

// first reads the whole list, and gives the token that continues it.
func first(o office) string {
	_, answer := o.call(http.MethodGet, "/v1/people", "")
	return answer["updated_token"].(string)
}

// use uses up transactions, and gives the number of the last one.
func use(t *testing.T, url string, n int) (last int64) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(t.Context(), `CREATE OR REPLACE PROCEDURE pg_temp.use(n int) LANGUAGE plpgsql AS
		'BEGIN FOR i IN 1..n LOOP PERFORM pg_current_xact_id(); COMMIT; END LOOP; END'`)
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), "CALL pg_temp.use($1)", pgx.QueryExecModeSimpleProtocol, n)
	require.NoError(t, err)
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT pg_current_xact_id()::text::bigint").Scan(&last))
	return last
}
