package centre

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Listed is a centre in the operator's list.
type Listed struct {
	ID        uuid.UUID
	Name      string
	Demo      bool
	CreatedAt time.Time
}

// List returns the centres of a database, the oldest first, for the operator. It
// connects as the role that owns the tables: the service's own role sees one centre
// at a time, and only where its id is known.
func List(ctx context.Context, ownerURL string) ([]Listed, error) {
	conn, err := pg.Connect(ctx, ownerURL)
	if err != nil {
		return nil, fmt.Errorf("list centres: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var owner bool
	if err := conn.QueryRow(ctx, `SELECT pg_has_role(relowner, 'USAGE')
		FROM pg_class WHERE oid = 'centre'::regclass`).Scan(&owner); err != nil {
		return nil, fmt.Errorf("list centres: %w", err)
	}
	if !owner {
		return nil, fmt.Errorf("list centres: %s does not own the tables, and would see none; "+
			"connect as tankside_owner", conn.Config().User)
	}
	rows, err := conn.Query(ctx, `SELECT centre_id::text, name, demo, created_at
		FROM centre ORDER BY created_at, centre_id`)
	if err != nil {
		return nil, fmt.Errorf("list centres: %w", err)
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (c Listed, err error) {
		var id string
		if err = row.Scan(&id, &c.Name, &c.Demo, &c.CreatedAt); err == nil {
			c.ID, err = uuid.Parse(id)
		}
		return c, err
	})
}
