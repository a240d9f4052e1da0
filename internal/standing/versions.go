package standing

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// Version names a version of a syllabus.
type Version struct {
	SyllabusID uuid.UUID
	SyllabusNo int
}

// Syllabuses returns versions of syllabuses.
func (s *Reader) Syllabuses(ctx context.Context, tx *pg.Tx, asked ...Version) (map[Version]syllabus.Syllabus,
	error) {
	out := make(map[Version]syllabus.Syllabus, len(asked))
	for _, v := range asked {
		if _, ok := out[v]; ok {
			continue
		}
		y, err := s.Syllabus(ctx, tx, v)
		if err != nil {
			return nil, err
		}
		out[v] = y
	}
	return out, nil
}

// Syllabus returns one version of a syllabus, which must exist.
func (s *Reader) Syllabus(ctx context.Context, tx *pg.Tx, v Version) (y syllabus.Syllabus, err error) {
	return s.syllabuses.Of(ctx, tx, versions.Version{SyllabusID: v.SyllabusID, Number: v.SyllabusNo})
}
