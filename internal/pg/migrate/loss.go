package migrate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// DownUnlessLost is Down for operators: it refuses where records would be lost, and
// lists them, unless the operator has named the database whose records may be lost. No
// migration brings lost records back, and the ledger reports their absence ever after.
func DownUnlessLost(ctx context.Context, ownerURL, destroy string) error {
	return at(ownerURL).downUnlessLost(ctx, destroy)
}

func (g migrator) downUnlessLost(ctx context.Context, destroy string) error {
	lost, database, err := g.loss(ctx)
	if err != nil {
		return err
	}
	if len(lost) > 0 && destroy != database {
		return fmt.Errorf("migrate: going back would destroy, for good:\n  %s\nThe ledger "+
			"would report it as tampering ever after. Restore a backup instead. Where these records may be "+
			"lost, say: tankside migrate -destroy-records %s down",
			strings.Join(lost, "\n  "), database)
	}
	return g.move(ctx, func(m *migrate.Migrate) error { return m.Steps(-1) })
}

// loss returns what going back one version would destroy, one line for each table or
// column, and the name of the database. It tries the migration in a transaction that is
// rolled back, and so needs the locks of the real one.
func (g migrator) loss(ctx context.Context) (lost []string, database string, err error) {
	statements, err := g.nextDown(ctx)
	if err != nil {
		return nil, "", err
	}
	conn, err := pg.Connect(ctx, g.url)
	if err != nil {
		return nil, "", fmt.Errorf("migrate: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx)) // rolls back as well
	if err := refuseWrongRole(ctx, conn); err != nil {
		return nil, "", err
	}
	if _, err := conn.Exec(ctx, fmt.Sprintf("BEGIN; SET LOCAL lock_timeout = %d", lockTimeout.Milliseconds()),
		pgx.QueryExecModeSimpleProtocol); err != nil {
		return nil, "", fmt.Errorf("migrate: %w", err)
	}
	before, err := count(ctx, conn)
	if err != nil {
		return nil, "", err
	}
	if _, err := conn.PgConn().Exec(ctx, statements).ReadAll(); err != nil {
		return nil, "", fmt.Errorf("migrate: try what going back would do: %w", err)
	}
	after, err := count(ctx, conn)
	if err != nil {
		return nil, "", err
	}
	return before.without(after), conn.Config().Database, nil
}

// nextDown reads the statements that take the newest migration back.
func (g migrator) nextDown(ctx context.Context) (string, error) {
	version, dirty, err := Version(ctx, g.url)
	switch {
	case err != nil:
		return "", err
	case dirty:
		return "", fmt.Errorf("migrate: a migration to version %d was broken off half-way; "+
			"put it right first", version)
	case version == 0:
		return "", fmt.Errorf("migrate: there is nothing to take back: %w", migrate.ErrNilVersion)
	}
	source, err := iofs.New(g.files, ".")
	if err != nil {
		return "", fmt.Errorf("migrate: read the migrations: %w", err)
	}
	down, _, err := source.ReadDown(version)
	if err != nil {
		return "", fmt.Errorf("migrate: this release does not know version %d; use the release that made "+
			"it: %w", version, err)
	}
	text, err := io.ReadAll(down)
	return string(text), errors.Join(err, down.Close())
}

// counted has the number of rows of each table, and of non-null values of each of its
// columns.
type counted map[string]table

type table struct {
	rows    int64
	columns map[string]int64
}

// count reads every table. The owner sees the rows of every centre.
func count(ctx context.Context, conn *pgx.Conn) (counted, error) {
	rows, err := conn.Query(ctx, `SELECT c.relname::text, array_agg(a.attname::text ORDER BY a.attnum)
		FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
		WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p')
			AND c.relname <> 'schema_migrations'
			AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		GROUP BY c.relname`)
	if err != nil {
		return nil, fmt.Errorf("migrate: count records: %w", err)
	}
	columns := map[string][]string{}
	var name string
	var names []string
	if _, err := pgx.ForEachRow(rows, []any{&name, &names}, func() error {
		columns[name] = slices.Clone(names)
		return nil
	}); err != nil {
		return nil, fmt.Errorf("migrate: count records: %w", err)
	}
	out := counted{}
	for name, names := range columns {
		if out[name], err = countTable(ctx, conn, name, names); err != nil {
			return nil, fmt.Errorf("migrate: count records: %w", err)
		}
	}
	return out, nil
}

func countTable(ctx context.Context, conn *pgx.Conn, name string, columns []string) (table, error) {
	t := table{columns: map[string]int64{}}
	ask := "SELECT ARRAY[count(*)"
	for _, c := range columns {
		ask += ", count(" + pgx.Identifier{c}.Sanitize() + ")"
	}
	var n []int64
	err := conn.QueryRow(ctx, ask+"] FROM "+pgx.Identifier{name}.Sanitize(), pgx.QueryExecModeExec).Scan(&n)
	if err != nil {
		return t, err
	}
	t.rows = n[0]
	for i, c := range columns {
		t.columns[c] = n[i+1]
	}
	return t, nil
}

// without returns what c has and after has not.
func (c counted) without(after counted) (lost []string) {
	for _, name := range slices.Sorted(maps.Keys(c)) {
		was := c[name]
		is, stays := after[name]
		switch {
		case was.rows == 0:
		case !stays:
			lost = append(lost, fmt.Sprintf("table %s with %d rows", name, was.rows))
		case is.rows < was.rows:
			lost = append(lost, fmt.Sprintf("%d of %d rows of table %s", was.rows-is.rows, was.rows, name))
		}
		for _, column := range slices.Sorted(maps.Keys(was.columns)) {
			if _, there := is.columns[column]; stays && !there && was.columns[column] > 0 {
				lost = append(lost, fmt.Sprintf("column %s of table %s, which says something in %d rows",
					column, name, was.columns[column]))
			}
		}
	}
	return lost
}
