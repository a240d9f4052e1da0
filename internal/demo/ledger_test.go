package demo

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/pg/pgtest"
)

// decidedTables are the tables whose rows the ledger records, with what is true
// of those rows.
var decidedTables = map[string]string{
	"sign_off": "true", "sign_off_void": "true", "credit": "true", "credit_void": "true", "completion": "true", "completion_void": "true",
	"paper": "true", "paper_void": "true", "unfit_mark": "true", "unfit_lift": "true", "clearance": "true",
	"decision": "accepted <> '[]'",
}

// unrecorded are the columns that may be changed without the ledger noticing.
var unrecorded = map[string]string{
	"body_digest": "only answers a request that is sent again; the entry has what was decided",
}

// other gives another value of a column's type.
var other = map[string]string{
	"uuid": "gen_random_uuid()", "text": "coalesce(%s, '') || '!'", "integer": "coalesce(%s, 0) + 100", "boolean": "NOT %s",
	"date": "coalesce(%s, date '2026-01-01') + 1", "timestamp with time zone": "%s + interval '1 ms'",
	"jsonb": "jsonb_build_array(%s)", "uuid[]": "array_append(%s, gen_random_uuid())",
}

// After the story, which decides something of every kind, each column of a row
// of each decided table is changed by somebody who may do anything. The ledger
// names every change, and is whole again when the value is put back.
func TestEveryColumnOfADecidedRowIsHeldByTheLedger(t *testing.T) {
	db := pgtest.New(t)
	var out bytes.Buffer
	s, err := tell(t.Context(), Options{Out: &out}, db.AppURL, serve(t, db))
	require.NoError(t, err, out.String())
	s.decideTheRest()
	verify := func() []ledger.Problem {
		r, err := ledger.Verify(t.Context(), db.DB, s.centre, app.Ledger())
		require.NoError(t, err)
		return r.Problems
	}
	super := asAnybody(t, db)
	for table, rows := range decidedTables {
		columns, err := super.columns(table)
		require.NoError(t, err)
		require.NotEmpty(t, columns, table)
		for _, c := range columns {
			if unrecorded[c.Name] != "" {
				continue
			}
			before, at, err := super.change(table, rows, c)
			require.NoError(t, err, "%s.%s", table, c.Name)
			require.NotEmpty(t, verify(), "%s.%s was changed from %s and nobody noticed", table, c.Name, before)
			require.NoError(t, super.restore(table, c, at, before))
		}
		require.Empty(t, verify(), table)
	}
}

// decideTheRest decides what the story does not.
func (s *story) decideTheRest() {
	first := func(who, path string) string {
		items := s.must(who, get, path, nil).items()
		s.expect(len(items) > 0, "nothing at %s", path)
		return fmt.Sprint(items[0]["id"])
	}
	reason := object{"reason": "a slip of the pen"}
	kim, nuno, ida := "/v1/people/"+s.people["Kim"].String(), "/v1/enrolments/"+s.ids["enrolment Nuno"], "/v1/enrolments/"+s.ids["enrolment Ida"]
	s.must("Ines", post, "/v1/unfit-marks/"+first("Ines", kim+"/unfit-marks")+"/lift", reason)
	s.must("Mara", post, "/v1/papers/"+first("Mara", kim+"/papers")+"/void", reason)
	s.must("Ines", post, "/v1/credits/"+first("Ines", ida+"/credits")+"/void", reason)
	s.must("Ines", post, "/v1/completions/"+first("Ines", nuno+"/completions")+"/void", reason)
	s.must("Ines", post, nuno+"/completions", object{"accept": []object{
		{"rule": "ratio.demanding_conditions", "subject_id": s.ids["enrolment Nuno"], "reason": "the swell had gone down"}}})
}

// column is a column with its type as PostgreSQL writes it.
type column struct{ Name, Type string }

// tamperer passes by policies, triggers and constraints.
type tamperer struct {
	*pgx.Conn
	ctx context.Context
}

func asAnybody(t *testing.T, db *pgtest.DB) tamperer {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), db.SuperURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	_, err = conn.Exec(t.Context(), `SET session_replication_role = replica; SET timezone = 'UTC'; DO $$
		DECLARE c record;
		BEGIN
			FOR c IN SELECT conrelid::regclass AS t, conname FROM pg_constraint WHERE contype = 'c' AND conrelid <> 0 LOOP
				EXECUTE format('ALTER TABLE %s DROP CONSTRAINT %I', c.t, c.conname);
			END LOOP;
		END $$`)
	require.NoError(t, err)
	return tamperer{conn, t.Context()}
}

func (x tamperer) columns(table string) ([]column, error) {
	rows, err := x.Query(x.ctx, `SELECT attname AS name, format_type(atttypid, NULL) AS type FROM pg_attribute
		WHERE attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped AND attgenerated = '' ORDER BY attnum`, table)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[column])
}

// change gives a column of one row another value, and tells what it was and
// where the row stands now.
func (x tamperer) change(table, rows string, c column) (before *string, at string, err error) {
	value, ok := other[c.Type]
	if !ok {
		return nil, "", fmt.Errorf("no other value of type %s is known", c.Type)
	}
	if strings.Contains(value, "%") {
		value = fmt.Sprintf(value, c.Name)
	}
	if err := x.QueryRow(x.ctx, fmt.Sprintf(`SELECT ctid::text, %s::text FROM %s WHERE %s ORDER BY ctid LIMIT 1`, c.Name, table, rows)).Scan(&at, &before); err != nil {
		return nil, "", err
	}
	err = x.QueryRow(x.ctx, fmt.Sprintf(`UPDATE %s SET %s = %s WHERE ctid = $1::tid RETURNING ctid::text`, table, c.Name, value), at).Scan(&at)
	return before, at, err
}

func (x tamperer) restore(table string, c column, at string, before *string) error {
	_, err := x.Exec(x.ctx, fmt.Sprintf(`UPDATE %s SET %s = $2::text::%s WHERE ctid = $1::tid`, table, c.Name, c.Type), at, before)
	return err
}
