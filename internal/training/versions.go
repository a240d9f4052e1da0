package training

import (
	"context"

	"github.com/google/uuid"

	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// version names a version of a syllabus.
type version struct {
	SyllabusID uuid.UUID
	SyllabusNo int
}

// syllabusesOf returns versions of syllabuses.
func (s *Service) syllabusesOf(ctx context.Context, tx *pg.Tx, asked ...version) (map[version]syllabus.Syllabus,
	error) {
	out := make(map[version]syllabus.Syllabus, len(asked))
	for _, v := range asked {
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

// syllabusOf returns one version of a syllabus, which must exist.
func (s *Service) syllabusOf(ctx context.Context, tx *pg.Tx, v version) (y syllabus.Syllabus, err error) {
	return s.syllabuses.Of(ctx, tx, versions.Version{SyllabusID: v.SyllabusID, Number: v.SyllabusNo})
}
