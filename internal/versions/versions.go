// Package versions reads versions of syllabuses and caches the most recently used: a version never
// changes.
//
// It owns the cache. It must not know which courses use a syllabus, and it writes nothing.
package versions

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	lru "github.com/hashicorp/golang-lru/v2"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// Kept is how many versions a Cache keeps, of all centres together: 256, our choice. The built-in
// syllabus takes about 30 kB, so a full cache takes some 8 MB.
const Kept = 256

// Version identifies a version of a syllabus of the transaction's centre.
type Version struct {
	SyllabusID uuid.UUID
	Number     int
}

// Cache reads versions of syllabuses, decoded as T, and keeps the Kept most recently used. It is
// safe for concurrent use.
type Cache[T any] struct {
	kept *lru.Cache[key, T]
}

type key struct {
	centre uuid.UUID
	Version
}

// New returns an empty cache.
func New[T any]() *Cache[T] {
	kept, err := lru.New[key, T](Kept)
	if err != nil { // only for a size below one
		panic(err)
	}
	return &Cache[T]{kept: kept}
}

// Len returns how many versions the cache keeps.
func (c *Cache[T]) Len() int { return c.kept.Len() }

// Of returns one version, which must exist. It is read within the caller's transaction unless the
// cache has it.
func (c *Cache[T]) Of(ctx context.Context, tx *pg.Tx, v Version) (y T, err error) {
	k := key{tx.Centre, v}
	if y, ok := c.kept.Get(k); ok {
		return y, nil
	}
	content, err := pg.Row[[]byte](ctx, tx, `
		SELECT content
		FROM courses_syllabus
		WHERE centre_id = app_centre() AND syllabus_id = @id AND number = @number`,
		pgx.StrictNamedArgs{"id": v.SyllabusID, "number": v.Number})
	if err != nil {
		return y, fmt.Errorf("read syllabus: %w", err)
	}
	if err := json.Unmarshal(content, &y); err != nil {
		return y, fmt.Errorf("read syllabus: %w", err)
	}
	c.kept.Add(k, y)
	return y, nil
}
