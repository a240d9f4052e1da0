package httpapi_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
)

// address writes an operation's path with these parameters; what is not given
// is an id that names nothing, a role, a day or a number.
func (op *operation) address(with map[string]string) string {
	return regexp.MustCompile(`\{\w+\}`).ReplaceAllStringFunc(op.path, func(p string) string {
		name := strings.Trim(p, "{}")
		if v, ok := with[name]; ok {
			return v
		}
		return map[string]string{"id": newID(), "role": "student", "date": "2026-06-06", "number": "1",
			"code": "of_nothing"}[name]
	})
}

// asking is address with the query that the operation requires, as the contract's
// examples have it.
func (op *operation) asking(with map[string]string) string {
	query := url.Values{}
	for _, p := range op.Parameters {
		if p.In == "query" && p.Required != nil && *p.Required {
			query.Set(p.Name, p.Schema.Schema().Examples[0].Value)
		}
	}
	if len(query) == 0 {
		return op.address(with)
	}
	return op.address(with) + "?" + query.Encode()
}

// media gives the media type of the operation's body, "" for none.
func (op *operation) media() string {
	if op.RequestBody == nil {
		return ""
	}
	for media := range op.RequestBody.Content.KeysFromOldest() {
		return media
	}
	return ""
}

func (op *operation) takesJSON() bool { return strings.HasSuffix(op.media(), "json") }

// example gives the body that the contract shows, nil for none.
func (op *operation) example(t testing.TB) any {
	t.Helper()
	if op.RequestBody == nil {
		return nil
	}
	content := op.RequestBody.Content.First().Value()
	require.NotNil(t, content.Examples, "%s shows no example of its body", op.OperationId)
	var v any
	require.NoError(t, content.Examples.First().Value().Value.Decode(&v))
	return v
}

// side gives x-side.
func (op *operation) side(t testing.TB) string {
	t.Helper()
	node, ok := op.Extensions.Get("x-side")
	require.True(t, ok, "%s has no x-side", op.OperationId)
	return node.Value
}

func (op *operation) free() bool { return op.Security != nil && len(op.Security) == 0 }

func (op *operation) scope() string {
	if op.free() {
		return ""
	}
	scopes, _ := op.Security[0].Requirements.Get("bearer")
	return strings.Join(scopes, " ")
}

// every runs a test of every operation that it picks.
func every(t *testing.T, picks func(*operation) bool, test func(t *testing.T, op *operation)) {
	t.Helper()
	n := 0
	for _, op := range theContract().operations {
		if picks(op) {
			n++
			t.Run(op.OperationId, func(t *testing.T) { test(t, op) })
		}
	}
	require.Positive(t, n)
}

func all(*operation) bool { return true }

func takesABody(op *operation) bool { return op.RequestBody != nil }

// send sends the operation's example, or another body, and its media type.
func (op *operation) send(c *client, address string, content any, headers ...string) answer {
	c.t.Helper()
	if op.media() != "" {
		headers = append(headers, "Content-Type", op.media())
	}
	return c.call(op.method, address, content, headers...)
}

func TestEveryOperationAsksWhoCalls(t *testing.T) {
	s := open(t)
	strangers := map[string]*client{
		"nobody":            s.holding(""),
		"a made-up token":   s.holding("tsk_00000000000000000000000000000000_" + strings.Repeat("a", 52)),
		"no token at all":   s.holding("let me in"),
		"a token cut short": s.holding(s.manager.secret[:len(s.manager.secret)-1]),
	}
	every(t, func(op *operation) bool { return !op.free() }, func(t *testing.T, op *operation) {
		for who, c := range strangers {
			a := op.send(c.on(t), op.address(nil), op.example(t))
			a.refused(http.StatusUnauthorized, "unauthenticated")
			require.NotEmpty(t, a.header.Get("WWW-Authenticate"), who)
		}
	})
}

func TestEveryOperationAsksForItsScope(t *testing.T) {
	s := open(t)
	with := func(scope actor.Scope) *client {
		return s.withToken(access.NewToken{Program: new("narrow"), Scopes: []actor.Scope{scope}})
	}
	reader, keeper := with(access.CoursesRead), with(access.CentreRead)
	every(t, func(op *operation) bool { return op.scope() != "" }, func(t *testing.T, op *operation) {
		c := reader
		if op.scope() == string(access.CoursesRead) {
			c = keeper
		}
		a := op.send(c.on(t), op.address(nil), op.example(t))
		a.refused(http.StatusForbidden, "missing_scope")
		require.Contains(t, a.at("detail"), op.scope())
	})
}

func TestEveryOperationRefusesParametersThatItDoesNotList(t *testing.T) {
	s := open(t)
	every(t, all, func(t *testing.T, op *operation) {
		f := op.send(s.boss.on(t), op.address(nil)+"?colour=red", op.example(t)).refused(http.StatusBadRequest,
			"invalid_request").by("contract.unknown_parameter")
		require.Equal(t, "colour", f["pointer"])
	})
}

func TestEveryBodyIsHeldAgainstTheContract(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	every(t, takesABody, func(t *testing.T, op *operation) {
		c, to := s.boss.on(t), op.address(nil)
		op.send(c, to, strings.Repeat(" ", 10<<20)).refused(http.StatusRequestEntityTooLarge, "too_large")
		c.call(op.method, to, "<note/>", "Content-Type",
			"application/xml").refused(http.StatusUnsupportedMediaType, "unsupported_media_type")
		if !op.takesJSON() {
			return
		}
		breaches := map[string]string{
			`{"colour": "red"}`:                  "contract.unknown_member",
			`{"colour": "red", "colour": "red"}`: "contract.member_twice",
			`{"reason": "a\u0000b"}`:             "contract.bad_text",
			`{"reason": "` + "\xff" + `"}`:       "contract.bad_text",
			`{"reason": `:                        "contract.bad_json",
			`{} {}`:                              "contract.bad_json",
			strings.Repeat("[", 2000):            "contract.bad_json",
			`[]`:                                 "contract.type",
			`"text"`:                             "contract.type",
			`null`:                               "contract.type",
		}
		for content, rule := range breaches {
			op.send(c, to, content).refused(http.StatusBadRequest, "invalid_request").by(rule)
		}
	})
	require.Equal(t, before, s.everyRow(), "nothing was changed")
}

func TestEveryEditNamesItsVersion(t *testing.T) {
	s := open(t)
	asks := func(op *operation) bool { return slices.Contains(op.statuses, "428") }
	every(t, asks, func(t *testing.T, op *operation) {
		c, to := s.boss.on(t), op.address(nil)
		op.send(c, to, op.example(t)).refused(http.StatusPreconditionRequired, "version_required")
		for _, not := range []string{"3", `W/"3"`, `"three"`, `"1", "2"`, "*"} {
			op.send(c, to, op.example(t), "If-Match", not).refused(http.StatusBadRequest, "invalid_request")
		}
	})
}

func TestEveryAddressOfNothingIsNotFound(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	every(t, func(op *operation) bool { return strings.Contains(op.path, "{id}") },
		func(t *testing.T, op *operation) {
			op.send(s.boss.on(t), op.asking(nil), op.example(t), op.versioned()...).refused(http.StatusNotFound,
				"not_found")
			op.send(s.boss.on(t), op.address(map[string]string{"id": "7"}), op.example(t),
				op.versioned()...).refused(http.StatusBadRequest, "invalid_request")
		})
	require.Equal(t, before, s.everyRow(), "nothing was changed")
}

// versioned gives If-Match where the operation takes it.
func (op *operation) versioned() []string {
	for _, p := range op.Parameters {
		if p.Name == "If-Match" {
			return []string{"If-Match", `"1"`}
		}
	}
	return nil
}

// everyRow writes down every row of the database, as the superuser sees it.
func (s *shop) everyRow() string {
	s.t.Helper()
	ctx := context.WithoutCancel(s.t.Context())
	conn, err := pgx.Connect(ctx, s.DB.SuperURL)
	require.NoError(s.t, err)
	defer conn.Close(ctx)
	text, err := rowsOf(ctx, conn)
	require.NoError(s.t, err)
	return text
}

func rowsOf(ctx context.Context, conn *pgx.Conn) (string, error) {
	var sql string
	if err := conn.QueryRow(ctx,
		`SELECT string_agg(format('SELECT %L || count(*) || md5(coalesce(string_agg(md5(x::text), '''' ORDER BY md5(x::text)), '''')) AS line FROM %I x',
		table_name || ' ', table_name), ' UNION ALL ') FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE'`).Scan(&sql); err != nil {
		return "", err
	}
	var lines string
	err := conn.QueryRow(ctx, `SELECT string_agg(line, E'\n' ORDER BY line) FROM (`+sql+`) x`).Scan(&lines)
	return lines, err
}

// What a page of the contract shows must be what the service takes: each
// example keeps the schema that it stands beside.
func TestEveryExampleOfABodyKeepsTheContract(t *testing.T) {
	s := open(t)
	every(t, func(op *operation) bool { return op.takesJSON() && strings.Contains(op.path, "{id}") },
		func(t *testing.T, op *operation) {
			text, err := json.Marshal(op.example(t))
			require.NoError(t, err)
			a := op.send(s.boss.on(t), op.address(nil), string(text), op.versioned()...)
			require.NotEqual(t, http.StatusBadRequest, a.status, "%s", a.text)
		})
}

func TestAnActionOnAFormerVersionIsRefused(t *testing.T) {
	w := newSeason(t, open(t))
	before := w.everyRow()
	on := map[string]string{"cancelCourse": w.course, "changeGroup": w.blue,
		"removeParticipant": w.part(w.confined, w.sofia)}
	every(t, func(op *operation) bool { return on[op.OperationId] != "" }, func(t *testing.T, op *operation) {
		a := op.send(w.boss.on(t), op.address(map[string]string{"id": on[op.OperationId]}), op.example(t),
			"If-Match", `"99"`)
		a.refused(http.StatusPreconditionFailed, "stale_version")
		require.NotEmpty(t, a.header.Get("ETag"), "the present version")
	})
	require.Equal(t, before, w.everyRow(), "nothing was changed")
}
