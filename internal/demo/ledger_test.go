package demo

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/pg/pgtest"
)

// cited tells whether a row is evidence of something that was decided.
const cited = `id IN (SELECT (x ->> 'id')::uuid FROM ledger_entry,
	jsonb_array_elements(convert_from(canonical, 'UTF8')::jsonb #> '{body,evidence}') x)`

// recorded are the tables whose rows the ledger records or cites, with what is
// true of those rows; in parts, since a row shares its id with its void, and what
// was witnessed with its header and its void.
var recorded = []map[string]string{
	{"sign_off": "true", "credit": "true", "person_correction": "true", "completion": "true", "paper": "true",
		"unfit_mark": "true", "clearance": "true",
		"decision": "accepted <> '[]'", "gas_plan_confirmed": "true", "drill_attempt": cited,
		"gas_check": cited, "theory_result": cited, "time_in": cited, "time_out": cited},
	{"sign_off_void": "true", "credit_void": "true", "completion_void": "true", "paper_void": "true",
		"unfit_lift": "true", "gas_plan_withdrawn": "true", "entry": cited},
	{"entry_void": "true"},
}

// decidedIn says in which table something of each kind is decided.
var decidedIn = map[ledger.Kind]string{
	ledger.SignOff: "sign_off", ledger.SignOffVoid: "sign_off_void", ledger.Completion: "completion",
	ledger.CompletionVoid: "completion_void",
	ledger.Credit:         "credit", ledger.CreditVoid: "credit_void", ledger.Paper: "paper",
	ledger.PaperVoid: "paper_void",
	ledger.Unfit:     "unfit_mark", ledger.UnfitLifted: "unfit_lift", ledger.ClearanceLost: "clearance",
	ledger.ClearanceGiven:  "clearance",
	ledger.CautionAccepted: "decision", ledger.PlanConfirmed: "gas_plan_confirmed",
	ledger.PlanWithdrawn: "gas_plan_withdrawn", ledger.EntryVoid: "entry_void",
	ledger.IdentityCorrected: "person_correction",
}

// unrecorded are the columns that may be changed without the ledger noticing.
var unrecorded = map[string]string{
	"body_digest":          "only answers a request that is sent again",
	"drill_attempt.kind":   "always drill_attempt, by a constraint",
	"gas_check.kind":       "always gas_check, by a constraint",
	"theory_result.kind":   "always theory_result, by a constraint",
	"time_in.kind":         "always time_in, by a constraint",
	"time_out.kind":        "always time_out, by a constraint",
	"entry.kind":           "says in which table the rest is, by a foreign key",
	"entry.outing_id":      "is the session's",
	"entry.participant_id": "is the detail's",
	"entry.enrolment_id":   "is the detail's",
}

// other gives another value of a column's type.
var other = map[string]string{
	"uuid": "gen_random_uuid()", "text": "coalesce(%s, '') || '!'", "numeric": "coalesce(%s, 0) + 1",
	"integer": "coalesce(%s, 0) + 100", "boolean": "NOT %s",
	"date": "coalesce(%s, date '2026-01-01') + 1", "timestamp with time zone": "%s + interval '1 ms'",
	"jsonb": "jsonb_build_array(%s)", "uuid[]": "array_append(%s, gen_random_uuid())",
	"pressure": "ROW (coalesce((%[1]s).value, 0) + 1, coalesce((%[1]s).unit, 'bar'))::pressure",
	"depth":    "ROW (coalesce((%[1]s).value, 0) + 1, coalesce((%[1]s).unit, 'm'))::depth",
	"volume":   "ROW (coalesce((%[1]s).value, 0) + 1, coalesce((%[1]s).unit, 'L'))::volume",
}

// After the story, which decides something of every kind, each column of one row
// of each table is changed by somebody who may do anything. The ledger names
// each of these rows, and is whole again when the values are put back.
func TestEveryColumnOfADecidedRowIsHeldByTheLedger(t *testing.T) {
	db := pgtest.New(t)
	var out bytes.Buffer
	s, err := tell(t.Context(), Options{Out: &out}, db.AppURL, serve(t, db))
	require.NoError(t, err, out.String())
	s.decideTheRest()
	super := asAnybody(t, db)
	for _, k := range ledger.Kinds {
		require.True(t, slices.ContainsFunc(recorded,
			func(tables map[string]string) bool { return tables[decidedIn[k]] != "" }), "no row of %s is tampered with", k)
		var entries int
		require.NoError(t, super.QueryRow(t.Context(), `SELECT count(*) FROM ledger_entry WHERE kind = $1`,
			k).Scan(&entries))
		require.NotZero(t, entries, "nothing of the kind %s was decided", k)
	}
	for _, tables := range recorded {
		for n, changed := 0, true; changed; n++ {
			var changes []change
			for table, rows := range tables {
				if c, ok := super.change(table, rows, n); ok {
					changes = append(changes, c)
				}
			}
			named := map[uuid.UUID]bool{}
			for _, p := range verify(t, db, s.centre) {
				named[p.Ref] = true
			}
			for _, c := range changes {
				require.True(t, named[c.row], "%s.%s was changed and nobody noticed", c.table, c.column.Name)
				super.restore(c)
			}
			changed = len(changes) > 0
		}
		require.Empty(t, verify(t, db, s.centre))
	}
}

func verify(t *testing.T, db *pgtest.DB, centre uuid.UUID) []ledger.Problem {
	t.Helper()
	r, err := ledger.Verify(t.Context(), db.DB, centre, app.Ledger())
	require.NoError(t, err)
	return r.Problems
}

// decideTheRest decides what the story does not.
func (s *story) decideTheRest() {
	first := func(who, path string) string {
		items := s.must(who, get, path, nil).items()
		s.expect(len(items) > 0, "nothing at %s", path)
		return fmt.Sprint(items[0]["id"])
	}
	reason := object{"reason": "a slip of the pen"}
	kim, nuno, ida := "/v1/people/"+s.people["Kim"].String(), "/v1/enrolments/"+
		s.ids["enrolment Nuno"], "/v1/enrolments/"+s.ids["enrolment Ida"]
	s.must("Mara", patch, kim, object{"name": "Kim Dorsey-Hale", "reason": "married"}, "If-Match",
		s.must("Mara", get, kim, nil).etag)
	s.must("Ines", post, "/v1/unfit-marks/"+first("Ines", kim+"/unfit-marks")+"/lift", reason)
	s.must("Mara", post, "/v1/papers/"+first("Mara", kim+"/papers")+"/void", reason)
	s.must("Ines", post, "/v1/credits/"+first("Ines", ida+"/credits")+"/void", reason)
	s.must("Ines", post, "/v1/completions/"+first("Ines", nuno+"/completions")+"/void", reason)
	s.must("Ines", post, nuno+"/completions", object{})
	s.must("Ines", post, "/v1/entries/"+
		first("Ines", "/v1/sessions/"+s.ids["Cove 2"]+"/entries?kind=roll_call")+"/void", reason)
}

// column is a column with its type as PostgreSQL writes it.
type column struct{ Name, Type string }

// change is one value that was changed.
type change struct {
	table  string
	column column
	row    uuid.UUID // its id, as the ledger knows it
	at     string    // where the row stands since
	before *string
}

// tamperer passes by policies, triggers and constraints.
type tamperer struct {
	*pgx.Conn
	t *testing.T
}

func asAnybody(t *testing.T, db *pgtest.DB) tamperer {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.SuperURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	_, err = conn.Exec(t.Context(), `SET session_replication_role = replica; SET timezone = 'UTC'; DO $$
		DECLARE c record;
		BEGIN
			FOR c IN SELECT conrelid::regclass AS t, conname FROM pg_constraint WHERE contype = 'c'
				AND conrelid <> 0 LOOP
				EXECUTE format('ALTER TABLE %s DROP CONSTRAINT %I', c.t, c.conname);
			END LOOP;
		END $$`)
	require.NoError(t, err)
	return tamperer{conn, t}
}

// columns gives the columns of a table that the ledger holds; the first is the
// centre and the second the row's id.
func (x tamperer) columns(table string) []column {
	x.t.Helper()
	rows, err := x.Query(x.t.Context(),
		`SELECT attname AS name, format_type(atttypid, NULL) AS type FROM pg_attribute
		WHERE attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped AND attgenerated = '' ORDER BY attnum`, table)
	require.NoError(x.t, err)
	all, err := pgx.CollectRows(rows, pgx.RowToStructByName[column])
	require.NoError(x.t, err)
	return slices.DeleteFunc(all,
		func(c column) bool { return unrecorded[c.Name] != "" || unrecorded[table+"."+c.Name] != "" })
}

// change gives the nth column of a row another value; false when there are not
// so many columns.
func (x tamperer) change(table, rows string, n int) (change, bool) {
	x.t.Helper()
	columns := x.columns(table)
	if n >= len(columns) {
		return change{}, false
	}
	c := change{table: table, column: columns[n]}
	value, ok := other[c.column.Type]
	require.True(x.t, ok, "no other value of type %s is known", c.column.Type)
	if strings.Contains(value, "%") {
		value = fmt.Sprintf(value, c.column.Name)
	}
	require.NoError(x.t, x.QueryRow(x.t.Context(),
		fmt.Sprintf(`SELECT ctid::text, %s, %s::text FROM %s WHERE %s ORDER BY ctid LIMIT 1`,
			columns[1].Name, c.column.Name, table, rows)).Scan(&c.at, &c.row, &c.before), "%s.%s", table, c.column.Name)
	require.NoError(x.t, x.QueryRow(x.t.Context(),
		fmt.Sprintf(`UPDATE %s SET %s = %s WHERE ctid = $1::tid RETURNING ctid::text`,
			table, c.column.Name, value), c.at).Scan(&c.at))
	return c, true
}

func (x tamperer) restore(c change) {
	x.t.Helper()
	_, err := x.Exec(x.t.Context(),
		fmt.Sprintf(`UPDATE %s SET %s = $2::text::%s WHERE ctid = $1::tid`, c.table, c.column.Name,
			c.column.Type), c.at, c.before)
	require.NoError(x.t, err)
}
