package bench

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

var (
	ours  = uuid.MustParse("00000000-0000-7000-8000-00000000000a") // fixed
	fresh = uuid.MustParse("00000000-0000-7000-8000-00000000000b") // made up by the request
)

func newWriter() writer {
	return writer{fixed: map[uuid.UUID]bool{ours: true}, fresh: map[string]int{}}
}

func TestArgumentsBecomeLiterals(t *testing.T) {
	made := `('00000001-0000-7000-8000-' || lpad(to_hex(:n::bigint), 12, '0'))`
	at := time.Date(2026, 6, 6, 12, 0, 0, 500_000, time.FixedZone("", 3600))
	var none *uuid.UUID
	for _, c := range []struct {
		name string
		arg  any
		want string
	}{
		{"an id that stays", ours, `('00000000-0000-7000-8000-00000000000a')::uuid`},
		{"an id that the request made up", fresh, `('' || ` + made + ` || '')::uuid`},
		{"a counted id", numbered(participantPrefix, 7),
			`('' || ('0199cccc-0000-7000-8000-' || lpad(to_hex(:p::bigint), 12, '0')) || '')::uuid`},
		{"nothing", nil, `NULL`},
		{"no id", none, `NULL`},
		{"text", "it's", `'it''s'`},
		{"text that pgbench would take for a variable", `{"kind":"open"} :no 10:30`,
			`('{"kind":"open"} :' || 'no 10:30')`},
		{"bytes", []byte{0xde, 0xad}, `('\xdead')::bytea`},
		{"an instant", at, `('2026-06-06 11:00:00.0005+00')::timestamptz`},
		{"a number", 21.5, `'21.5'`},
		{"ids", []uuid.UUID{ours}, `('{"00000000-0000-7000-8000-00000000000a"}')::uuid[]`},
		{"ids that may be missing", []*uuid.UUID{&ours, nil},
			`('{"00000000-0000-7000-8000-00000000000a",NULL}')::uuid[]`},
		{"texts", []string{`a "quoted" \ one`}, `('{"a \"quoted\" \\ one"}')::text[]`},
		{"digests", [][]byte{{1}}, `('{"\\x01"}')::bytea[]`},
		{"an id within JSON", `[{"id":"` + fresh.String() + `"}]`, `('[{"id":"' || ` + made +
			` || '"}]')::text`},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, newWriter().literal(c.arg))
		})
	}
}

func TestAScriptKeepsBatchesAndIDs(t *testing.T) {
	got := script([]statement{
		{sql: "BEGIN", batch: 1},
		{sql: "SELECT $1", args: []any{ours}, batch: 1},
		{sql: "INSERT INTO x\n\tVALUES ($1, $2)", args: []any{fresh, fresh}},
		{sql: "COMMIT"},
	}, map[uuid.UUID]bool{ours: true})
	_, body, _ := strings.Cut(got, "\\set s :p / 8\n")
	id := `('' || ('00000001-0000-7000-8000-' || lpad(to_hex(:n::bigint), 12, '0')) || '')::uuid`
	require.Equal(t, "\\startpipeline\nBEGIN;\nSELECT ('00000000-0000-7000-8000-00000000000a')::uuid;\n\\endpipeline\nINSERT INTO x VALUES ("+id+", "+id+");\nCOMMIT;\n", body)
}

func TestTheTracerNotesStatementsInTheirBatches(t *testing.T) {
	var tr tracer
	tr.TraceQueryStart(t.Context(), nil, pgx.TraceQueryStartData{SQL: "SELECT 0"})
	tr.start()
	tr.TraceQueryStart(t.Context(), nil,
		pgx.TraceQueryStartData{SQL: "SELECT @a", Args: []any{pgx.StrictNamedArgs{"a": 7}}})
	var b pgx.Batch
	b.Queue("SELECT 1")
	b.Queue("SELECT 2")
	tr.TraceBatchStart(t.Context(), nil, pgx.TraceBatchStartData{Batch: &b})
	require.Equal(t, []statement{{sql: "SELECT $1", args: []any{7}}, {sql: "SELECT 1", batch: 1},
		{sql: "SELECT 2", batch: 1}}, tr.stop())
}

func TestTheRateLeavesTheWarmingOut(t *testing.T) {
	began := time.Unix(0, 0)
	ends := func(seconds ...int) (out []time.Time) {
		for _, s := range seconds {
			out = append(out, began.Add(time.Duration(s)*time.Second))
		}
		return out
	}
	// Two clients: two transactions in 2 s after the warm ones, and two in 4 s.
	require.InDelta(t, 1.5, rate([][]time.Time{ends(90, 100, 101, 102), ends(50, 60, 62, 64)}), 1e-9)
	require.Zero(t, rate([][]time.Time{ends(1)}))
}

func TestTheLogIsReadByClient(t *testing.T) {
	ends := make([][]time.Time, 2)
	require.NoError(t, readLog([]byte("0 1 1234 0 1800000000 500000\n1 1 99 0 1800000001 0\n0 2 1000 0 1800000002 250000\n"), ends))
	require.Equal(t, []time.Time{time.Unix(1800000000, 500e6), time.Unix(1800000002, 250e6)}, ends[0])
	require.Len(t, ends[1], 1)
	require.Error(t, readLog([]byte("2 1 99 0 1800000001 0\n"), ends), "a client that there is not")
	require.Error(t, readLog([]byte("progress: 1 s\n"), ends))
}

func TestALoadStopsAtTheFirstError(t *testing.T) {
	n := 0
	j := &job{request: func(int) error {
		if n++; n == 3 {
			return errors.New(http.StatusText(http.StatusTeapot))
		}
		return nil
	}}
	_, err := load(context.Background(), j, 1, 10)
	require.Error(t, err)
	require.Equal(t, 3, n)
	require.Equal(t, 10, j.used)
}
