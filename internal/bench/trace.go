package bench

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// statement is one statement of a request, with positional arguments.
type statement struct {
	sql   string
	args  []any
	batch int // statements of one batch share a number above 0
}

// tracer notes the statements of a pool while it is on.
type tracer struct {
	mu      sync.Mutex
	on      bool
	batches int
	seen    []statement
}

func (t *tracer) start() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.on, t.batches, t.seen = true, 0, nil
}

func (t *tracer) stop() []statement {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.on = false
	return t.seen
}

// TraceQueryStart notes a statement outside a batch.
func (t *tracer) TraceQueryStart(ctx context.Context, conn *pgx.Conn,
	d pgx.TraceQueryStartData) context.Context {
	t.note(ctx, conn, d.SQL, d.Args, 0)
	return ctx
}

// TraceQueryEnd does nothing.
func (t *tracer) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

// TraceBatchStart notes the statements of a batch.
func (t *tracer) TraceBatchStart(ctx context.Context, conn *pgx.Conn,
	d pgx.TraceBatchStartData) context.Context {
	t.mu.Lock()
	t.batches++
	n := t.batches
	t.mu.Unlock()
	for _, q := range d.Batch.QueuedQueries {
		t.note(ctx, conn, q.SQL, q.Arguments, n)
	}
	return ctx
}

// TraceBatchQuery does nothing.
func (t *tracer) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

// TraceBatchEnd does nothing.
func (t *tracer) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

func (t *tracer) note(ctx context.Context, conn *pgx.Conn, sql string, args []any, batch int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if !t.on {
		return
	}
	if len(args) > 0 {
		if r, ok := args[0].(pgx.QueryRewriter); ok {
			rewritten, positional, err := r.RewriteQuery(ctx, conn, sql, args[1:])
			if err == nil {
				sql, args = rewritten, positional
			}
		}
	}
	t.seen = append(t.seen, statement{sql: sql, args: args, batch: batch})
}

// The ids that a script counts, by their first digits; a number follows.
const (
	signedPrefix      = "0199aaaa-0000-7000-8000-" // enrolments to be signed for, one after the other
	enrolmentPrefix   = "0199bbbb-0000-7000-8000-" // of the students
	participantPrefix = "0199cccc-0000-7000-8000-"
	sessionPrefix     = "0199dddd-0000-7000-8000-"
	signingPrefix     = "0199eeee-0000-7000-8000-" // sessions whose students are signed for
)

// counted has the script's variable for the number in such an id.
var counted = map[string]string{signedPrefix: "e", enrolmentPrefix: "p", participantPrefix: "p",
	sessionPrefix: "s", signingPrefix: "g"}

func numbered(prefix string, n int) uuid.UUID {
	return uuid.MustParse(fmt.Sprintf("%s%012x", prefix, n))
}

// script returns the statements as a pgbench script. Each transaction draws a
// participant with its session; ids that the request made are made afresh; the
// enrolment to be signed for is the next without a sign-off.
func script(all []statement, fixed map[uuid.UUID]bool) string {
	w := writer{fixed: fixed, fresh: map[string]int{}}
	var b strings.Builder
	b.WriteString("\\set i :i + 1\n\\set n random(1, 100000000000000)\n\\set e :base + " +
		":client_id * :each + :i\n")
	fmt.Fprintf(&b, "\\set g :e / %d\n\\set p random(0, %d)\n\\set s :p / %d\n", signers,
		sessions*students-1, students)
	in := 0
	for _, s := range all {
		if s.batch != in {
			if in != 0 {
				b.WriteString("\\endpipeline\n")
			}
			if s.batch != 0 {
				b.WriteString("\\startpipeline\n")
			}
			in = s.batch
		}
		b.WriteString(w.statement(s) + ";\n")
	}
	if in != 0 {
		b.WriteString("\\endpipeline\n")
	}
	return b.String()
}

// writer renders arguments as literals.
type writer struct {
	fixed map[uuid.UUID]bool
	fresh map[string]int // ids that the request made
}

var placeholder = regexp.MustCompile(`\$(\d+)`)

func (w writer) statement(s statement) string {
	sql := strings.Join(strings.Fields(s.sql), " ")
	return placeholder.ReplaceAllStringFunc(sql, func(p string) string {
		n, err := strconv.Atoi(p[1:])
		if err != nil || n < 1 || n > len(s.args) {
			return p
		}
		return w.literal(s.args[n-1])
	})
}

// literal returns an argument with the type that the driver would send.
func (w writer) literal(v any) string {
	text, cast, null := textOf(reflect.ValueOf(v))
	if null {
		return "NULL"
	}
	expr, varies := w.vary(text)
	if cast == "" && varies {
		cast = "text"
	}
	if cast == "" && !strings.Contains(expr, " || ") {
		return expr
	}
	if cast == "" {
		return "(" + expr + ")" // so that a cast in the statement applies to the whole
	}
	return "(" + expr + ")::" + cast
}

var id = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// vary returns a text as an SQL expression in which the varying ids vary.
func (w writer) vary(text string) (expr string, varies bool) {
	var parts []string
	rest := 0
	for _, at := range id.FindAllStringIndex(text, -1) {
		found := text[at[0]:at[1]]
		u := uuid.MustParse(found)
		if w.fixed[u] {
			continue
		}
		parts = append(parts, quote(text[rest:at[0]]), w.made(u))
		rest, varies = at[1], true
	}
	parts = append(parts, quote(text[rest:]))
	return strings.Join(parts, " || "), varies
}

// made returns the expression for a varying id.
func (w writer) made(u uuid.UUID) string {
	if name, ok := counted[u.String()[:len(signedPrefix)]]; ok {
		return fmt.Sprintf("('%s' || lpad(to_hex(:%s::bigint), 12, '0'))",
			u.String()[:len(signedPrefix)], name)
	}
	n, ok := w.fresh[u.String()]
	if !ok {
		n = len(w.fresh) + 1
		w.fresh[u.String()] = n
	}
	return fmt.Sprintf("('%08x-0000-7000-8000-' || lpad(to_hex(:n::bigint), 12, '0'))", n)
}

var colon = regexp.MustCompile(`:([A-Za-z_])`)

// quote returns a constant. pgbench takes a colon before a letter for a variable even
// within quotes, so the constant is split there.
func quote(s string) string {
	return "'" + colon.ReplaceAllString(strings.ReplaceAll(s, "'", "''"), ":' || '$1") + "'"
}

// textOf returns a Go value as PostgreSQL reads it, with its type.
func textOf(v reflect.Value) (text, cast string, null bool) {
	if !v.IsValid() || (v.Kind() == reflect.Pointer || v.Kind() == reflect.Slice ||
		v.Kind() == reflect.Map) && v.IsNil() {
		return "", "", true
	}
	switch x := v.Interface().(type) {
	case uuid.UUID:
		return x.String(), "uuid", false
	case time.Time:
		return x.UTC().Format("2006-01-02 15:04:05.999999-07"), "timestamptz", false
	case []byte:
		return `\x` + hex.EncodeToString(x), "bytea", false
	}
	switch v.Kind() {
	case reflect.Pointer:
		return textOf(v.Elem())
	case reflect.Slice:
		return arrayOf(v)
	case reflect.String:
		return v.String(), "", false
	case reflect.Bool, reflect.Int, reflect.Int32, reflect.Int64, reflect.Float64:
		return fmt.Sprint(v.Interface()), "", false
	}
	raw, err := json.Marshal(v.Interface())
	if err != nil {
		return "", "", true
	}
	return string(raw), "jsonb", false
}

func arrayOf(v reflect.Value) (text, cast string, null bool) {
	var items []string
	kind := reflect.New(v.Type().Elem()).Elem()
	if kind.Kind() == reflect.Pointer {
		kind = reflect.New(kind.Type().Elem()).Elem()
	}
	if kind.Kind() == reflect.Struct && kind.Type() != reflect.TypeFor[time.Time]() {
		raw, err := json.Marshal(v.Interface())
		return string(raw), "jsonb", err != nil
	}
	_, of, _ := textOf(kind)
	if kind.Kind() == reflect.Slice {
		of = "bytea"
	}
	for i := range v.Len() {
		item, _, missing := textOf(v.Index(i))
		if missing {
			items = append(items, "NULL")
			continue
		}
		items = append(items, `"`+strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(item)+`"`)
	}
	if of == "" {
		of = "text"
	}
	return "{" + strings.Join(items, ",") + "}", of + "[]", false
}
