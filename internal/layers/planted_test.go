package layers_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/layers"
)

// doc is a package comment as the law wants it.
const doc = "// Package p owns what the test says. It must not know anything else.\n"

// lines gives a function body of n statements.
func lines(n int) string { return strings.Repeat("\t_ = 0\n", n) }

// query gives a file that holds one statement.
func query(pkg, sql string) string {
	return doc + "package " + pkg + "\n\nconst q = `" + sql + "`\n"
}

// Each case plants one breach in an otherwise lawful module, or something that
// looks like one and is none.
func TestTheLawsCatchWhatIsPlanted(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, file, src string
		want            string // in the only breach; "" for none
	}{
		{"a rule that imports a feature", "internal/gas/gas.go", doc +
			"package gas\n\nimport _ \"tankside/internal/people\"\n", "imports tankside/internal/people"},
		{"a rule that imports a word it may not speak", "internal/gas/gas.go", doc +
			"package gas\n\nimport _ \"tankside/internal/fault\"\n", "imports tankside/internal/fault"},
		{"a rule that imports units", "internal/gas/gas.go", doc +
			"package gas\n\nimport _ \"tankside/internal/units\"\n", ""},
		{"a rule that imports a foreign module", "internal/gas/gas.go", doc +
			"package gas\n\nimport _ \"github.com/google/uuid\"\n", "imports github.com/google/uuid"},
		{"a rule with a context", "internal/gas/gas.go", doc + "package gas\n\nimport _ \"context\"\n",
			"imports context"},
		{"a rule that reads JSON", "internal/gas/gas.go", doc + "package gas\n\nimport _ \"encoding/json\"\n",
			"imports encoding/json"},
		{"a rule that reads JSON which it embeds", "internal/gas/gas.go", doc +
			"package gas\n\nimport (\n\t_ \"embed\"\n\t_ \"encoding/json\"\n)\n", ""},
		{"a rule that reads the clock", "internal/gas/gas.go", doc +
			"package gas\n\nimport clock \"time\"\n\nvar x = clock.Now()\n", "time.Now"},
		{"a rule that reads a date", "internal/gas/gas.go", doc +
			"package gas\n\nimport \"time\"\n\nvar x = time.Parse\n", ""},
		{"a word that imports the platform", "internal/fault/fault.go", doc +
			"package fault\n\nimport _ \"tankside/internal/pg\"\n", "imports tankside/internal/pg"},
		{"the platform that imports a rule", "internal/ledger/l.go", doc +
			"package ledger\n\nimport _ \"tankside/internal/gas\"\n", "imports tankside/internal/gas"},
		{"a feature that imports a feature", "internal/assessment/t.go", doc +
			"package assessment\n\nimport _ \"tankside/internal/people\"\n", "features never import each other"},
		{"desk that imports a feature", "internal/desk/d.go", doc +
			"package desk\n\nimport _ \"tankside/internal/people\"\n", ""},
		{"the read model that imports a rule", "internal/dayview/d.go", doc +
			"package dayview\n\nimport _ \"tankside/internal/ratio\"\n", ""},
		{"the read model that imports the journal", "internal/dayview/d.go", doc +
			"package dayview\n\nimport _ \"tankside/internal/journal\"\n", "imports tankside/internal/journal"},
		{"the read model that imports a feature", "internal/dayview/d.go", doc +
			"package dayview\n\nimport _ \"tankside/internal/people\"\n", "imports tankside/internal/people"},
		{"a feature that imports the read model", "internal/assessment/t.go", doc +
			"package assessment\n\nimport _ \"tankside/internal/dayview\"\n", ""},
		{"the read model reads anybody's table", "internal/dayview/d.go",
			query("dayview", "SELECT 1 FROM person, session"), ""},
		{"another query package that imports the journal", "internal/standing/s.go", doc +
			"package standing\n\nimport _ \"tankside/internal/journal\"\n", ""},
		{"another query package reads anybody's table", "internal/standing/s.go",
			query("standing", "SELECT 1 FROM sign_off, time_in"), ""},
		{"another query package writes a table", "internal/standing/s.go",
			query("standing", "DELETE FROM sign_off"), "writes sign_off, which internal/assessment owns"},
		{"the read model writes a table", "internal/dayview/d.go",
			query("dayview", "UPDATE person SET name = ''"), "writes person, which internal/people owns"},
		{"a feature that imports the edge", "internal/people/p.go", doc +
			"package people\n\nimport _ \"tankside/internal/httpapi\"\n", "imports tankside/internal/httpapi"},
		{"a feature that knows HTTP", "internal/people/p.go", doc + "package people\n\nimport _ \"net/http\"\n",
			"only the edge knows HTTP"},
		{"code that imports a package for tests", "internal/people/p.go", doc +
			"package people\n\nimport _ \"tankside/internal/pg/pgtest\"\n", "packages for tests"},
		{"a test that imports a package for tests", "internal/people/p_test.go",
			"package people\n\nimport _ \"tankside/internal/pg/pgtest\"\n", ""},
		{"a rule tested with a database", "internal/gas/gas_test.go",
			"package gas\n\nimport _ \"tankside/internal/pg/pgtest\"\n", "without anything above them"},
		{"a rule tested against published figures", "internal/gas/gas_test.go",
			"package gas\n\nimport _ \"tankside/internal/published\"\n", ""},
		{"a rule that reads published figures", "internal/gas/gas.go", doc +
			"package gas\n\nimport _ \"tankside/internal/published\"\n", "imports tankside/internal/published"},
		{"a feature that reads published figures", "internal/people/p.go", doc +
			"package people\n\nimport _ \"tankside/internal/published\"\n",
			"imports tankside/internal/published"},
		{"the edge that reads published figures", "internal/demo/d.go", doc +
			"package demo\n\nimport _ \"tankside/internal/published\"\n",
			"imports tankside/internal/published"},
		{"published figures that know a unit", "internal/published/p.go", doc +
			"package published\n\nimport _ \"tankside/internal/units\"\n", "imports tankside/internal/units"},
		{"a room of the edge that imports a service", "internal/httpapi/contract/c.go", doc +
			"package contract\n\nimport (\n\t_ \"tankside/api\"\n\t_ \"tankside/internal/people\"\n)\n",
			"imports tankside/internal/people"},
		{"a room of the edge that lost an import", "internal/httpapi/contract/c.go", doc +
			"package contract\n", "does not import api"},
		{"a package in no room", "internal/helpers/h.go", doc + "package helpers\n", "stands in none"},

		{"a result that a second attempt doubles", "internal/people/p.go", doc +
			"package people\n\nfunc f() {\n\tvar out []int\n\tdb.InTx(ctx, c, func() error {\n\t\tout = append(out, 1)\n\t\treturn nil\n\t})\n}\n", "out keeps what an attempt before added"},
		{"a count that a second attempt doubles", "internal/people/p.go", doc +
			"package people\n\nfunc f() {\n\tn := 0\n\tpg.InTx[int](ctx, db, c, func() error {\n\t\tfor range 3 {\n\t\t\tn++\n\t\t}\n\t\treturn nil\n\t})\n}\n", "n keeps what an attempt before added"},
		{"a member that a second attempt doubles", "internal/people/p.go", doc +
			"package people\n\nfunc f(r *report) {\n\tdb.Snapshot(ctx, c, func() error {\n\t\tr.lines = append(r.lines, 1)\n\t\treturn nil\n\t})\n}\n", "r.lines keeps what an attempt before added"},
		{"a map that keeps what an attempt added", "internal/people/p.go", doc +
			"package people\n\nfunc f(all map[int]int) {\n\tdb.Browse(ctx, c, func() error {\n\t\tall[1] = 2\n\t\treturn nil\n\t})\n}\n", "all[1] keeps what an attempt before added"},
		{"a result that each attempt sets anew", "internal/people/p.go", doc +
			"package people\n\nfunc f() {\n\tvar out []int\n\tdb.InTx(ctx, c, func() error {\n\t\tout = nil\n\t\tout = append(out, 1)\n\t\treturn nil\n\t})\n}\n", ""},
		{"a result of the function's own", "internal/people/p.go", doc +
			"package people\n\nfunc f() {\n\tdb.InTx(ctx, c, func() error {\n\t\tvar out []int\n\t\tout = append(out, 1)\n\t\treturn nil\n\t})\n}\n", ""},
		{"a fault that is matched by its type alone", "internal/people/p.go", doc +
			"package people\n\nfunc f(err error) {\n\t_, _ = err.(*fault.Fault)\n}\n",
			"misses a fault that was wrapped"},
		{"a foreign table written", "internal/assessment/t.go",
			query("assessment", "UPDATE person SET name = @name"), "writes person, which internal/people owns"},
		{"a foreign table read", "internal/assessment/t.go",
			query("assessment", "SELECT 1 FROM sign_off s JOIN person p USING (id)"), "reads person"},
		{"a foreign table after a comma", "internal/assessment/t.go",
			query("assessment", "SELECT 1 FROM sign_off s, person p"), "reads person"},
		{"a foreign table in a subquery", "internal/assessment/t.go",
			query("assessment", "SELECT (SELECT max(id) FROM ONLY public.person)"), "reads person"},
		{"a foreign table emptied", "internal/assessment/t.go", query("assessment", "DELETE FROM person"),
			"writes person"},
		{"a foreign table beside a name of its own", "internal/assessment/t.go",
			query("assessment", "WITH a AS (SELECT 1), b AS (SELECT 2 FROM a) SELECT 1 FROM b, session"),
			"reads session"},
		{"a statement in two parts", "internal/assessment/t.go", doc +
			"package assessment\n\nconst table = \"person\"\n\nvar q = \"SELECT 1 FROM \" + table\n",
			"reads person"},
		{"a table named at run time", "internal/assessment/t.go", doc +
			"package assessment\n\nvar t string\n\nvar q = \"SELECT 1 FROM \" + t\n", "put together at run time"},
		{"a table named by a format", "internal/assessment/t.go", query("assessment", "SELECT id FROM %s"),
			"put together at run time"},
		{"a statement in small letters", "internal/assessment/t.go", query("assessment", "select name from person"),
			"capitals"},
		{"a table that nobody owns", "internal/assessment/t.go", query("assessment", "SELECT 1 FROM persson"),
			"persson, which nobody owns"},
		{"a view written by another", "internal/assessment/t.go",
			query("assessment", "UPDATE people_person SET name = ''"), "writes through people_person"},
		{"a view read by another", "internal/assessment/t.go",
			query("assessment", "SELECT 1 FROM people_person FOR SHARE"), ""},
		{"its own table", "internal/assessment/t.go",
			query("assessment", "INSERT INTO sign_off (id) SELECT x FROM unnest(@ids::uuid[]) AS e (x) ON CONFLICT DO NOTHING"), ""},
		{"what only looks like a table", "internal/assessment/t.go", query("assessment",
			"WITH person (a, b) AS MATERIALIZED (SELECT 1 -- FROM person\n), x AS (SELECT 1 /* JOIN person */) "+
				"SELECT extract(year FROM session), s.person, 'FROM person', a IS DISTINCT FROM person, 1::person "+
				"FROM sign_off s, person, generate_series(1, 2) WHERE s.a = ARRAY[1, 2] ORDER BY session, person FOR UPDATE OF s, person"), ""},
		{"prose", "internal/assessment/t.go",
			query("assessment", "absent from session 3, update person or delete from paper"), ""},
		{"a test that reads any table", "internal/assessment/t_test.go",
			query("assessment", "SELECT 1 FROM person"), ""},

		{"no package comment", "internal/gas/gas.go", "package gas\n", "no package comment"},
		{"two package comments", "internal/gas/more.go", doc + "package gas\n", "several package comments"},
		{"a comment that leaves out what it must not know", "internal/live/k.go",
			"// Package live owns a feed.\npackage live\n", "must not know"},
		{"a command without its name", "cmd/x/x.go", "// It runs.\npackage main\n", "Command"},

		{"a function of 61 lines", "internal/people/p.go", doc + "package people\n\nfunc f() {\n" + lines(59) +
			"}\n", "f has 61 lines"},
		{"a function of 60 lines", "internal/people/p.go", doc + "package people\n\nfunc f() {\n" + lines(58) +
			"}\n", ""},
		{"a rule of 31 lines", "internal/gas/gas.go", doc + "package gas\n\nfunc f() {\n" + lines(29) + "}\n",
			"at most 30"},
		{"a long test function", "internal/gas/gas_test.go", "package gas\n\nfunc f() {\n" + lines(90) + "}\n",
			""},
		{"a file of 401 lines", "internal/people/p_test.go", "package people\n" + strings.Repeat("\n", 400),
			"401 lines"},
		{"a long generated file", "api/x.gen.go", "// Code generated by x. DO NOT EDIT.\n\npackage api\n" +
			strings.Repeat("\n", 500), ""},
		{"a main.go of 41 lines", "cmd/x/main.go", "// Command x runs.\npackage main\n" +
			strings.Repeat("\n", 39), "at most 40"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m, err := layers.Load(plant(t, c.file, c.src))
			require.NoError(t, err)
			var found []layers.Breach
			for _, law := range laws {
				found = append(found, law.hold(m)...)
			}
			if c.want == "" {
				require.Empty(t, found)
				return
			}
			require.Len(t, found, 1)
			require.Contains(t, found[0].String(), c.want)
			require.Contains(t, found[0].Where, filepath.ToSlash(filepath.Dir(c.file)))
			require.NotEmpty(t, found[0].Cure)
		})
	}
}

// plant writes a lawful module with one more file, which may replace one.
func plant(t *testing.T, file, src string) string {
	t.Helper()
	root := t.TempDir()
	files := map[string]string{
		"go.mod":              "module tankside\n",
		"api/doc.go":          doc + "package api\n",
		"internal/gas/gas.go": doc + "package gas\n",
		file:                  src,
	}
	for name, text := range files {
		at := filepath.Join(root, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o755))
		require.NoError(t, os.WriteFile(at, []byte(text), 0o600))
	}
	return root
}
