package training

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
	"tankside/internal/syllabus"
)

// version names a version of a syllabus.
type version struct {
	SyllabusID uuid.UUID
	SyllabusNo int
}

// versionKey names a version of a syllabus of a centre.
type versionKey struct {
	centre uuid.UUID
	version
}

// syllabusesOf gives versions of syllabuses. A version never changes, so each is
// read and parsed once for as long as the service runs.
func (s *Service) syllabusesOf(ctx context.Context, tx *pg.Tx, versions ...version) (map[version]syllabus.Syllabus, error) {
	out := make(map[version]syllabus.Syllabus, len(versions))
	for _, v := range versions {
		if _, ok := out[v]; ok {
			continue
		}
		y, err := s.syllabusOf(ctx, tx, v)
		if err != nil {
			return nil, err
		}
		out[v] = y
	}
	return out, nil
}

// syllabusOf gives one version of a syllabus, which must exist.
func (s *Service) syllabusOf(ctx context.Context, tx *pg.Tx, v version) (y syllabus.Syllabus, err error) {
	key := versionKey{tx.Centre, v}
	if known, ok := s.syllabuses.Load(key); ok {
		return known.(syllabus.Syllabus), nil
	}
	content, err := pg.One[[]byte](ctx, tx, `SELECT content FROM courses_syllabus WHERE centre_id = app_centre() AND syllabus_id = @id AND number = @number`,
		pgx.StrictNamedArgs{"id": v.SyllabusID, "number": v.SyllabusNo})
	if err != nil {
		return y, err
	}
	if err := json.Unmarshal(content, &y); err != nil {
		return y, fmt.Errorf("read syllabus: %w", err)
	}
	s.syllabuses.Store(key, y)
	return y, nil
}
