package app_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
)

// What a feature says of a constraint reaches nobody when the constraint has
// another name in the schema: the caller would meet an internal error instead.
func TestEveryExplainedConstraintIsInTheSchema(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	app.NewServices(db.DB)
	explained := db.MappedConstraints()
	require.NotEmpty(t, explained)
	require.NoError(t, db.InTx(t.Context(), uuid.New(), func(ctx context.Context, tx *pg.Tx) error {
		there, err := pg.Rows[string](ctx, tx,
			`SELECT conname::text FROM pg_constraint WHERE connamespace = 'public'::regnamespace
			UNION SELECT indexrelid::regclass::text FROM pg_index WHERE indisunique`, pgx.StrictNamedArgs{})
		require.Subset(t, there, explained)
		return err
	}))
}
