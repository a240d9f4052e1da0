package cli_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"log/slog"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/cli"
	"tankside/internal/config"
	"tankside/internal/pg/pgtest"
	"tankside/migrations"
)

// console runs commands against one database.
type console struct {
	t   *testing.T
	env map[string]string
}

func (c console) run(args ...string) (status int, out, errs string) {
	c.t.Helper()
	var o, e bytes.Buffer
	status = cli.Main(c.t.Context(),
		cli.Call{Args: args, Getenv: func(k string) string { return c.env[k] }, Out: &o, Errs: &e})
	return status, o.String(), e.String()
}

func (c console) done(args ...string) string {
	c.t.Helper()
	status, out, errs := c.run(args...)
	require.Equal(c.t, cli.Done, status, errs)
	return out
}

func word(t *testing.T, out, name string) string {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + name + `\s+(\S+)$`).FindStringSubmatch(out)
	require.NotNil(t, m, "%q has no %s", out, name)
	return m[1]
}

// serve runs the service on loopback until the test ends.
func (c console) serve() string {
	c.t.Helper()
	cfg, err := config.Read(func(k string) string { return c.env[k] })
	require.NoError(c.t, err)
	a, err := app.New(c.t.Context(), cfg, slog.New(slog.DiscardHandler))
	require.NoError(c.t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(c.t, err)
	ctx, stop := context.WithCancel(c.t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.Serve(ctx, l) }()
	c.t.Cleanup(func() {
		stop()
		require.NoError(c.t, <-ended)
	})
	return "http://" + l.Addr().String()
}

func get(t *testing.T, url, token string) (int, map[string]any) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	require.NoError(t, err)
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	resp, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer resp.Body.Close()
	var body map[string]any
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&body))
	return resp.StatusCode, body
}

func TestFromAnEmptyDatabaseToAnAnswer(t *testing.T) {
	db := pgtest.Empty(t)
	c := console{t, map[string]string{"TANKSIDE_DATABASE_URL": db.AppURL,
		"TANKSIDE_OWNER_DATABASE_URL": db.OwnerURL}}
	require.Contains(t, c.done("migrate", "version"), "schema version 0 of")
	c.done("migrate", "up")
	made := c.done("centre", "create", "-name", "Kelp Point", "-zone", "Europe/Lisbon", "-manager", "Mara",
		"-manager-birth", "1984-02-29")
	base := c.serve()

	status, me := get(t, base+"/v1/me", word(t, made, "token"))
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, "Kelp Point", me["centre_name"])

	issued := c.done("token", "issue", "-centre", word(t, made, "centre"), "-program", "booking page", "-days",
		"1")
	secret := word(t, issued, "token")
	status, me = get(t, base+"/v1/me", secret)
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, "booking page", me["program"])
	c.done("token", "revoke", "-centre", word(t, made, "centre"), "-token", word(t, issued, "token id"))
	status, problem := get(t, base+"/v1/me", secret)
	require.Equal(t, http.StatusUnauthorized, status)
	require.Equal(t, "unauthenticated", problem["code"])

	status, ready := get(t, base+"/readyz", "")
	require.Equal(t, http.StatusOK, status, ready)

	require.Contains(t, c.done("centre", "list"), word(t, made, "centre"))
	listed := c.done("token", "list", "-centre", word(t, made, "centre"))
	require.Contains(t, listed, "program booking page")
	require.Contains(t, listed, "revoked")
	require.NotContains(t, listed, secret)
	require.Regexp(t, `Kelp Point: \d+ chains.*\n1 centres verified`, c.done("ledger", "verify", "-all"))
	require.Contains(t, c.done("epoch", "renew"), "A new epoch has begun")
	require.Contains(t, c.done("version"), fmt.Sprintf("schema   %d", migrations.Latest()))
	c.env["TANKSIDE_OWNER_DATABASE_URL"] = db.AppURL
	status, _, errs := c.run("centre", "list")
	require.Equal(t, cli.Refused, status)
	require.Contains(t, errs, "connect as tankside_owner")
}

func TestAServiceWithoutASchemaIsNotReady(t *testing.T) {
	db := pgtest.Empty(t)
	c := console{t, map[string]string{"TANKSIDE_DATABASE_URL": db.AppURL}}
	base := c.serve()
	status, _ := get(t, base+"/readyz", "")
	require.Equal(t, http.StatusServiceUnavailable, status)
	status, _ = get(t, base+"/livez", "")
	require.Equal(t, http.StatusOK, status)
	c.env["TANKSIDE_OWNER_DATABASE_URL"] = db.OwnerURL
	c.done("migrate", "up")
	require.Eventually(t, func() bool {
		status,
			_ := get(t, base+"/readyz", "")
		return status == http.StatusOK
	}, 5*time.Second, 50*time.Millisecond)
}

func TestSeveralInstancesStartAtOnceOnAnEmptyDatabase(t *testing.T) {
	db := pgtest.Empty(t)
	cfg := config.Config{Database: config.Secret(db.AppURL), Owner: config.Secret(db.OwnerURL),
		Grace: time.Second}
	started := make(chan error, 4)
	for range cap(started) {
		go func() {
			a, err := app.New(t.Context(), cfg, slog.New(slog.DiscardHandler))
			if err == nil {
				a.Close()
			}
			started <- err
		}()
	}
	for range cap(started) {
		require.NoError(t, <-started)
	}
}

func TestMisuseIsExplained(t *testing.T) {
	c := console{t, map[string]string{}}
	for _, args := range [][]string{{}, {"dive"}, {"migrate"}, {"migrate", "sideways"}, {"token", "issue"},
		{"centre", "create"}} {
		c.env["TANKSIDE_OWNER_DATABASE_URL"] = "postgres://nobody@127.0.0.1:1/none"
		status, _, errs := c.run(args...)
		require.Equal(t, cli.Misused, status, "%v: %s", args, errs)
		require.NotEmpty(t, errs)
	}
	status, _, errs := console{t, map[string]string{}}.run("serve")
	require.Equal(t, cli.Refused, status)
	require.True(t, strings.Contains(errs, "TANKSIDE_DATABASE_URL is not set"))
}

// An owner alone at a centre cannot record their own papers over the API; the
// operator's command does, once it is said who saw them.
func TestTheOperatorRecordsThePapersOfWhoIsAlone(t *testing.T) {
	db := pgtest.New(t)
	c := console{t, map[string]string{"TANKSIDE_DATABASE_URL": db.AppURL}}
	made := c.done("centre", "create", "-name", "Kelp", "-zone", "Europe/Lisbon", "-manager", "Marta",
		"-manager-birth", "1980-01-01")
	record := []string{"paper", "record", "-centre", word(t, made, "centre"), "-person",
		word(t, made, "manager"), "-kind", "insurance", "-issued-on", "2026-01-01"}
	status, _, errs := c.run(record...)
	require.Equal(t, cli.Misused, status)
	require.Contains(t, errs, "-seen-by wants the name")
	out := c.done(append(record, "-seen-by", "A. Reyes, harbour office")...)
	require.Contains(t, out, "not seen by a second person here")
	require.Contains(t, c.done("ledger", "verify", "-centre", word(t, made, "centre")),
		"1 chains with 1 entries; 0 things")
	for _, wrong := range [][]string{{"-kind", "licence"}, {"-kind", "medical"}, {"-valid-until", "2025-01-01"},
		{"-issued-on", "May"}} {
		status, _, _ := c.run(append(append(record, "-seen-by", "A. Reyes"), wrong...)...)
		require.Equal(t, cli.Misused, status, wrong)
	}
}
