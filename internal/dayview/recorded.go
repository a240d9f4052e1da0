package dayview

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
)

// RecordedPaper is a paper as it was recorded, voided since or not.
type RecordedPaper struct {
	roster.Paper
	PersonID uuid.UUID
	VoidedAt *time.Time
}

// ReadPapers reads papers by their ids, voided ones too, in the order in which rules
// judge them: by the day of issue and id. An id without a paper is left out.
func ReadPapers(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) ([]RecordedPaper, error) {
	type row struct {
		ID         uuid.UUID
		PersonID   uuid.UUID
		Kind       string
		Outcome    string
		IssuedOn   time.Time
		ValidUntil *time.Time
		VoidedAt   *time.Time
	}
	rows, err := pg.Rows[row](ctx, tx, `
		SELECT p.id, p.person_id, p.kind, p.outcome, p.issued_on, p.valid_until, v.voided_at
		FROM paper p
		LEFT JOIN paper_void v ON v.centre_id = p.centre_id AND v.paper_id = p.id
		WHERE p.centre_id = app_centre() AND p.id = ANY (@ids)
		ORDER BY p.issued_on, p.id`, pgx.StrictNamedArgs{"ids": ids})
	out := make([]RecordedPaper, len(rows))
	for i, r := range rows {
		out[i] = RecordedPaper{PersonID: r.PersonID, VoidedAt: r.VoidedAt,
			Paper: roster.Paper{ID: r.ID.String(), Kind: roster.Kind(r.Kind), Outcome: r.Outcome,
				IssuedOn: roster.Day(r.IssuedOn.Format(time.DateOnly))}}
		if r.ValidUntil != nil {
			out[i].ValidUntil = roster.Day(r.ValidUntil.Format(time.DateOnly))
		}
	}
	return out, err
}

// ReadBooks reads ratio books in the given editions, the centre's own among them. It
// returns too the editions that are not kept.
func ReadBooks(ctx context.Context, tx *pg.Tx, editions []ratio.Edition) (books []ratio.Book,
	missing []ratio.Edition, err error) {
	type row struct {
		Version string
		Content []byte
	}
	rows, err := pg.Rows[row](ctx, tx, `
		SELECT version, content
		FROM rule_book
		WHERE centre_id = app_centre() AND version = ANY (@versions)`,
		pgx.StrictNamedArgs{"versions": versionsOf(editions)})
	if err != nil {
		return nil, nil, err
	}
	for _, e := range editions {
		b, found := ratio.BuiltinEdition(e.ID, e.Version)
		for _, r := range rows {
			if found || r.Version != e.Version {
				continue
			}
			var own ratio.Book
			if err := json.Unmarshal(r.Content, &own); err != nil {
				return nil, nil, fmt.Errorf("read rule book %s in edition %s: %w", e.ID, e.Version, err)
			}
			if own.ID == e.ID {
				b, found = own, true
			}
		}
		if found {
			books = append(books, b)
		} else {
			missing = append(missing, e)
		}
	}
	return books, missing, nil
}

func versionsOf(editions []ratio.Edition) []string {
	out := make([]string, len(editions))
	for i, e := range editions {
		out[i] = e.Version
	}
	return out
}
