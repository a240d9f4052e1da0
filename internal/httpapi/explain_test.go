package httpapi_test

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/config"
	"tankside/internal/httpapi"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/pg/migrate"
	"tankside/internal/pg/pgtest"
	"tankside/migrations"
)

// copies is how often a centre has each row of migrations/testdata in the
// tests of plans: a few seasons of a large centre.
const copies = 3000

// A row that a query reads and throws away costs about as much as one that it
// answers. That many are let pass; a query that misses its index throws away
// all copies.
const thrownAway = copies / 3

// fixtures are the ids of migrations/testdata by the part of a path that they
// stand after.
var fixtures = map[string]string{
	"decisions": "d0000000-0000-0000-0000-000000000001",
	"courses":   "b2000000-0000-0000-0000-000000000001", "credits": "e2000000-0000-0000-0000-000000000001",
	"enrolments": "b3000000-0000-0000-0000-000000000001", "entries": "e0000000-0000-0000-0000-000000000001",
	"groups": "c4000000-0000-0000-0000-000000000001", "outings": "c0000000-0000-0000-0000-000000000001",
	"papers": "a1000000-0000-0000-0000-000000000001", "participants": "c5000000-0000-0000-0000-000000000002",
	"plans": "f3000000-0000-0000-0000-000000000001", "briefings": "f1000000-0000-0000-0000-000000000001",
	"people": "a0000000-0000-0000-0000-000000000002", "sessions": "c2000000-0000-0000-0000-000000000001",
	"sign-offs": "e3000000-0000-0000-0000-000000000001", "sites": "b0000000-0000-0000-0000-000000000001",
	"syllabuses": "b1000000-0000-0000-0000-000000000001", "tokens": "a3000000-0000-0000-0000-000000000001",
}

// Under row-level security only leakproof operators reach an index, and a
// missing one is not noticed while a table is small. So every list of the
// contract, and what else is read by its id, is read at a large centre, and
// every statement is explained as it is planned in service: as the role that
// the service has, for its own arguments or for all alike.
func TestEveryReadingFindsItsRowsByAnIndex(t *testing.T) {
	large := growLarge(t)
	seen := &statements{}
	db, err := pg.OpenTraced(t.Context(), large.AppURL, seen)
	require.NoError(t, err)
	t.Cleanup(db.Close)
	v, log := app.NewServices(db), slog.New(slog.NewTextHandler(t.Output(),
		&slog.HandlerOptions{Level: slog.LevelWarn}))
	hub := app.NewHub(db, v, config.StreamLimit, 0, log)
	t.Cleanup(hub.Stop)
	traced, err := httpapi.New(httpapi.Options{Services: v, DryRun: app.NewServices(db.DryRun()),
		Live: hub, Rules: app.Rules(), Ready: db.Ping, Limits: ample, Log: log})
	require.NoError(t, err)
	conn := large.explainer(t)
	caller := &client{t: t, http: &http.Client{Transport: straight{traced}}, secret: large.token(t, v.Access)}
	for _, address := range readings(t) {
		t.Run(address, func(t *testing.T) {
			seen.clear()
			a := caller.on(t).get(address)
			require.Equal(t, http.StatusOK, a.status, "%s: %s", a.asked, a.text)
			for _, q := range seen.readings() {
				for _, scan := range q.scans(t, conn) {
					require.LessOrEqual(t, scan.thrownAway(), float64(thrownAway),
						"%s on %s throws away too many rows in\n%s", scan.Type, scan.Relation, q.sql)
					require.False(t, scan.Type == "Seq Scan" && scan.Rows > thrownAway,
						"%s is read whole in\n%s", scan.Relation, q.sql)
				}
			}
		})
	}
}

// straight hands each request to the handler. What the rows of
// migrations/testdata say is not held against the contract: they are there to
// be counted.
type straight struct{ handler http.Handler }

// RoundTrip implements http.RoundTripper without a network.
func (s straight) RoundTrip(r *http.Request) (*http.Response, error) {
	arrived := r.Clone(r.Context())
	arrived.Body = http.NoBody // as a server reads a request without one
	recorder := httptest.NewRecorder()
	s.handler.ServeHTTP(recorder, arrived)
	return recorder.Result(), nil
}

// readings gives the addresses of what is read: each GET of the contract, and
// each list once more with every filter that is an id, a day or an instant.
func readings(t *testing.T) (out []string) {
	t.Helper()
	for _, op := range theContract().operations {
		if !op.isReading(t) || slices.Contains(unread, op.OperationId) {
			continue
		}
		address := regexp.MustCompile(`([\w-]+)/\{id\}`).ReplaceAllStringFunc(op.path, func(p string) string {
			of := strings.TrimSuffix(p, "/{id}")
			require.Contains(t, fixtures, of, "%s: name the fixture's id", op.path)
			return of + "/" + fixtures[of]
		})
		address = strings.NewReplacer("{number}", "1", "{date}", "2026-06-06", "{code}",
			"ours").Replace(address)
		out = append(out, address)
		if filters := op.filters(); len(filters) > 0 {
			out = append(out, address+"?"+strings.Join(filters, "&"))
		}
	}
	return out
}

// isReading tells whether the operation reads what a centre keeps, and all that
// it needs to be told is in its path.
func (op *operation) isReading(t *testing.T) bool {
	t.Helper()
	if op.method != http.MethodGet || op.side(t) != "read" || len(op.Security) == 0 ||
		len(op.Security[0].Requirements.First().Value()) == 0 {
		return false
	}
	for _, p := range op.Parameters {
		if p.In == "query" && p.Required != nil && *p.Required {
			return false
		}
	}
	return true
}

// unread are the readings that the fixtures hold nothing for.
var unread = []string{
	"getProgress", "getCourseProgress", "getRecord", // of a syllabus without content
	"getSyllabus", "listSyllabusVersions", "getSyllabusVersion",
}

// filters writes a value for each filter of a list that names another thing or
// a time.
func (op *operation) filters() (out []string) {
	for _, p := range op.Parameters {
		of := strings.ReplaceAll(strings.TrimSuffix(p.Name, "_id"), "_", "-") + "s"
		of = strings.Replace(of, "persons", "people", 1)
		switch id, known := fixtures[of]; {
		case p.In != "query":
		case strings.HasSuffix(p.Name, "_id") && known:
			out = append(out, p.Name+"="+id)
		case p.Name == "starts_from":
			out = append(out, "starts_from=2026-06-06T00:00:00Z")
		case p.Name == "starts_before":
			out = append(out, "starts_before=2026-06-09T00:00:00Z")
		}
	}
	return out
}

// large is a centre that has every row of migrations/testdata many times.
type large struct {
	*pgtest.DB
	centre uuid.UUID
}

// growLarge makes the centre: the schema grows up version by version, and takes
// the rows of each, as it did where it is at work; then every row is copied,
// with ids, names and times of their own.
func growLarge(t *testing.T) large {
	t.Helper()
	l := large{pgtest.Empty(t), uuid.New()}
	ups, err := fs.Glob(migrations.Files, "*.up.sql")
	require.NoError(t, err)
	for _, up := range ups {
		version, err := strconv.ParseUint(up[:6], 10, 32)
		require.NoError(t, err)
		require.NoError(t, migrate.To(t.Context(), l.OwnerURL, uint(version)))
		rows, err := os.ReadFile("../../migrations/testdata/" + strings.Replace(up, ".up.sql", ".sql", 1))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		require.NoError(t, err)
		l.exec(t, l.AppURL, string(rows))
	}
	// Copies keep every constraint by their make, so nothing is checked row by row.
	copying := l.connect(t, l.SuperURL)
	_, err = copying.Exec(t.Context(), "SET session_replication_role = replica")
	require.NoError(t, err)
	rows, err := copying.Query(t.Context(), copySQL, copies)
	require.NoError(t, err)
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(all), 30)
	for _, sql := range append(all, "ANALYZE") {
		_, err := copying.Exec(t.Context(), sql)
		require.NoError(t, err, sql)
	}
	return l
}

// connect connects, in the scope of the centre.
func (l large) connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	_, err = conn.Exec(t.Context(), "SELECT set_config('app.centre', $1, false)", l.centre.String())
	require.NoError(t, err)
	return conn
}

func (l large) exec(t *testing.T, url, sql string) {
	t.Helper()
	conn := l.connect(t, url)
	_, err := conn.Exec(t.Context(), sql)
	require.NoError(t, err, sql)
	require.NoError(t, conn.Close(t.Context()))
}

// token gives the secret of a token of the fixtures' instructor, who becomes a
// manager.
func (l large) token(t *testing.T, service *access.Service) string {
	t.Helper()
	who, roles := uuid.MustParse("a0000000-0000-0000-0000-000000000001"), []actor.Role{actor.Manager,
		actor.Instructor}
	l.exec(t, l.AppURL, `INSERT INTO person_role (centre_id, person_id, role) VALUES (app_centre(), '`+
		who.String()+`', 'manager')`)
	by := actor.Actor{Centre: l.centre, Person: who, Token: uuid.MustParse(fixtures["tokens"]), Roles: roles,
		Scopes: access.MostScopes(roles)}
	issued, _, err := service.IssueToken(t.Context(), by,
		access.NewToken{Key: once.New(), PersonID: &who, Scopes: access.MostScopes(roles)})
	require.NoError(t, err)
	return issued.Secret
}

// copySQL writes, for every table that is keyed by more than its centre, the
// statement that copies the centre's last few rows, the fixtures among them.
// Few things are voided, and conventions are few.
const copySQL = `
SELECT format('INSERT INTO %I (%s) SELECT %s FROM (SELECT * FROM %I WHERE centre_id = app_centre() ORDER BY ctid DESC LIMIT 9) t, generate_series(1, %s) n', c.relname, columns, copied, c.relname,
	CASE WHEN c.relname LIKE '%\_void' OR c.relname = 'convention' THEN $1::int / 10 ELSE $1::int END)
FROM pg_class c
JOIN pg_index i ON i.indrelid = c.oid AND i.indisprimary AND i.indnatts > 1
CROSS JOIN LATERAL (
	SELECT string_agg(quote_ident(a.attname), ', ' ORDER BY a.attnum) AS columns,
		string_agg(CASE
			WHEN a.attname = 'centre_id' THEN 't.centre_id'
			WHEN a.atttypid = 'uuid'::regtype THEN format('md5(t.%1$I::text || n)::uuid', a.attname)
			WHEN a.atttypid = 'date'::regtype THEN format('t.%1$I + n', a.attname)
			WHEN a.atttypid IN ('timestamptz'::regtype, 'timestamp'::regtype) THEN format('t.%1$I + n * interval ''24 hours''', a.attname)
			WHEN a.atttypid = 'tstzrange'::regtype THEN format('tstzrange(lower(t.%1$I) + n * interval ''24 hours'', upper(t.%1$I) + n * interval ''24 hours'')', a.attname)
			WHEN a.attname IN ('name', 'title') THEN format('t.%1$I || '' '' || n', a.attname)
			WHEN a.attname = 'code' THEN format('t.%1$I || ''_'' || n', a.attname)
			WHEN a.attname = 'version' AND a.atttypid = 'text'::regtype THEN format('t.%1$I || ''.'' || n', a.attname)
			WHEN a.atttypid = 'bytea'::regtype THEN format('decode(md5(encode(t.%1$I, ''hex'') || n), ''hex'')', a.attname)
			ELSE format('t.%1$I', a.attname) END, ', ' ORDER BY a.attnum) AS copied,
		bool_or(a.attname = 'centre_id') AS bound
	FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
) a
WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace AND a.bound`

// explainer connects as the service does. A table of this size is sometimes
// read whole because that is quick; here it is read whole only where no index
// would do.
func (l large) explainer(t *testing.T) *pgx.Conn {
	conn := l.connect(t, l.AppURL)
	_, err := conn.Exec(t.Context(), "SET enable_seqscan = off")
	require.NoError(t, err)
	return conn
}
