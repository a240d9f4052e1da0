package httpapi_test

import (
	"context"
	"encoding/json"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
)

// statement is one statement of a request with its positional arguments.
type statement struct {
	sql  string
	args []any
	mode string // plan_cache_mode
}

// statements is a tracer that keeps what it sees.
type statements struct {
	mu   sync.Mutex
	seen []statement
	mode string
}

// TraceQueryStart implements pgx.QueryTracer.
func (s *statements) TraceQueryStart(ctx context.Context, conn *pgx.Conn,
	d pgx.TraceQueryStartData) context.Context {
	s.note(ctx, conn, d.SQL, d.Args)
	return ctx
}

// TraceQueryEnd implements pgx.QueryTracer.
func (*statements) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

// TraceBatchStart implements pgx.BatchTracer.
func (s *statements) TraceBatchStart(ctx context.Context, conn *pgx.Conn,
	d pgx.TraceBatchStartData) context.Context {
	for _, q := range d.Batch.QueuedQueries {
		s.note(ctx, conn, q.SQL, q.Arguments)
	}
	return ctx
}

// TraceBatchQuery implements pgx.BatchTracer.
func (*statements) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

// TraceBatchEnd implements pgx.BatchTracer.
func (*statements) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

func (s *statements) note(ctx context.Context, conn *pgx.Conn, sql string, args []any) {
	if len(args) > 0 {
		if r, ok := args[0].(pgx.QueryRewriter); ok {
			if rewritten, positional, err := r.RewriteQuery(ctx, conn, sql, args[1:]); err == nil {
				sql, args = rewritten, positional
			}
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case strings.Contains(sql, "force_custom_plan"): // as the transaction begins
		s.mode = "force_custom_plan"
	case strings.Contains(sql, "set_config"):
		s.mode = pg.PlanCacheMode
	}
	s.seen = append(s.seen, statement{sql, args, s.mode})
}

func (s *statements) clear() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.seen = nil
}

// readings gives the statements that read tables.
func (s *statements) readings() (out []statement) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, q := range s.seen {
		if reads := regexp.MustCompile(`(?i)^\s*(SELECT|WITH)\b`); reads.MatchString(q.sql) &&
			!strings.Contains(q.sql, "set_config") {
			out = append(out, q)
		}
	}
	return out
}

// scan is one way in which a plan reads a table.
type scan struct {
	Type     string  `json:"Node Type"`
	Relation string  `json:"Relation Name"`
	Rows     float64 `json:"Actual Rows"`
	Loops    float64 `json:"Actual Loops"`
	Filtered float64 `json:"Rows Removed by Filter"`
	Joined   float64 `json:"Rows Removed by Join Filter"`
	Rechecks float64 `json:"Rows Removed by Index Recheck"`
	Plans    []scan
}

// thrownAway gives how many rows it read that were of no use.
func (s scan) thrownAway() float64 { return (s.Filtered + s.Joined + s.Rechecks) * max(s.Loops, 1) }

// all gives the scan and those beneath it.
func (s scan) all() []scan {
	out := []scan{s}
	for _, p := range s.Plans {
		out = append(out, p.all()...)
	}
	return out
}

// scans runs the statement with its arguments, planned as it was in service.
func (q statement) scans(t *testing.T, conn *pgx.Conn) []scan {
	t.Helper()
	_, err := conn.Exec(t.Context(), "SET plan_cache_mode = "+q.mode+"; PREPARE q AS "+q.sql,
		pgx.QueryExecModeSimpleProtocol)
	require.NoError(t, err, q.sql)
	defer func() {
		_, err := conn.Exec(context.WithoutCancel(t.Context()), "DEALLOCATE q", pgx.QueryExecModeSimpleProtocol)
		require.NoError(t, err)
	}()
	given := make([]string, len(q.args))
	for i, a := range q.args {
		given[i] = literal(t, conn, a)
	}
	execute := "EXECUTE q"
	if len(given) > 0 {
		execute += "(" + strings.Join(given, ", ") + ")"
	}
	var text []byte
	require.NoError(t, conn.QueryRow(t.Context(), "EXPLAIN (ANALYZE, FORMAT JSON) "+execute,
		pgx.QueryExecModeSimpleProtocol).Scan(&text), q.sql)
	var plans []struct{ Plan scan }
	require.NoError(t, json.Unmarshal(text, &plans))
	return plans[0].Plan.all()
}

// literal writes an argument as SQL has it, of no type: the statement knows.
func literal(t *testing.T, conn *pgx.Conn, arg any) string {
	t.Helper()
	if ids, ok := arg.([]uuid.UUID); ok && ids != nil { // pgx has no array of these by itself
		texts := make([]string, len(ids))
		for i, id := range ids {
			texts[i] = id.String()
		}
		arg = texts
	}
	switch v := arg.(type) {
	case []uuid.UUID:
		return "NULL"
	case uuid.UUID:
		arg = v.String()
	case *uuid.UUID:
		if v == nil {
			return "NULL"
		}
		arg = v.String()
	}
	of, known := conn.TypeMap().TypeForValue(arg)
	if !known {
		of = &pgtype.Type{OID: pgtype.TextOID}
	}
	text, err := conn.TypeMap().Encode(of.OID, pgtype.TextFormatCode, arg, nil)
	require.NoError(t, err, "%T", arg)
	if text == nil {
		return "NULL"
	}
	return "'" + strings.ReplaceAll(string(text), "'", "''") + "'"
}
