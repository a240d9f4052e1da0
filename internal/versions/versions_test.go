package versions_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// A cache that keeps every version that was ever read grows without end. One that
// was read long ago is read again.
func TestTheCacheIsBounded(t *testing.T) {
	t.Parallel()
	scene := scenetest.New(t)
	id := scene.SyllabusOf(scene.Course(syllabus.BuiltIn()))
	scene.Exec(`
		INSERT INTO syllabus_version (centre_id, syllabus_id, number, content, level, made_at, body_digest)
		SELECT @centre, @id, n, jsonb_build_object('title', 'Edition ' || n), 'entry', @now, ''
		FROM generate_series(2, @last::int) n`, pgx.NamedArgs{"id": id, "last": versions.Kept + 5})
	c := versions.New[syllabus.Syllabus]()
	read := func(number int) (syllabus.Syllabus, error) {
		return pg.InTx(t.Context(), scene.DB.DB, scene.Centre,
			func(ctx context.Context, tx *pg.Tx) (syllabus.Syllabus, error) {
				return c.Of(ctx, tx, versions.Version{SyllabusID: id, Number: number})
			})
	}
	first, err := read(1)
	require.NoError(t, err)
	require.Equal(t, syllabus.BuiltIn().Title, first.Title)
	for n := 2; n <= versions.Kept+5; n++ {
		_, err := read(n)
		require.NoError(t, err)
	}
	require.Equal(t, versions.Kept, c.Len())
	again, err := read(1)
	require.NoError(t, err)
	require.Equal(t, first, again)

	_, err = read(versions.Kept + 6)
	require.ErrorIs(t, err, pgx.ErrNoRows)
	_, err = pg.InTx(t.Context(), scene.DB.DB, uuid.New(),
		func(ctx context.Context, tx *pg.Tx) (syllabus.Syllabus, error) {
			return c.Of(ctx, tx, versions.Version{SyllabusID: id, Number: 1})
		})
	require.ErrorIs(t, err, pgx.ErrNoRows, "what one centre read is no other centre's")
}
