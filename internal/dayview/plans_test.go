package dayview_test

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// node is one step of a plan as EXPLAIN writes it.
type node struct {
	Type     string `json:"Node Type"`
	Relation string `json:"Relation Name"`
	Index    string `json:"Index Name"`
	Cond     string `json:"Index Cond"`
	Plans    []node
}

func (n node) all() []node {
	out := []node{n}
	for _, p := range n.Plans {
		out = append(out, p.all()...)
	}
	return out
}

// ofTheCentre are tables that have one row for each centre.
var ofTheCentre = []string{"centre_pkey", "gas_settings_pkey"}

// A statement that is planned while tables are empty keeps that plan for as long as
// its connection lives. Where it starts with the whole centre, it reads every row
// that the centre has by then: 26.8 of 30.4 million rows of a thousand requests were
// read so once (measured by ourselves).
func TestNoPlanBeginsWithTheWholeCentre(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t) // never analysed
	conn, err := pgx.Connect(t.Context(), db.AppURL)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	_, err = conn.Exec(t.Context(), "SELECT set_config('app.centre', $1, false)", uuid.NewString())
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), "SET plan_cache_mode = "+pg.PlanCacheMode)
	require.NoError(t, err)
	for name, sql := range dayview.Statements {
		t.Run(name, func(t *testing.T) {
			for _, n := range explain(t, conn, sql) {
				require.NotEqual(t, "Seq Scan", n.Type, "%s is read whole", n.Relation)
				if n.Index == "" || contains(ofTheCentre, n.Index) {
					continue
				}
				require.True(t, narrowed(n.Cond), "%s of %s is asked for the whole centre: %s", n.Index,
					n.Relation, n.Cond)
			}
		})
	}
}

// narrowed reports whether a condition asks for more than the centre.
func narrowed(cond string) bool {
	for _, part := range strings.Split(cond, " AND ") {
		if part != "" && !strings.Contains(part, "centre_id =") {
			return true
		}
	}
	return false
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// named finds the names of a statement's arguments.
var named = regexp.MustCompile(`@[a-z]+`)

// explain returns the steps of the plan that serves for all arguments.
func explain(t *testing.T, conn *pgx.Conn, sql string) []node {
	t.Helper()
	args := pgx.NamedArgs{}
	for _, name := range named.FindAllString(sql, -1) {
		args[name[1:]] = nil
	}
	positional, values, err := args.RewriteQuery(t.Context(), conn, sql, nil)
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), "PREPARE q AS "+positional, pgx.QueryExecModeSimpleProtocol)
	require.NoError(t, err)
	execute := "EXECUTE q"
	if len(values) > 0 {
		execute += "(" + strings.TrimSuffix(strings.Repeat("NULL, ", len(values)), ", ") + ")"
	}
	var text []byte
	require.NoError(t, conn.QueryRow(t.Context(), "EXPLAIN (FORMAT JSON) "+execute,
		pgx.QueryExecModeSimpleProtocol).Scan(&text))
	_, err = conn.Exec(t.Context(), "DEALLOCATE q", pgx.QueryExecModeSimpleProtocol)
	require.NoError(t, err)
	var plans []struct{ Plan node }
	require.NoError(t, json.Unmarshal(text, &plans))
	return plans[0].Plan.all()
}
