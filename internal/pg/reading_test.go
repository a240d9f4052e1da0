package pg_test

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/pg/pgtest"
	"tankside/internal/units"
)

// A reading comes back from PostgreSQL as it was sent, digits and unit, null as nil; the
// JSON that the server makes of it is the JSON that Go makes of it.
func TestAReadingComesBackAsItWasSent(t *testing.T) {
	t.Parallel()
	db, centre := pgtest.New(t), uuid.New()
	for _, want := range []units.Reading{units.Read(187.5, units.UnitBar), units.Read(2750, units.UnitPSI),
		units.Read(-1.25, units.UnitCelsius), units.Read(0, units.UnitMPerSec),
		units.Read(99999.99, units.UnitCuFt)} {
		type row struct {
			Sent   units.Reading
			Again  *units.Reading
			None   *units.Reading
			AsJSON []byte
		}
		got, err := pg.InTx(t.Context(), db.DB, centre, func(ctx context.Context, tx *pg.Tx) (row, error) {
			return pg.Row[row](ctx, tx, `SELECT @r::reading AS sent, @p::reading AS again, @n::reading AS none,
				to_jsonb(@r::reading)::text::bytea AS as_json`,
				pgx.StrictNamedArgs{"r": want, "p": &want, "n": (*units.Reading)(nil)})
		})
		require.NoError(t, err)
		require.Equal(t, want, got.Sent)
		require.Equal(t, want, *got.Again)
		require.Nil(t, got.None)
		var back units.Reading
		require.NoError(t, json.Unmarshal(got.AsJSON, &back))
		require.Equal(t, want, back)
	}
}

// Each kind of quantity takes its own units alone, and no half of a reading.
func TestAReadingOfAnotherKindIsRefused(t *testing.T) {
	t.Parallel()
	db, centre := pgtest.New(t), uuid.New()
	for _, wrong := range []string{"'(18,bar)'::depth", "'(50,m)'::pressure", "'(12,kg)'::volume",
		"'(1,)'::speed", "'(,degC)'::temperature"} {
		err := db.InTx(t.Context(), centre, func(ctx context.Context, tx *pg.Tx) error {
			_, err := tx.Do(ctx, "SELECT "+wrong, nil)
			return err
		})
		require.ErrorContains(t, err, "violates check constraint", wrong)
	}
}
