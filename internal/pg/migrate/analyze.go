package migrate

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Analyze has the planner's statistics collected for tables that hold rows and have none,
// as after a restore or a first filling. An empty table is left alone, since plans that were
// made while it was known to be empty would be kept when it has grown; so is one that
// another session works on.
func Analyze(ctx context.Context, ownerURL string) error {
	conn, err := pg.ConnectDirect(ctx, ownerURL)
	if err != nil {
		return fmt.Errorf("analyze: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	rows, err := conn.Query(ctx, unanalyzedSQL, pgx.QueryExecModeExec)
	if err != nil {
		return fmt.Errorf("analyze: %w", err)
	}
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return fmt.Errorf("analyze: %w", err)
	}
	for _, table := range tables {
		if err := analyzeFilled(ctx, conn, pgx.Identifier{table}.Sanitize()); err != nil {
			return fmt.Errorf("analyze %s: %w", table, err)
		}
	}
	return nil
}

// analyzeFilled collects the statistics of a table, by its quoted name, where it holds a row. Dead rows
// alone take room too.
func analyzeFilled(ctx context.Context, conn *pgx.Conn, table string) error {
	var filled bool
	err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM "+table+")", pgx.QueryExecModeExec).Scan(&filled)
	if err != nil || !filled {
		return err
	}
	_, err = conn.Exec(ctx, "ANALYZE (SKIP_LOCKED) "+table, pgx.QueryExecModeExec)
	return err
}

// A table that was never analysed has no number of rows, which is -1 there. One without a page holds
// none.
const unanalyzedSQL = `
	SELECT c.relname::text
	FROM pg_class c
	WHERE c.relnamespace = 'public'::regnamespace
		AND c.relkind = 'r'
		AND c.reltuples < 0
		AND pg_relation_size(c.oid) > 0
	ORDER BY 1`
